"""Setup documents as files: JSON, TOML, and the flat CSV (`path,value,unit`) that spreadsheets keep.

What is read is canonical and within bounds; otherwise every fault is reported at once.
"""

from pathlib import PurePath
from typing import Final, Literal, get_args

from studbook.formats import as_csv, as_json, as_toml
from studbook.formats.faults import FormatError, RowFault, held
from studbook.history.canonical import Tree

__all__ = ["FORMS", "Form", "FormatError", "RowFault", "form_of", "lines", "read", "write"]

Form = Literal["json", "toml", "csv"]
FORMS: Final[tuple[Form, ...]] = get_args(Form)

_READ: Final = {"json": as_json.read, "toml": as_toml.read, "csv": as_csv.read}
_WRITE: Final = {"json": as_json.write, "toml": as_toml.write, "csv": as_csv.write}


def form_of(file_name: str) -> Form:
    """Give a file's form by its ending.

    Raises:
        FormatError: the ending is none of the three.

    Example:
        >>> form_of("car7.TOML")
        'toml'
    """
    ending = PurePath(file_name).suffix.lower().removeprefix(".")
    for form in FORMS:
        if ending == form:
            return form
    raise FormatError([RowFault(detail=f"{file_name}: the ending must be .json, .toml or .csv")])


def read(data: str | bytes, form: Form) -> Tree:
    r"""Read a document.

    Args:
        data: text, or UTF-8 bytes with or without a byte order mark.
        form: `json`, `toml` or `csv`.

    Returns:
        The canonical tree; fields unknown to this version are kept.

    Raises:
        FormatError: `faults` has every fault, each with its line (CSV), path, value, bound and unit.

    Example:
        >>> read("path,value,unit\nmeasured.scales.lf_lb,590,lb\n", "csv")
        {'measured': {'scales': {'lf_lb': 590}}}
    """
    return _READ[form](_text(data))


def lines(data: str | bytes, form: Form) -> dict[str, int]:
    """Give the line of each path, for faults that are found later; empty where the form has no rows."""
    return as_csv.lines(_text(data)) if form == "csv" else {}


def write(tree: Tree, form: Form) -> str:
    r"""Write a document so that `read` gives the same tree again.

    Args:
        tree: a document.
        form: `json`, `toml` or `csv`.

    Raises:
        FormatError: the tree holds what the book cannot, or (CSV) a known field holds what is not of its type.

    Example:
        >>> write({"measured": {"scales": {"lf_lb": 590}}}, "csv")
        'path,value,unit\r\nmeasured.scales.lf_lb,590,lb\r\n'
    """
    return _WRITE[form](held(tree))


def _text(data: str | bytes) -> str:
    if isinstance(data, bytes):
        try:
            data = data.decode()
        except UnicodeDecodeError as error:
            raise FormatError([RowFault(detail=f"not UTF-8 text at byte {error.start}: save it as UTF-8")]) from None
    return data.removeprefix("\ufeff")
