"""The sheet for the wall: what one step of each adjustment does on the scales.

It has no formulas of its own: each row is its edits put through `rescaled_by` and `attitude_answer`, as a what-if does,
and carries those edits. A pressure has a row only where the tire's growth per psi was measured.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

from msgspec import UNSET

from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps
from studbook.wire.answers import Missing
from studbook.wire.around_scales import Sensitivity, SensitivityAnswer, SensitivityQuery
from studbook.wire.attitude import AttitudeAnswer
from studbook.wire.entries import Edit
from studbook_service.engine import VERSION
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.wheel import toe_in
from studbook_service.translate import cautions
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.document import END, FRONT, DocumentReader
from studbook_service.translate.errors import Unanswerable
from studbook_service.translate.rescaling import (
    OnItsWheels,
    car_on_its_wheels,
    height_places,
    on_scales_answer,
    rescaled_by,
    weights,
)
from studbook_service.translate.states import TOE_BASE_IN, rounded
from studbook_service.translate.stud_stock import ARMS
from studbook_service.translate.words import CORNER, inches


class SensitivityStep(NamedTuple):
    """One step of one adjustment: how far some fields move; or the fields it lacks, or why it is left out."""

    kind: Literal["perch", "shims", "stud", "pressure"]
    where: str
    what: str
    moves: Mapping[str, float]
    lacking: Sequence[str] = ()
    why: str = ""

    def label(self) -> str:
        """Say where and what."""
        return f"{self.where} {self.kind}: {self.what}"


def sensitivity_answer(tree: Tree, *, origins: Mapping[str, Tree], request: SensitivityQuery) -> SensitivityAnswer:
    """Try one step after the other on a car and put it back on the scales each time.

    Each row has the figures that a what-if with the row's edits gives, on the scales and for the car's alignment.

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: nothing can be computed, and why.
    """
    car = car_on_its_wheels(tree, origins=origins)
    reader = car.whole.reader
    answer = SensitivityAnswer(
        engine=VERSION,
        stands=weights(car.loads_lb),
        heights_at="over the wheels" if height_places(reader) is None else "where the ride heights are read",
        steps=[],
        assumptions=reader.assumed,
        missing=[],
        cautions=list(cautions.LOADS),
    )
    stands = _stands(tree, origins, answer)
    for step in _steps(reader, request):
        if step.lacking or step.why:
            answer.missing.append(Missing(subject=step.label(), fields=[*step.lacking], why=step.why or UNSET))
            continue
        try:
            answer.steps.append(_row(step, car, tree, origins, stands))
        except Unanswerable as error:
            answer.missing += _missing(step.label(), error)
    if any(step.kind == "pressure" for step in answer.steps):
        reader.assume("a pressure changes the tire's size alone: its rate stays as recorded")
    return answer


def _stands(tree: Tree, origins: Mapping[str, Tree], answer: SensitivityAnswer) -> AttitudeAnswer | None:
    """Stand the car on the ground for its camber and toe; where that cannot be, `missing` says why."""
    try:
        stands = attitude_answer(tree, origins=origins)
    except Unanswerable as error:
        answer.missing += _missing("camber and toe", error)
        return None
    answer.assumptions += [each for each in stands.assumptions if each not in answer.assumptions]
    return stands


def _missing(subject: str, error: Unanswerable) -> list[Missing]:
    return [Missing(subject=subject, fields=each.fields, why=each.why) for each in error.missing_for(subject)]


def _row(
    step: SensitivityStep, car: OnItsWheels, tree: Tree, origins: Mapping[str, Tree], stands: AttitudeAnswer | None
) -> Sensitivity:
    reader = car.whole.reader
    edits = {path: round(reader.get(path) + by, 6) for path, by in step.moves.items()}
    after: Tree = canonical(apply([FieldChange(steps(path), after=value) for path, value in edits.items()], tree))
    new = car_on_its_wheels(after, origins=origins)
    found = on_scales_answer(rescaled_by(car.whole, new.whole, car.loads_lb), car.loads_lb, new.whole.reader)
    row = Sensitivity(
        kind=step.kind,
        where=step.where,
        step=step.what,
        edits=[Edit(path=path, value=value) for path, value in edits.items()],
        loads=found.change,
        heights=found.rise if found.ride_height is UNSET else found.ride_height,
        cross_percent=rounded(found.after.cross_percent - found.before.cross_percent),
        bite_lb=rounded(found.after.bite_lb - found.before.bite_lb),
    )
    if stands is not None:
        _align(row, stands, attitude_answer(after, origins=origins))
    return row


def _align(row: Sensitivity, before: AttitudeAnswer, after: AttitudeAnswer) -> None:
    for name in FRONT:
        was, now = getattr(before.ride_height, name), getattr(after.ride_height, name)
        setattr(row, f"{name}_camber_deg", rounded(now.camber_deg - was.camber_deg))
        setattr(row, f"{name}_toe_deg", rounded(now.toe_deg - was.toe_deg))
        then, there = (toe_in(toe_deg=each.toe_deg, diameter_in=TOE_BASE_IN) for each in (was, now))
        setattr(row, f"{name}_toe_in", rounded(there - then))


def _steps(reader: DocumentReader, request: SensitivityQuery) -> Iterator[SensitivityStep]:
    for name in WHEELS:
        yield _perch(reader, name, request.perch_turns)
    for corner in FRONT:
        yield _shims(reader, corner, request.shim_in)
    for corner in FRONT:
        for arm in ARMS:
            path = f"setup.front.{corner}.{arm}_stud.length_in"
            longer = f"{inches(request.stud_in)} longer"
            yield SensitivityStep(
                "stud", f"{CORNER[corner]} {arm}", longer, {path: request.stud_in}, reader.unrecorded(path)
            )
    for name in WHEELS:
        yield _pressure(reader, name, request.pressure_psi)


def _perch(reader: DocumentReader, name: str, turns: float) -> SensitivityStep:
    perch = f"setup.{END[name]}.{name}.spring.perch"
    showing, pitch = f"{perch}.thread_showing_in", f"{perch}.in_per_turn"
    what = f"{turns:g} turn{'s' * (turns != 1)} in (tighten, raises)"
    return SensitivityStep(
        "perch", CORNER[name], what, {showing: turns * (reader.get(pitch) or 0.0)}, reader.unrecorded(showing, pitch)
    )


def _shims(reader: DocumentReader, name: str, thickness_in: float) -> SensitivityStep:
    """Give equal shims at both upper pivots, unless the camber of this corner is set otherwise."""
    root = f"setup.front.{name}"
    paths = [f"{root}.upper_shims.{end}_in" for end in ("front", "rear")]
    way = reader.get(f"{root}.upper_shims.adding_moves_pivot")
    what = f"{inches(thickness_in)} more at both upper pivots" + (f", moves them {way}" if way else "")
    by = reader.get(f"{root}.adjusters.camber") or "upper_shims"
    if by != "upper_shims":
        return SensitivityStep("shims", CORNER[name], what, {}, why=f"its camber is set by {by.replace('_', ' ')}")
    return SensitivityStep("shims", CORNER[name], what, dict.fromkeys(paths, thickness_in), reader.unrecorded(*paths))


def _pressure(reader: DocumentReader, name: str, psi: float) -> SensitivityStep:
    """Give a pressure that changes the tire's size by its measured growth."""
    tire = f"setup.{END[name]}.{name}.tire"
    pressure, rollout, grows = (f"{tire}.{leaf}" for leaf in ("pressure_cold_psi", "rollout_in", "rollout_in_per_psi"))
    moves = {pressure: psi, rollout: psi * (reader.get(grows) or 0.0)}
    return SensitivityStep(
        "pressure", CORNER[name], f"{psi:g} psi more", moves, reader.unrecorded(pressure, rollout, grows)
    )
