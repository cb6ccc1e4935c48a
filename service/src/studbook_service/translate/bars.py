"""Anti-roll bars as entered, and by their dimensions."""

from typing import Literal

from msgspec import UNSET, UnsetType

from studbook.wire.answers import Missing
from studbook.wire.damping import BarAnswer
from studbook_service.engine.bars import bar_rate, torsion_rate
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.states import rounded

SIZES = ("outer_diameter_in", "active_length_in", "arm_left_in", "arm_right_in")


def bar(reader: DocumentReader, end: Literal["front", "rear"], missing: list[Missing]) -> BarAnswer | UnsetType:
    """Describe an axle's anti-roll bar, or nothing where none is entered."""
    root = f"setup.{end}.bar"
    entered = reader.get(root)
    if not entered:
        return UNSET
    answer = BarAnswer(
        rate_lb_per_in=entered.get("rate_lb_per_in", UNSET),
        slack_in=entered.get("slack_in", UNSET),
        hooked=entered.get("hooked", UNSET),
    )
    lacking = [f"{root}.{size}" for size in SIZES if entered.get(size) is None]
    if lacking:
        missing.append(Missing(subject=f"{end} bar's rate by its dimensions", fields=lacking))
        return answer
    try:
        torsion = torsion_rate(
            outer_diameter_in=entered["outer_diameter_in"],
            length_in=entered["active_length_in"],
            inner_diameter_in=entered.get("inner_diameter_in", 0.0),
        )
    except ValueError as error:
        missing.append(Missing(subject=f"{end} bar's rate by its dimensions", fields=[root], why=str(error)))
        return answer
    reader.assume(
        f"The {end} bar's rate by its dimensions is that of steel, at the arms' ends, arms stiff; at the wheels it is"
        " less by the square of how far an end moves per inch of wheel"
    )
    made = bar_rate(
        torsion_in_lb_per_rad=torsion, arm_left_in=entered["arm_left_in"], arm_right_in=entered["arm_right_in"]
    )
    answer.twist_in_lb_per_rad = rounded(made.twist_in_lb_per_rad)
    answer.left_end_lb_per_in, answer.right_end_lb_per_in = rounded(made.left_lb_per_in), rounded(made.right_lb_per_in)
    return answer
