"""`studbook search studs REF CORNER` and `studbook search carry-over FROM TO`."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.cli.environment import open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.number_format import fixed, sideways
from studbook.cli.options import Json, Ref
from studbook.cli.printing import bullets, headline, page_end, print_answer, table, wrapped
from studbook.wire.records import record_name
from studbook.wire.searches import (
    CamberWanted,
    CarryOverAnswer,
    CornerOutcome,
    CornerPlan,
    FrontPlan,
    Inventory,
    Likeness,
    LikenessWanted,
    RollCenterAt,
    StudSearchAnswer,
    StudStock,
)
from studbook.wire.units import Opt

search: Final = App(name="search", help="Find the studs, shims and spacers closest to a target.")

_STUD: Final = re.compile(r"(upper|lower|either):([0-9]*\.?[0-9]+)(?:x([0-9]+))?")
_PAIR: Final = re.compile(r"([-+]?[0-9]*\.?[0-9]+):([-+]?[0-9]*\.?[0-9]+)")


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class AtHand:
    """What may be put in: options that both searches share."""

    stud: Annotated[
        list[str] | None,
        Parameter(negative="", help="In the trailer: upper:1.7, lower:1.85x2, either:1.5; may be repeated."),
    ] = None
    from_trailer: Annotated[bool, Parameter(negative="", help="Also studs of the book that are in the trailer.")] = (
        False
    )
    from_shelf: Annotated[
        bool, Parameter(negative="", help="Also studs of the book in the trailer or on the shelf.")
    ] = False
    shims: Annotated[float, Parameter(help="How far camber and caster adjusters may move, in.")] = 0.25
    spacers: Annotated[float, Parameter(help="How far the bump steer adjuster may move, in.")] = 0.25
    keep: Annotated[int, Parameter(help="How many of the best to show.")] = 6

    def terms(self) -> dict[str, Any]:
        """Spell it as members of a request."""
        return {
            "inventory": "anywhere" if self.from_shelf else "trailer" if self.from_trailer else "listed",
            "studs": [_stud(word) for word in self.stud or ()],
            "shims_within_in": self.shims,
            "spacers_within_in": self.spacers,
            "keep_count": self.keep,
        }


_DEFAULTS: Final = AtHand()


@search.command(name="studs")
def search_studs(
    ref: Ref,
    corner: Literal["lf", "rf"],
    /,
    *,
    camber: Annotated[
        list[str],
        Parameter(
            negative="",
            allow_leading_hyphen=True,
            help="Wanted, as TRAVEL:CAMBER, in from where the wheel stands and deg; may be repeated.",
        ),
    ],
    roll_center: Annotated[
        str | None, Parameter(allow_leading_hyphen=True, help="Window for its height, as LOW:HIGH, in.")
    ] = None,
    bump_steer: Annotated[float | None, Parameter(help="Most bump steer either way, deg per in.")] = None,
    caster: Annotated[float, Parameter(help="Caster stays this near to where it is, deg.")] = 0.5,
    at_hand: AtHand = _DEFAULTS,
    json: Json = False,
) -> None:
    """Find the studs, shims, spacers and rod length at a corner that come closest to a camber curve."""
    wanted = CamberWanted(
        corner=corner,
        camber_target=[_pair(word, "--camber") for word in camber],
        roll_center_in=UNSET if roll_center is None else _pair(roll_center, "--roll-center"),
        bump_steer_most_deg_per_in=UNSET if bump_steer is None else bump_steer,
        caster_within_deg=caster,
        **at_hand.terms(),
    )
    with open_book() as book:
        answer = book.search_studs(ref, wanted)
    print_answer(answer, stud_page, json=json)


@search.command(name="carry-over")
def search_carry_over(
    source: Annotated[str, Parameter(help="The car to be like: CAR/SHEET, or an id.")],
    ref: Annotated[str, Parameter(help="The car to change: CAR/SHEET, or an id.")],
    /,
    *,
    at_hand: AtHand = _DEFAULTS,
    json: Json = False,
) -> None:
    """Find the parts with which a car's front reads like another's: outcomes are matched, not parts."""
    with open_book() as book:
        answer = book.search_carry_over(source, ref, LikenessWanted(**at_hand.terms()))
    print_answer(answer, carry_over_page, json=json)


def _stud(word: str) -> StudStock:
    form = _STUD.fullmatch(word)
    if form is None:
        raise CommandFailedError(f"--stud {word}: write upper:1.7, lower:1.85x2 or either:1.5")
    joint: Any = form[1]
    return StudStock(joint=joint, length_in=float(form[2]), count=int(form[3] or 1))


def _pair(word: str, option: str) -> tuple[float, float]:
    form = _PAIR.fullmatch(word)
    if form is None:
        raise CommandFailedError(f"{option} {word}: write two numbers with a colon between, such as -2:-1.5")
    return float(form[1]), float(form[2])


CORNERS: Final = {"lf": "LF", "rf": "RF"}


def stud_page(answer: StudSearchAnswer) -> list[str]:
    """Lay out a search at one corner."""
    header = [CORNERS[answer.corner], *_OUTCOME, *_AXLE]
    rows = [["now", *_cells(answer.now), *_center(answer.roll_center_now), "0", ""]]
    for number, each in enumerate(answer.ranked, 1):
        cells = [str(number), *_cells(each.outcome), *_center(each.roll_center), str(each.parts_changed_count)]
        rows += _best(cells, each.best_in)
    page = [*headline(answer.notes), "", *table(header, rows, right=frozenset(range(1, 8)))]
    page += ["", *_curves(answer.travel_in, {"wanted": answer.camber_target_deg, "now": answer.now.camber_deg}, answer)]
    for number, each in enumerate(answer.ranked, 1):
        page += ["", *_jobs(str(number), each.todo)]
    page += _at_hand(answer.inventory)
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def carry_over_page(answer: CarryOverAnswer) -> list[str]:
    """Lay out by which parts one car is like another."""
    page = headline(answer.notes)
    for name, title in CORNERS.items():
        side = getattr(answer, name)
        if isinstance(side, Likeness):
            plans = [plan for each in answer.ranked if isinstance(plan := getattr(each, name), CornerPlan)]
            rows = [["to be like", *_cells(side.aim)], ["now", *_cells(side.now)]]
            rows += [[str(number), *_cells(each.outcome)] for number, each in enumerate(plans, 1)]
            page += ["", *table([title, *_OUTCOME], rows, right=frozenset(range(1, 5)))]
    rows = [
        ["to be like", *_center(answer.roll_center_aim), "", ""],
        ["now", *_center(answer.roll_center_now), "0", ""],
    ]
    for number, each in enumerate(answer.ranked, 1):
        rows += _best([str(number), *_center(each.roll_center), str(each.parts_changed_count)], each.best_in)
    page += ["", *table(["FRONT", *_AXLE], rows, right=frozenset(range(1, 4)))]
    for number, each in enumerate(answer.ranked, 1):
        page += ["", *_jobs(str(number), _both(each))]
    page += _at_hand(answer.inventory)
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


_OUTCOME: Final = ("camber\noff deg", "gain\ndeg/in", "caster\ndeg", "bump steer\ndeg/in")
_AXLE: Final = ("roll center\nup in", "across in", "parts\nchanged", "best in")


def _best(cells: list[str], names: Sequence[str]) -> list[list[str]]:
    """Give a row and what it is best in, each after the first on a line of its own."""
    first, *more = names or [""]
    return [[*cells, first], *([*[""] * len(cells), each] for each in more)]


def _cells(outcome: CornerOutcome) -> list[str]:
    return [
        fixed(outcome.camber_off_deg, 2),
        fixed(outcome.camber_gain_deg_per_in, 2),
        fixed(outcome.caster_deg, 2),
        fixed(outcome.bump_steer_deg_per_in, 3),
    ]


def _center(center: Opt[RollCenterAt]) -> list[str]:
    if not isinstance(center, RollCenterAt):
        return ["-", "-"]
    return [fixed(center.height_in, 2), sideways(center.y_in)]


def _both(plan: FrontPlan) -> list[str]:
    return [job for each in (plan.lf, plan.rf) if isinstance(each, CornerPlan) for job in each.todo]


def _curves(travels: Sequence[float], columns: dict[str, list[float]], answer: StudSearchAnswer) -> list[str]:
    columns |= {str(number): each.outcome.camber_deg for number, each in enumerate(answer.ranked[:6], 1)}
    rows = [
        [fixed(travel, 2), *(fixed(column[place], 2) for column in columns.values())]
        for place, travel in enumerate(travels)
    ]
    return table(["camber deg at in", *columns], rows, right=frozenset(range(len(columns) + 1)))


def _jobs(number: str, todo: Sequence[str]) -> list[str]:
    lines: list[str] = []
    for place, job in enumerate(todo or ["Nothing changes."]):
        lines += wrapped(job, indent="    ", first=f"{number:>2}  " if place == 0 else "    ")
    return lines


def _at_hand(inventory: Opt[Inventory]) -> list[str]:
    """List the studs of the book: those that could go in, those left out with why, and those whose record is split."""
    if not isinstance(inventory, Inventory):
        return []
    rows = [
        [each.part, f"{each.length_in:g}", each.where, ", ".join(_seat(seat) for seat in each.fits)]
        for each in inventory.studs
    ]
    page = ["", *table(["of the book", "in", "where", "goes into"], rows, right=frozenset({1}))] if rows else []
    because: dict[str, list[str]] = {}
    for each in inventory.left_out:
        because.setdefault(each.why, []).append(each.part)
    page += bullets("Left out", [f"{', '.join(parts)}: {why}" for why, parts in because.items()])
    split = [record_name(each.line) for each in inventory.splits]
    settle = "read by its newest; to settle it: studbook part correct"
    return page + bullets("Recorded twice", [f"{part}: {settle} {part}" for part in split])


def _seat(seat: str) -> str:
    corner, _, joint = seat.partition(".")
    return f"{CORNERS[corner]} {joint}"
