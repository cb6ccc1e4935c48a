"""`studbook loads REF`."""

from typing import Final

from msgspec import UNSET

from studbook.cli.connection import open_book_of
from studbook.cli.environment import bold
from studbook.cli.front import page_end
from studbook.cli.number_format import change, fixed
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import bullets, print_answer, table
from studbook.cli.weights import WHEELS, by_wheel, carrying, weights_table
from studbook.wire.loads import AxleRates, CenterOfMass, LoadsAnswer, WallSheet


def loads(ref: ReadRef, /, *, json: Json = False) -> None:
    """Tell what a car weighs at each wheel, how stiff it is there, and what one step of everything does."""
    with open_book_of(ref) as (book, [there]):
        answer = book.loads(there)
    print_answer(answer, loads_page, json=json)


RATES: Final = {
    "left wheel lb/in": ("left_lb_per_in", 0),
    "right wheel lb/in": ("right_lb_per_in", 0),
    "  felt by the other lb/in": ("coupling_lb_per_in", 0),
    "heave lb/in": ("heave_lb_per_in", 0),
    "roll in-lb/deg": ("roll_in_lb_per_deg", 0),
    "left motion ratio": ("left_ratio", 3),
    "right motion ratio": ("right_ratio", 3),
    "bar lb/in of difference": ("bar_lb_per_in", 0),
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
    page += bullets("Changed since, and told in `now`", answer.since) + bullets("Not judged", answer.left_out)
    if answer.height_since is not UNSET:
        page += [
            f"  ride heights since: {by_wheel([getattr(answer.height_since, f'{name}_in') for name in WHEELS])} in"
        ]
    page += carrying(answer.engaged, answer.lifted) + _rates(answer)
    if answer.cg is not UNSET:
        page += ["", *_center(answer.cg)]
    if answer.sheet is not UNSET:
        page += ["", *_sheet(answer.sheet, str(answer.heights_at or ""))]
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def _rates(answer: LoadsAnswer) -> list[str]:
    axles: dict[str, AxleRates] = {
        name: each for name, each in (("front", answer.front), ("rear", answer.rear)) if each is not UNSET
    }
    if not axles:
        return []
    rows = [
        [name, *(fixed(getattr(axle, field), digits) for axle in axles.values())]
        for name, (field, digits) in RATES.items()
    ]
    lines = table(["SPRINGS AT THE WHEELS", *axles], rows, right=frozenset({1, 2}))
    return ["", bold(lines[0]), *lines[1:]]


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
    lines = table([*header, *(f"{name.upper()}\nin" for name in WHEELS)], rows, right=frozenset(range(1, 11)))
    return [bold(lines[0]), bold(lines[1]), *lines[2:], f"  heights {heights_at}"]
