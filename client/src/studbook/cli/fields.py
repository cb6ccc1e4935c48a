"""`studbook fields`: what may be written, with units and bounds; it needs no service."""

from typing import Annotated, Any, Final, Literal, get_args, get_origin

from cyclopts import Parameter

from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.printing import PAPER, table, unit_text, wrapped
from studbook.history.leaves import dotted
from studbook.wire.fields import Field, bare_type, bounds, catalog
from studbook.wire.records import KINDS
from studbook.wire.setup import Setup

_OF_COMMANDS: Final = {"shop": "shop_record", "weigh": "scale_session", "times": "shop_times"}
"""Commands that are called otherwise than what they record."""


def fields(
    of: Annotated[str, Parameter(help="setup, or a command that records: event, outing, part, shop, check ...")],
    /,
    *words: Annotated[str, Parameter(help="Only fields whose names have all of these in them.")],
) -> None:
    """List the fields of a setup or a record: unit, least and most accepted, what it is; `*` is a name of your own."""
    forms: dict[str, type] = {"setup": Setup} | {name: kind.body for name, kind in KINDS.items()}
    form = forms.get(_OF_COMMANDS.get(of, of))
    if form is None:
        raise CommandFailedError(f"there are no fields of {of!r}: {', '.join((*forms, *_OF_COMMANDS))}")
    found = [each for each in catalog(form).values() if all(word in dotted(each.path) for word in words)]
    if not found:
        raise CommandFailedError(f"no field of {of} has {' and '.join(map(repr, words))} in its name")
    rows = [(dotted(each.path), unit_text(each.unit), *_bounds(each)) for each in found]
    header, *lines = table(("field", "unit", "least", "most"), rows, right=frozenset({2, 3}))
    print(header)
    for line, each in zip(lines, found, strict=True):
        about = _about(each)
        text = f"{line.ljust(len(header))}  {about}".rstrip()
        print(*([text] if len(text) <= PAPER else [line, *wrapped(about, indent=" " * 8)]), sep="\n")


def _bounds(field: Field) -> tuple[str, str]:
    least, most = bounds(field.form)
    return "" if least is None else f"{least:g}", "" if most is None else f"{most:g}"


def _about(field: Field) -> str:
    """Give the choices of a field, else its description."""
    form: Any = bare_type(field.form)
    if get_origin(form) is Literal:
        return ", ".join(map(str, get_args(form)))
    return field.about or ("true, false" if form is bool else "")
