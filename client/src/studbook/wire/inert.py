"""Text in a cell of a spreadsheet: kept from being run as a formula, and read back as it was written."""

import re
from typing import Final

_FORMULA: Final = re.compile(r"'*[=+\-@\t\r\n\0\uff1d\uff0b\uff0d\uff20]")
"""What a spreadsheet may take for a formula: OWASP, CSV Injection, with the full-width signs; OWASP ASVS 5.0, 1.2.10
with NUL. Behind quotes of ours too, so that each can be taken away again."""


def inert(text: str) -> str:
    """Put a single quote before text that a spreadsheet would run.

    Example:
        >>> inert("=1+1"), inert("-2 clicks"), inert("'tis")
        ("'=1+1", "'-2 clicks", "'tis")
    """
    return f"'{text}" if _FORMULA.match(text) else text


def as_written(cell: str) -> str:
    """Take that quote away again.

    Example:
        >>> as_written("'=1+1"), as_written("'tis")
        ('=1+1', "'tis")
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell
