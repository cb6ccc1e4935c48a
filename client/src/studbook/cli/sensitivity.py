"""`studbook sensitivity REF`: the sheet for the wall."""

from collections.abc import Sequence
from itertools import groupby
from typing import Annotated, Final

from cyclopts import Parameter
from msgspec import UnsetType

from studbook.cli.connection import open_book_of
from studbook.cli.environment import bold
from studbook.cli.number_format import change, toe_fraction
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import (
    bullets,
    page_end,
    print_answer,
    table,
    when,
    wrapped,
)
from studbook.cli.weights import WHEELS
from studbook.wire.around_scales import Sensitivity, SensitivityAnswer, SensitivityQuery
from studbook.wire.entries import Revision


def sensitivity(
    ref: ReadRef,
    /,
    *,
    turns: Annotated[float, Parameter(help="Of each perch.")] = 1.0,
    shim: Annotated[float, Parameter(help="At both upper pivots, in.")] = 0.125,
    stud: Annotated[float, Parameter(help="Longer, in.")] = 0.5,
    psi: Annotated[float, Parameter(help="More.")] = 1.0,
    for_print: Annotated[
        bool, Parameter(name="--print", negative="", help="One page to print: what it is of, and nothing else.")
    ] = False,
    json: Json = False,
) -> None:
    """Show what one step of each perch, shim, stud and pressure changes: cross, bite, heights, camber, toe."""
    query = SensitivityQuery(perch_turns=turns, shim_in=shim, stud_in=stud, pressure_psi=psi)
    with open_book_of(ref) as (book, [there]):
        revision = book.resolve(there)
        answer = book.sensitivity(revision.id, sizes=query)
    print_answer(answer, lambda _: wall_page(answer, revision) if for_print else sensitivity_page(answer), json=json)


KINDS: Final = {"perch": "PERCHES", "shims": "SHIMS", "stud": "STUDS", "pressure": "PRESSURES"}


def sensitivity_page(answer: SensitivityAnswer) -> list[str]:
    """Lay the sheet out, with what it rests on."""
    lines = _sheet(answer)
    page = [bold(line) if line.isupper() else line for line in lines]
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def wall_page(answer: SensitivityAnswer, revision: Revision) -> list[str]:
    """Lay the sheet out as one page to hang up: no letters that a printer would trip over, nothing to scroll."""
    stands = answer.stands
    stance = (
        f"stands at cross {stands.cross_percent:.1f} %, bite {stands.bite_lb:.0f} lb, left {stands.left_percent:.1f} %,"
        f" rear {stands.rear_percent:.1f} %, {stands.total_lb:,.0f} lb"
    )
    page = [
        f"CAR {revision.car}  {revision.sheet}  {revision.id[:12]}  {when(revision.at)}",
        stance,
        "",
        *_sheet(answer),
        "",
    ]
    page += wrapped(
        "One step of one adjustment, nothing put right; the other way has the other sign. Small steps add up."
    )
    lacks = [f"{each.subject}: {each.why or 'needs ' + ', '.join(each.fields)}" for each in answer.missing]
    return page + bullets("Not on this sheet", lacks) + ["", *wrapped(answer.cautions[0])]


def _sheet(answer: SensitivityAnswer) -> list[str]:
    """Set the weights and heights of all steps over their camber and toe."""
    header = ["", "cross\n%", "bite\nlb", *(f"{name.upper()} up\nin" for name in WHEELS)]
    rows = [[f"  {each.where}", *_weights(each)] for each in answer.steps]
    lines = table(header, rows, right=frozenset(range(1, len(header))))
    page, below = lines[:2], iter(lines[2:])
    for kind, of_one in groupby(answer.steps, key=lambda each: each.kind):
        steps = list(of_one)
        page += [f"{KINDS[kind]}: {step}" for step in dict.fromkeys(each.step for each in steps)]
        page += [next(below) for _ in steps]
    return [*page, "", *_alignment(answer.steps), "", f"heights {answer.heights_at}; toe over 26 in"]


def _alignment(steps: Sequence[Sensitivity]) -> list[str]:
    """Lay out what the steps do to camber and toe of the front wheels."""
    header = ["", "LF camber\ndeg", "RF camber\ndeg", "LF toe\nin", "RF toe\nin"]
    rows = [
        [
            f"  {each.where} {each.kind}",
            change(each.lf_camber_deg, 2),
            change(each.rf_camber_deg, 2),
            _toe(each.lf_toe_in),
            _toe(each.rf_toe_in),
        ]
        for each in steps
    ]
    return table(header, rows, right=frozenset(range(1, len(header))))


def _weights(row: Sensitivity) -> list[str]:
    heights = (_length(getattr(row.heights, f"{name}_in")) for name in WHEELS)
    return [change(row.cross_percent, 2), change(row.bite_lb, 1), *heights]


def _length(value: float) -> str:
    """Write a change of height as decimals with the nearest 1/32 in beside it.

    Example:
        >>> _length(-0.125), _length(0.004)
        ('-0.12 1/8', '0.00 0')
    """
    fraction = toe_fraction(abs(value)).removesuffix(" in")
    return f"{change(value, 2)} {fraction}"


def _toe(value: float | UnsetType) -> str:
    """Write a change of toe as decimals and to the nearest 1/32 in, with its way."""
    return "-" if isinstance(value, UnsetType) else f"{change(value, 3)} {toe_fraction(value)}"
