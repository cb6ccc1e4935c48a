"""Every table by its name."""

from collections.abc import Mapping
from typing import Final

from studbook_service.tables.definition import TableDefinition
from studbook_service.tables.effects import EFFECTS
from studbook_service.tables.nights import NIGHTS
from studbook_service.tables.setups import SETUPS

TABLES: Final[Mapping[str, TableDefinition]] = {shape.name: shape for shape in (*SETUPS, *NIGHTS, EFFECTS)}
