"""`studbook loads REF`."""

from collections.abc import Callable
from typing import Final

from msgspec import UNSET

from studbook.cli.connection import open_book_of
from studbook.cli.environment import bold
from studbook.cli.number_format import change, fixed
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import bullets, figure_table, page_end, print_answer, side_by_side
from studbook.cli.weights import WHEELS, by_wheel, carrying, weights_table
from studbook.wire.loads import AxleRates, CenterOfMass, LoadsAnswer, WallSheet


def loads(ref: ReadRef, /, *, json: Json = False) -> None:
    """Show wheel weights, wheel rates, and what one step of each adjustment changes."""
    with open_book_of(ref) as (book, [there]):
        answer = book.loads(there)
    print_answer(answer, loads_page, json=json)


RATES: Final[dict[str, Callable[[AxleRates], str]]] = {
    "left wheel lb/in": lambda axle: fixed(axle.left_lb_per_in, 0),
    "right wheel lb/in": lambda axle: fixed(axle.right_lb_per_in, 0),
    "  coupling lb/in": lambda axle: fixed(axle.coupling_lb_per_in, 0),
    "heave lb/in": lambda axle: fixed(axle.heave_lb_per_in, 0),
    "roll in-lb/deg": lambda axle: fixed(axle.roll_in_lb_per_deg, 0),
    "left motion ratio": lambda axle: fixed(axle.left_ratio, 3),
    "right motion ratio": lambda axle: fixed(axle.right_ratio, 3),
    "bar lb/in of difference": lambda axle: fixed(axle.bar_lb_per_in, 0),
}


def loads_page(answer: LoadsAnswer) -> list[str]:
    """Lay an answer out: weights, what changed since they were read, rates, where the weight is, the sheet."""
    named = {
        "as read": answer.read,
        "now": answer.now if answer.since else UNSET,
        "bars linked": answer.bars_hooked,
        "bars off": answer.bars_unhooked,
    }
    columns = {name: each for name, each in named.items() if each is not UNSET}
    page: list[str] = []
    if columns:
        page += weights_table("SCALES", columns)
    if answer.read_at is not UNSET:
        page += [f"  read {answer.read_at}"]
    page += bullets("Changed since, and part of `now`", answer.since) + bullets("Not judged", answer.left_out)
    if answer.height_since is not UNSET:
        page += [f"  ride heights since: {by_wheel(answer.height_since)} in"]
    page += carrying(answer.engaged, answer.lifted) + _rates(answer)
    if answer.cg is not UNSET:
        page += ["", *_center(answer.cg)]
    if answer.sheet is not UNSET:
        page += ["", *_sheet(answer.sheet, str(answer.heights_at or ""))]
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def _rates(answer: LoadsAnswer) -> list[str]:
    axles = {name: each for name, each in (("front", answer.front), ("rear", answer.rear)) if each is not UNSET}
    return ["", *side_by_side("SPRINGS AT THE WHEELS", axles, RATES)] if axles else []


def _center(cg: CenterOfMass) -> list[str]:
    height = "height not known"
    if cg.height_in is not UNSET:
        sure = "" if cg.height_sigma_in is UNSET else f" ± {cg.height_sigma_in:.2f}"
        height = f"{cg.height_in:.2f}{sure} in up ({cg.height_from})"
    return [
        bold("WEIGHT")
        + f"  {cg.behind_front_in:.2f} ± {cg.behind_front_sigma_in:.2f} in behind the front axle,"
        + f" {cg.left_of_datum_in:+.2f} ± {cg.left_of_datum_sigma_in:.2f} in left of the datum",
        f"  {height}",
    ]


def _sheet(sheet: WallSheet, heights_at: str) -> list[str]:
    rows = [
        [
            what,
            change(sheet.cross_percent[row], 2),
            change(sheet.bite_lb[row], 1),
            *(change(getattr(sheet, f"{name}_lb")[row], 1) for name in WHEELS),
            *(change(getattr(sheet, f"{name}_in")[row], 2) for name in WHEELS),
        ]
        for row, what in enumerate(sheet.what)
    ]
    header = ["FOR THE WALL", "cross\n%", "bite\nlb", *(f"{name.upper()}\nlb" for name in WHEELS)]
    header += [f"{name.upper()}\nin" for name in WHEELS]
    return [*figure_table(header, rows), f"  heights {heights_at}"]
