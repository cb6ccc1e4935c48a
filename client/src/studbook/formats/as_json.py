"""Documents as JSON."""

import msgspec

from studbook.formats.faults import FormatError, RowFault, checked
from studbook.history.canonical import Tree, UnrecordableError, encode, parse


def read(text: str) -> Tree:
    """Read JSON: no duplicate keys, no NaN, no null.

    Raises:
        FormatError: with every fault.
    """
    try:
        value = parse(text)
    except UnrecordableError as error:
        raise FormatError([RowFault(detail=str(error))]) from None
    return checked(value)


def write(tree: Tree) -> str:
    """Write a canonical tree, indented, keys sorted."""
    return msgspec.json.format(encode(tree), indent=2).decode() + "\n"
