"""The table of effects: the first figures of what each revision's change does."""

from collections.abc import Iterable, Iterator
from typing import Any, Final

import msgspec
from msgspec import UNSET

from studbook.wire.answers import CornerEffect, Effects
from studbook.wire.export import Column, Parts, Row
from studbook.wire.figures import numbers
from studbook_service.night.times import moment
from studbook_service.tables.definition import TableDefinition, TableEntry, filled, texts
from studbook_service.tables.setups import car_and_sheet, first_parent
from studbook_service.translate.subjects import HEADLINES

STATES: Final = ("springs_hold", "height_restored", "restored", "all_restored")
FRONT: Final = (
    "travel_in",
    "camber_deg",
    "caster_deg",
    "toe_deg",
    "camber_gain_deg_per_in",
    "bump_steer_deg_per_in",
)
AXLE: Final = ("roll_center.height_in", "roll_center.y_in")
NOTICED: Final = 5e-7


class EffectRows(msgspec.Struct):
    """The cells of the rows of one change."""

    rows: list[Row]


def effect_rows(answer: Effects) -> EffectRows:
    """Give the rows of an answer: figures that move, and what could not be computed."""
    rows = [*_front(answer), *_scales(answer), *_subjects(answer)]
    for missing in answer.missing:
        why = missing.why or f"needs {', '.join(missing.fields)}"
        rows.append({"subject": missing.subject, "missing": why})
    return EffectRows(rows)


def no_effects(why: str) -> EffectRows:
    """Give the row of a change without effects, and why."""
    return EffectRows([{"missing": why}])


def pending_effects(why: str) -> EffectRows:
    """Give the row of a change whose effects are not computed yet, and why."""
    return EffectRows([{"pending": True, "missing": why}])


def _front(answer: Effects) -> Iterator[Row]:
    for name in ("lf", "rf"):
        corner = getattr(answer, name)
        if isinstance(corner, CornerEffect):
            yield from _states(f"front.{name}", corner, FRONT)
    if answer.axle is not UNSET:
        yield from _states("front.axle", answer.axle, AXLE)


def _states(subject: str, effect: Any, figures: Iterable[str]) -> Iterator[Row]:
    before = numbers(effect.before)
    for state in STATES:
        if (answer := getattr(effect, state, UNSET)) is not UNSET:
            after = numbers(answer)
            for figure in figures:
                was, now = before.get(figure), after.get(figure)
                if was and now and abs(now[0] - was[0]) > NOTICED:
                    yield _row(subject, figure, was[1], was[0], now[0]) | {"state": state}


def _scales(answer: Effects) -> Iterator[Row]:
    if answer.on_scales is UNSET:
        return
    before, after = numbers(answer.on_scales.before), numbers(answer.on_scales.after)
    for figure, (was, unit) in before.items():
        now = after[figure][0]
        if abs(now - was) > NOTICED:
            yield _row("scales", figure, unit, was, now)


def _subjects(answer: Effects) -> Iterator[Row]:
    for subject in answer.subjects:
        first = HEADLINES.get(subject.subject, {})
        for figure in subject.figures:
            if figure.name in first:
                before = None if figure.before is UNSET else figure.before
                after = None if figure.after is UNSET else figure.after
                yield _row(subject.subject, figure.name, figure.unit, before, after)


def _row(subject: str, figure: str, unit: str, before: float | None, after: float | None) -> Row:
    difference = None if before is None or after is None else round(after - before, 6)
    return filled(subject=subject, figure=figure, unit=unit, before=before, after=after, difference=difference)


def rows_of(each: TableEntry, effects: EffectRows) -> Iterable[Parts]:
    """Make a revision's rows."""
    entry = each.entry
    head = filled(**car_and_sheet(entry.line), since=first_parent(entry), at=moment(entry.at_ms))
    return ((head, row) for row in effects.rows)


EFFECTS: Final = TableDefinition(
    name="effects",
    about="what each revision does against its first parent: the first figures of every subject, those that move; "
    "at the front and on the scales as fitted and after putting it right",
    kinds=("sheet",),
    own=(
        *texts("car", "sheet"),
        Column(name="since", type="text", about="the first parent's id"),
        Column(name="at", type="time", about="by the author's clock"),
        *texts("subject", "figure"),
        Column(name="state", type="text", about="at the front: springs_hold is as fitted, then what was put right"),
        Column(name="unit", type="text"),
        Column(name="before", type="number", about="in `unit`"),
        Column(name="after", type="number", about="in `unit`"),
        Column(name="difference", type="number", about="after less before, in `unit`"),
        Column(name="missing", type="text", about="why there is no figure"),
        Column(name="pending", type="flag", about="the revision's effects are not computed yet: ask again"),
    ),
    rows=lambda _: (),
    key=("subject", "figure", "state"),
    bodies=False,
)
