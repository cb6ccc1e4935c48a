"""What a search found, on a page: the best beside what is there now, then what to do for each."""

from collections.abc import Sequence
from typing import Final

from studbook.cli.environment import bold
from studbook.cli.front_page import closing
from studbook.cli.numbers import fixed, sideways
from studbook.cli.printing import points, table, wrapped
from studbook.wire.searches import (
    CarryOverAnswer,
    CornerOutcome,
    CornerPlan,
    FrontPlan,
    Inventory,
    Likeness,
    RollCenterAt,
    StudSearchAnswer,
)
from studbook.wire.units import Opt

CORNERS: Final = {"lf": "LF", "rf": "RF"}


def stud_page(answer: StudSearchAnswer) -> list[str]:
    """Lay out a search at one corner."""
    header = [CORNERS[answer.corner], *_OUTCOME, *_AXLE]
    rows = [["now", *_cells(answer.now), *_center(answer.roll_center_now), "0", ""]]
    for number, each in enumerate(answer.ranked, 1):
        cells = [str(number), *_cells(each.outcome), *_center(each.roll_center), str(each.parts_changed_count)]
        rows += _best(cells, each.best_in)
    page = [*_sentences(answer.notes), "", *table(header, rows, right=frozenset(range(1, 8)))]
    page += ["", *_curves(answer.travel_in, {"wanted": answer.camber_target_deg, "now": answer.now.camber_deg}, answer)]
    for number, each in enumerate(answer.ranked, 1):
        page += ["", *_jobs(str(number), each.todo)]
    page += _at_hand(answer.inventory)
    return page + closing(answer.missing, answer.assumptions, answer.cautions)


def carry_over_page(answer: CarryOverAnswer) -> list[str]:
    """Lay out by which parts one car is like another."""
    page = _sentences(answer.notes)
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
    return page + closing(answer.missing, answer.assumptions, answer.cautions)


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
    page += points("Left out", [f"{', '.join(parts)}: {why}" for why, parts in because.items()])
    split = [each.line.partition("/")[2] for each in inventory.splits]
    settle = "read by its newest; to settle it: studbook part correct"
    return page + points("Recorded twice", [f"{part}: {settle} {part}" for part in split])


def _seat(seat: str) -> str:
    corner, _, joint = seat.partition(".")
    return f"{CORNERS[corner]} {joint}"


def _sentences(said: Sequence[str]) -> list[str]:
    return [bold(line) for sentence in said for line in wrapped(sentence)]
