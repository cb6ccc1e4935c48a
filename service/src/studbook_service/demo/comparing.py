"""Answers laid out in columns: one change on several cars, joints then and now, the season car by car."""

from collections.abc import Mapping
from typing import Any, Final

from msgspec import UNSET

from studbook.cli.printing import bullets, table
from studbook.history.leaves import steps
from studbook.wire.answers import Effects
from studbook.wire.joints import JointsAnswer
from studbook.wire.season import SeasonReport

ROWS: Final = (
    ("camber as fitted, deg", "rf", "height_restored", "camber_deg", "+.2f"),
    ("toe as fitted, deg", "rf", "height_restored", "toe_deg", "+.2f"),
    ("camber gain, deg per in", "rf", "all_restored", "camber_gain_deg_per_in", "+.2f"),
    ("bump steer until it is put right, deg per in", "rf", "restored", "bump_steer_deg_per_in", "+.3f"),
    ("bump steer put right, deg per in", "rf", "all_restored", "bump_steer_deg_per_in", "+.3f"),
    ("roll center, in high", "axle", "all_restored", "roll_center.height_in", ".2f"),
    ("roll center, in to the left", "axle", "all_restored", "roll_center.y_in", "+.1f"),
)
"""Label, part of the answer, its stage that is held against `before`, the value there, and how it is written."""


SEASON: Final = {
    "nights": ("nights", "g"),
    "outings": ("outings", "g"),
    "laps": ("laps", "g"),
    "places gained an outing": ("gained", "+.1f"),
}


def side_by_side(answers: Mapping[str, Effects]) -> list[str]:
    """Lay answers out in columns.

    Args:
        answers: what the change does, by the car's name.

    Returns:
        Lines; a value that an answer does not have is a dash.

    Example::

        lines = side_by_side({"car 7": seven, "car 12": twelve})
    """
    rows = [
        [label, *(_before_and_after(answer, part, stage, value, form) for answer in answers.values())]
        for label, part, stage, value, form in ROWS
    ]
    jobs = {answer: _jobs(each) for answer, each in answers.items()}
    places = dict.fromkeys(place for each in jobs.values() for place in each)
    rows += [[f"to do: {place}, in", *(each.get(place, "-") for each in jobs.values())] for place in places]
    return table(["right front", *answers], rows)


def freed(then: JointsAnswer, now: JointsAnswer) -> list[str]:
    """Lay out what the right-front joints were read at, and what that comes to at the wheel, then and now.

    Example::

        lines = freed(at_the_survey, tonight)
    """
    values = (
        ("lower joint, in-lb to break away", "rf.joints.lower_ball.breakaway_in_lb", "g"),
        ("upper joint, in-lb to break away", "rf.joints.upper_ball.breakaway_in_lb", "g"),
        ("at the wheel by preload, lb", "rf.breakaway.preload_lb", ".1f"),
        ("the same by the car's weight on the joints, lb", "rf.breakaway.load_lb", ".1f"),
    )
    rows = [[label, *(_formatted(answer, path, form) for answer in (then, now))] for label, path, form in values]
    return table(["right front", "at the survey", "tonight"], rows)


def in_short(report: SeasonReport) -> list[str]:
    """Give a season in a few lines: what each car ran, and what one factor did, or that the numbers cannot tell.

    Example::

        lines = in_short(book.season())
    """
    rows = [
        [each.car, *(_formatted(each.totals, value, form) for value, form in SEASON.values())] for each in report.cars
    ]
    compared = [f"car {car.car}, {each.factor}: {each.detail}" for car in report.cars for each in car.comparisons]
    lines = table(["car", *SEASON], rows, right=frozenset(range(1, len(SEASON) + 1)))
    return lines + bullets("One factor changed and nothing else, seconds in the median lap", compared)


def _formatted(answer: Any, path: str, form: str) -> str:
    value = _at(answer, path)
    return "-" if value is None else format(value, form)


def _jobs(answer: Effects) -> dict[str, str]:
    """Give how much to add at each place, by the place."""
    adjustments = _at(answer, "rf.adjustments") or []
    return {each.where: f"{each.amount_in:+.3f}" for each in adjustments}


def _before_and_after(answer: Effects, part: str, stage: str, value: str, form: str) -> str:
    return " -> ".join(_formatted(answer, f"{part}.{each}.{value}", form) for each in ("before", stage))


def _at(answer: Any, path: str) -> Any:
    """Give the value at a dotted path of an answer, or None where the answer does not have it."""
    for step in steps(path):
        answer = answer.get(step, UNSET) if isinstance(answer, dict) else getattr(answer, step)
        if answer is UNSET:
            return None
    return answer
