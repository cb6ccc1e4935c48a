"""The setup document as Structs: views over the tree that is stored and hashed."""

from studbook.wire.setup.document import Fitted, Setup, Survey
from studbook.wire.setup.measured import Measured

__all__ = ["Fitted", "Measured", "Setup", "Survey"]
