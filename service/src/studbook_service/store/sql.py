"""Named SQL: blocks headed `-- name: word` in a file, loaded once."""

import re
from collections.abc import Mapping
from importlib.resources import files

_HEAD = re.compile(r"^-- name: (\w+)\n", re.MULTILINE)


def parse(text: str) -> dict[str, str]:
    r"""Split a file of named statements.

    What stands before the first name is commentary.

    Args:
        text: the file's text.

    Returns:
        The statements by name, stripped.

    Raises:
        ValueError: a name is given twice, or a statement is empty.

    Example:
        >>> parse("-- name: one\nSELECT 1\n-- name: two\nSELECT 2\n")
        {'one': 'SELECT 1', 'two': 'SELECT 2'}
    """
    _, *parts = _HEAD.split(text)
    statements: dict[str, str] = {}
    for name, statement in zip(parts[::2], parts[1::2], strict=True):
        if name in statements:
            raise ValueError(f"two statements are named {name}")
        if not statement.strip():
            raise ValueError(f"statement {name} is empty")
        statements[name] = statement.strip()
    return statements


def _load() -> Mapping[str, str]:
    return parse(files(__package__).joinpath("queries.sql").read_text(encoding="utf-8"))


QUERIES = _load()
