"""What a search found, on a page: the best beside what is there now, then what to do for each."""

from collections.abc import Sequence
from typing import Final

from studbook.cli.environment import bold
from studbook.cli.front_page import closing
from studbook.cli.numbers import fixed, sideways
from studbook.cli.printing import table, wrapped
from studbook.wire.searches import (
    CarryOverAnswer,
    CornerOutcome,
    CornerPlan,
    FrontPlan,
    Likeness,
    RollCentreAt,
    StudSearchAnswer,
)
from studbook.wire.units import Opt

CORNERS: Final = {"lf": "LF", "rf": "RF"}


def stud_page(answer: StudSearchAnswer) -> list[str]:
    """Lay out a search at one corner."""
    header = [CORNERS[answer.corner], *_OUTCOME, "roll centre\nup in", "across in", "parts\nchanged", "best in"]
    rows = [["now", *_cells(answer.now), *_centre(answer.roll_centre_now), "0", ""]]
    rows += [
        [
            str(number),
            *_cells(each.outcome),
            *_centre(each.roll_centre),
            str(each.parts_changed_count),
            ", ".join(each.best_in),
        ]
        for number, each in enumerate(answer.ranked, 1)
    ]
    page = [*_sentences(answer.said), "", *table(header, rows, right=frozenset(range(1, 8)))]
    page += ["", *_curves(answer.travel_in, {"wanted": answer.camber_target_deg, "now": answer.now.camber_deg}, answer)]
    for number, each in enumerate(answer.ranked, 1):
        page += ["", *_jobs(str(number), each.todo)]
    return page + closing(answer.missing, answer.assumptions, answer.cautions)


def carry_over_page(answer: CarryOverAnswer) -> list[str]:
    """Lay out by which parts one car is like another."""
    page = _sentences(answer.said)
    for name, title in CORNERS.items():
        side = getattr(answer, name)
        if isinstance(side, Likeness):
            plans = [plan for each in answer.ranked if isinstance(plan := getattr(each, name), CornerPlan)]
            rows = [["to be like", *_cells(side.aim)], ["now", *_cells(side.now)]]
            rows += [[str(number), *_cells(each.outcome)] for number, each in enumerate(plans, 1)]
            page += ["", *table([title, *_OUTCOME], rows, right=frozenset(range(1, 5)))]
    rows = [
        ["to be like", *_centre(answer.roll_centre_aim), "", ""],
        ["now", *_centre(answer.roll_centre_now), "0", ""],
    ]
    rows += [
        [str(number), *_centre(each.roll_centre), str(each.parts_changed_count), ", ".join(each.best_in)]
        for number, each in enumerate(answer.ranked, 1)
    ]
    header = ["FRONT", "roll centre\nup in", "across in", "parts\nchanged", "best in"]
    page += ["", *table(header, rows, right=frozenset(range(1, 4)))]
    for number, each in enumerate(answer.ranked, 1):
        page += ["", *_jobs(str(number), _both(each))]
    return page + closing(answer.missing, answer.assumptions, answer.cautions)


_OUTCOME: Final = ("camber\noff deg", "gain\ndeg/in", "caster\ndeg", "bump steer\ndeg/in")


def _cells(outcome: CornerOutcome) -> list[str]:
    return [
        fixed(outcome.camber_off_deg, 2),
        fixed(outcome.camber_gain_deg_per_in, 2),
        fixed(outcome.caster_deg, 2),
        fixed(outcome.bump_steer_deg_per_in, 3),
    ]


def _centre(centre: Opt[RollCentreAt]) -> list[str]:
    if not isinstance(centre, RollCentreAt):
        return ["-", "-"]
    return [fixed(centre.height_in, 2), sideways(centre.y_in)]


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


def _sentences(said: Sequence[str]) -> list[str]:
    return [bold(line) for sentence in said for line in wrapped(sentence)]
