"""`studbook rear REF`."""

from collections.abc import Callable, Sequence
from typing import Final

from msgspec import UnsetType

from studbook.cli.connection import open_book_of
from studbook.cli.front import roll_center_text
from studbook.cli.number_format import fixed, sideways
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import page_end, print_answer, side_by_side, table, wrapped
from studbook.wire.rear import RearAnswer, RearMotionRatios, RearState, RearTable, RearWheelState


def rear(ref: ReadRef, /, *, json: Json = False) -> None:
    """Show how a revision's rear axle is located, how it stands, and how it moves over bump and axle roll."""
    with open_book_of(ref) as (book, [there]):
        answer = book.rear(there)
    print_answer(answer, rear_page, json=json)


Cell = Callable[[RearWheelState], str]

WHEEL: Final[dict[str, Cell]] = {
    "wheel up in": lambda wheel: fixed(wheel.travel_in, 2),
    "lead change in, + forward": lambda wheel: fixed(wheel.lead_change_in, 2),
    "wheelbase in": lambda wheel: fixed(wheel.wheelbase_in, 2),
    "camber deg": lambda wheel: fixed(wheel.camber_deg, 2),
    "toe deg": lambda wheel: fixed(wheel.toe_deg, 2),
    "lift per lb of thrust": lambda wheel: fixed(wheel.squat_ratio, 2),
    "anti-squat percent": lambda wheel: fixed(wheel.anti_squat_percent, 0),
    "anti-lift percent": lambda wheel: fixed(wheel.anti_lift_percent, 0),
    "birdcage indexing deg": lambda wheel: fixed(wheel.birdcage_indexing_deg, 2),
    "spring ratio, this wheel": lambda wheel: _ratio(wheel.spring, "one_wheel_ratio"),
    "  other wheel": lambda wheel: _ratio(wheel.spring, "other_wheel_ratio"),
    "  both alike": lambda wheel: _ratio(wheel.spring, "bump_ratio"),
    "  roll, in per deg": lambda wheel: _ratio(wheel.spring, "roll_in_per_deg"),
}


def rear_page(answer: RearAnswer) -> list[str]:
    """Lay an answer out: wheels side by side, the axle, its rods, the table, and how far to trust it."""
    now = answer.now
    known = {name: cell for name, cell in WHEEL.items() if {cell(now.lr), cell(now.rr)} != {"-"}}
    page = [*side_by_side("REAR", {"LR": now.lr, "RR": now.rr}, known), "", *_axle(now), "", *_rods(now)]
    if isinstance(answer.table, RearTable):
        page += ["", *_table(answer.table)]
    page += [
        f"  {each.ran_out} runs out at {each.bump_in:+.2f} in of bump and {each.roll_deg:+.2f} deg of roll"
        for each in answer.limits
    ]
    page += _spread(answer)
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def _axle(now: RearState) -> list[str]:
    lines = [f"Roll center: {roll_center_text(now.roll_center)}"]
    lines += [
        f"{name} crosses the datum line {fixed(bar.center_plane_in, 2)} in up, the axle's middle"
        f" {fixed(bar.axle_middle_in, 2)} in up"
        for name, bar in now.lateral_bars.items()
    ]
    lines += [
        (
            f"Since the survey: axle steer {fixed(now.axle_steer_deg, 2)} deg (+ left), pinion"
            f" {fixed(now.pinion_change_deg, 2)} deg (+ nose up), axle moved {sideways(now.lateral_shift_in)} in"
        ),
        (
            f"Per deg of axle roll (right wheel up): axle steer {fixed(now.axle_steer_deg_per_deg, 3)} deg, pinion"
            f" {fixed(now.pinion_deg_per_deg, 3)} deg"
        ),
        (
            f"Per in of bump: axle steer {fixed(now.axle_steer_deg_per_in, 3)} deg, pinion"
            f" {fixed(now.pinion_deg_per_in, 3)} deg"
        ),
    ]
    return [line for each in lines for line in wrapped(each, indent="    ", first="  ")]


def _rods(now: RearState) -> list[str]:
    rows = [[name, fixed(rod.length_in, 3), fixed(rod.angle_deg, 1)] for name, rod in now.rods.items()]
    return table(["rod", "length in", "deg, + chassis end up"], rows, right=frozenset({1, 2}))


def _table(over: RearTable) -> list[str]:
    """Give every inch and a half of bump at every second degree of axle roll."""
    header = ["bump\nin", "roll\ndeg", "steer\ndeg", "pinion\ndeg", "LR up\nin", "RR up\nin", "LR lead\nchange in"]
    header += ["RR lead\nchange in", "roll center\nin up", "lift LR\nlb/lb", "lift RR\nlb/lb"]
    columns: Sequence[tuple[Sequence[float | None], int]] = [
        (over.axle_steer_deg, 2),
        (over.pinion_change_deg, 2),
        (over.left_travel_in, 2),
        (over.right_travel_in, 2),
        (over.left_lead_change_in, 2),
        (over.right_lead_change_in, 2),
        (over.roll_center_height_in, 2),
        (over.left_squat_ratio, 2),
        (over.right_squat_ratio, 2),
    ]
    rows = [
        [_signed(bump), _signed(roll), *(fixed(column[place], digits) for column, digits in columns)]
        for place, (bump, roll) in enumerate(zip(over.bump_in, over.roll_deg, strict=True))
        if bump % 1.5 == 0 and roll % 2 == 0
    ]
    return table(header, rows, right=frozenset(range(len(header))))


def _spread(answer: RearAnswer) -> list[str]:
    """Describe what a point surveyed 1/16 in off would do, the worst point of each figure."""
    rows = [[f"  {each.outcome.replace('_', ' ')}", fixed(each.plus_or_minus, 3), each.worst] for each in answer.spread]
    return ["", *table(["Survey off by 1/16 in", "+ or -", "worst point"], rows, right=frozenset({1}))] if rows else []


def _ratio(motion: RearMotionRatios | UnsetType, name: str) -> str:
    return "-" if isinstance(motion, UnsetType) else fixed(getattr(motion, name), 3)


def _signed(value: float) -> str:
    return f"{value:+g}" if value else "0"
