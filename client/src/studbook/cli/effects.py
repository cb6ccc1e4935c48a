"""`studbook effects REF`."""

from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Final

from cyclopts import Parameter
from msgspec import UNSET, UnsetType

from studbook.cli.chart import ChartLine, chart
from studbook.cli.connection import open_book_of
from studbook.cli.diff import change_table
from studbook.cli.front import AXLE, CORNER, axis_spreads, limit_lines
from studbook.cli.number_format import fixed
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import figure_table, headline, page_end, print_answer, side_by_side, wrapped
from studbook.cli.weights import on_scales
from studbook.wire.answers import Adjustment, AxleEffect, CornerEffect, Effects, TravelCurve
from studbook.wire.figures import SubjectEffect


def effects(
    ref: ReadRef,
    /,
    *,
    since: Annotated[str | None, Parameter(help="Against which revision; its first parent, if not given.")] = None,
    json: Json = False,
) -> None:
    """Show what a change does to the car: as fitted, and after the front is put right."""
    refs = [ref] if since is None else [ref, since]
    with open_book_of(*refs) as (book, [there, *before]):
        answer = book.effects(there, since=before[0] if before else None)
    print_answer(answer, effects_page, json=json)


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


def effects_page(answer: Effects, *, show_changes: bool = True) -> list[str]:
    """Lay an answer out.

    Args:
        answer: the effects.
        show_changes: list the changes too; not where they were printed already.
    """
    page = headline(answer.headline)
    if answer.changes and show_changes:
        page += ["", *change_table(answer.changes)]
    for name, title in CORNERS.items():
        corner: CornerEffect | UnsetType = getattr(answer, name)
        if isinstance(corner, CornerEffect):
            page += ["", *_corner(title, corner)]
    if isinstance(answer.axle, AxleEffect):
        page += ["", *_stages("FRONT AXLE", answer.axle, AXLE)]
    if answer.on_scales is not UNSET and (lines := on_scales(answer.on_scales)):
        page += ["", *lines]
    page += subject_tables([each for each in answer.subjects if each.subject != "loads" or answer.on_scales is UNSET])
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def _corner(title: str, corner: CornerEffect) -> list[str]:
    if not corner.adjustments and not corner.ball_moves and corner.height_restored == corner.before:
        return [f"{title}: as it was."]
    figures = {name: cell for name, cell in CORNER.items() if name not in NOT_SHOWN}
    page = _stages(title, corner, figures) + _put_right(corner.adjustments)
    implied = {each.text for each in (corner.implied_before, corner.implied_after) if each is not UNSET}
    page += [line for each in (*corner.ball_moves, *sorted(implied)) for line in wrapped(each, indent="  ")]
    page += axis_spreads(corner.axis_spread) + limit_lines(corner.limits)
    return [*page, "", *_camber(corner)]


def _stages(title: str, effect: CornerEffect | AxleEffect, figures: Mapping[str, Callable[[Any], str]]) -> list[str]:
    """Set the stages of a change side by side."""
    stages = {name: getattr(effect, stage) for stage, name in STAGES.items() if getattr(effect, stage) is not UNSET}
    return side_by_side(title, stages, figures)


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


DECIMALS: Final = 3
NOTICED: Final = 0.005
MOST: Final = 16


def subject_tables(effects: Sequence[SubjectEffect]) -> list[str]:
    """Lay out every subject that moves, and name those that do not."""
    page = []
    for effect in effects:
        if lines := subject_table(effect, most=MOST):
            page += ["", *lines]
    still = [_words(effect.subject) for effect in effects if not _rows(effect)]
    return [*page, "", f"As before: {', '.join(still)}."] if still else page


def subject_table(effect: SubjectEffect, *, most: int | None = None) -> list[str]:
    """Set a subject's figures before and after side by side; none where nothing moves.

    Args:
        effect: the subject.
        most: lines at the most; None for all.
    """
    rows = _rows(effect)
    if not rows:
        return []
    more = len(rows) - len(rows[:most])
    lines = figure_table([_words(effect.subject).upper(), "before", "after", "change"], rows[:most])
    return [*lines, *([f"  and {more} more: see --json"] if more else [])]


def _rows(effect: SubjectEffect) -> list[list[str]]:
    rows = []
    for figure in effect.figures:
        if figure.difference is UNSET or abs(figure.difference) >= NOTICED:
            name = _words(figure.name.removeprefix("now.").replace(".", " "))
            change = "" if figure.difference is UNSET else f"{figure.difference:+.{DECIMALS}f}"
            rows.append([f"  {name}", fixed(figure.before, DECIMALS), fixed(figure.after, DECIMALS), change])
    return rows


def _words(name: str) -> str:
    return name.replace("_", " ")
