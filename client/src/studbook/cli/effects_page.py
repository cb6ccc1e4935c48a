"""What a change does, on a page a crew chief reads at a glance: the sentences, then the figures, then how sure."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from msgspec import UNSET, UnsetType

from studbook.cli.chart import ChartLine, chart
from studbook.cli.diff import changes
from studbook.cli.environment import bold
from studbook.cli.figures import AXLE, CORNER
from studbook.cli.front_page import axis_spreads, closing, limits
from studbook.cli.printing import table, wrapped
from studbook.cli.scales_page import on_scales
from studbook.cli.subjects_page import subjects
from studbook.wire.answers import Adjustment, AxleEffect, CornerEffect, Effects, TravelCurve

CORNERS: Final = {"lf": "LEFT FRONT", "rf": "RIGHT FRONT"}
STAGES: Final = {
    "before": "before",
    "springs_hold": "as fitted,\nspring held",
    "height_restored": "as fitted,\nheight back",
    "restored": "put right",
    "all_restored": "bump steer\nput right too",
}
"""As fitted twice (the spring keeps its length; the perch is turned until the wheel is back), then put right twice."""

NOT_SHOWN: Final = ("kingpin deg", "swing arm in", "motion ratio", "wheel rate lb/in", "anti-dive percent")


def effects_page(answer: Effects, *, changes_told: bool = False) -> list[str]:
    """Lay an answer out.

    Args:
        answer: what the service said.
        changes_told: the changes were printed already.
    """
    page = [bold(line) for sentence in answer.headline for line in wrapped(sentence)]
    if answer.changes and not changes_told:
        page += ["", *changes(answer.changes)]
    for name, title in CORNERS.items():
        corner: CornerEffect | UnsetType = getattr(answer, name)
        if isinstance(corner, CornerEffect):
            page += ["", *_corner(title, corner)]
    if isinstance(answer.axle, AxleEffect):
        page += ["", *_stages("FRONT AXLE", answer.axle, AXLE)]
    if answer.on_scales is not UNSET and (lines := on_scales(answer.on_scales)):
        page += ["", *lines]
    page += subjects([each for each in answer.subjects if each.subject != "loads" or answer.on_scales is UNSET])
    return page + closing(answer.missing, answer.assumptions, answer.cautions)


def _corner(title: str, corner: CornerEffect) -> list[str]:
    if not corner.adjustments and not corner.ball_moves and corner.height_restored == corner.before:
        return [f"{title}: as it was."]
    figures = {name: cell for name, cell in CORNER.items() if name not in NOT_SHOWN}
    page = _stages(title, corner, figures) + _put_right(corner.adjustments)
    implied = {each.text for each in (corner.implied_before, corner.implied_after) if each is not UNSET}
    page += [line for each in (*corner.ball_moves, *sorted(implied)) for line in wrapped(each, indent="  ")]
    page += axis_spreads(corner.axis_spread) + limits(corner.limits)
    return [*page, "", *_camber(corner)]


def _stages(title: str, effect: CornerEffect | AxleEffect, figures: Mapping[str, Callable[[Any], str]]) -> list[str]:
    """Set the stages of a change side by side."""
    present = {stage: name for stage, name in STAGES.items() if getattr(effect, stage) is not UNSET}
    rows = [[name, *(cell(getattr(effect, stage)) for stage in present)] for name, cell in figures.items()]
    lines = table([title, *present.values()], rows, right=frozenset(range(1, len(present) + 1)))
    head = len(lines) - len(rows)
    return [*(bold(line) for line in lines[:head]), *lines[head:]]


def _put_right(adjustments: Sequence[Adjustment]) -> list[str]:
    if not adjustments:
        return []
    page = ["", "To put it right:"]
    for each in adjustments:
        page += wrapped(each.text, indent=" " * 21, first=f"  {each.setting.replace('_', ' '):<17}  ")
    return [*page, ""]


def _camber(corner: CornerEffect) -> list[str]:
    after, name = corner.height_restored_curve, "as fitted with the height back"
    for curve, called in ((corner.restored_curve, "put right"), (corner.all_restored_curve, "all put right")):
        if isinstance(curve, TravelCurve):
            after, name = curve, called
    before = corner.before_curve
    curves = [
        ChartLine("o", "before", before.travel_in, before.camber_deg),
        ChartLine("x", name, after.travel_in, after.camber_deg),
    ]
    return chart("Camber deg", curves, across="wheel travel in, + up")
