"""The sheet for the wall: what one step of each thing does on the scales, each step as a what-if answers it."""

from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

from msgspec import UNSET

from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps
from studbook.wire.answers import Missing
from studbook.wire.around_scales import Sensitivity, SensitivityAnswer, SensitivityQuery
from studbook.wire.attitude import AttitudeAnswer
from studbook.wire.entries import Edit
from studbook.wire.scales import OnScales, WheelInches
from studbook_service.engine import VERSION
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.wheel import toe_in
from studbook_service.translate import cautions
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.bars_and_stops import END
from studbook_service.translate.document import CORNERS, Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError, FieldsUnfitError
from studbook_service.translate.rescaling import (
    OnItsWheels,
    car_on_its_wheels,
    height_places,
    rescaled_by,
    told,
    weights,
)
from studbook_service.translate.states import TOE_BASE_IN, rounded
from studbook_service.translate.words import CORNER, inches

ARMS: tuple[Literal["upper", "lower"], ...] = ("upper", "lower")


class Step(NamedTuple):
    """One step of one thing: how far some fields move, or for want of which fields it is not known."""

    kind: Literal["perch", "shims", "stud", "pressure"]
    where: str
    what: str
    moves: Mapping[str, float]
    lacking: tuple[str, ...] = ()
    why: str = ""

    def named(self) -> str:
        """Say where and what."""
        return f"{self.where} {self.kind}: {self.what}"


def sensitivity_answer(tree: Tree, *, origins: Mapping[str, Tree], asked: SensitivityQuery) -> SensitivityAnswer:
    """Put one step after the other on a car and each time back on the scales.

    Args:
        tree: the setup document.
        origins: where readings were entered: alignment by corner, `scales`, `ride_height`.
        asked: how large the steps are.

    Returns:
        A row for each step: the same figures that a what-if with the row's edits gives, on the scales and for the car
        as it then stands. What cannot be told is in `missing`.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: nothing can be told, and why.
    """
    car = car_on_its_wheels(tree, origins=origins)
    page = car.whole.page
    answer = SensitivityAnswer(
        engine=VERSION,
        stands=weights(car.loads_lb),
        heights_at="over the wheels" if height_places(page) is None else "where the ride heights are read",
        steps=[],
        assumptions=page.assumed,
        missing=[],
        cautions=list(cautions.LOADS),
    )
    stands = _stands(tree, origins, answer)
    for step in _steps(page, asked):
        if step.lacking or step.why:
            answer.missing.append(Missing(subject=step.named(), fields=list(step.lacking), why=step.why or UNSET))
            continue
        try:
            answer.steps.append(_row(step, car, tree, origins, stands))
        except FieldsMissingError as error:
            answer.missing += [Missing(subject=step.named(), fields=each.fields) for each in error.missing]
        except (CannotCloseError, FieldsUnfitError) as error:
            answer.missing.append(Missing(subject=step.named(), fields=[], why=str(error)))
    if any(step.kind == "pressure" for step in answer.steps):
        page.assume("a pressure is felt through the tire's size alone: its rate stays as recorded")
    return answer


def _stands(tree: Tree, origins: Mapping[str, Tree], answer: SensitivityAnswer) -> AttitudeAnswer | None:
    """Stand the car on the ground for its camber and toe; where that is not known, say why."""
    try:
        stands = attitude_answer(tree, origins=origins)
    except FieldsMissingError as error:
        answer.missing += [Missing(subject="camber and toe", fields=each.fields) for each in error.missing]
    except (CannotCloseError, FieldsUnfitError) as error:
        answer.missing.append(Missing(subject="camber and toe", fields=[], why=str(error)))
    else:
        answer.assumptions += [each for each in stands.assumptions if each not in answer.assumptions]
        return stands
    return None


def _row(
    step: Step, car: OnItsWheels, tree: Tree, origins: Mapping[str, Tree], stands: AttitudeAnswer | None
) -> Sensitivity:
    page = car.whole.page
    edits = {path: round(page.get(path) + by, 6) for path, by in step.moves.items()}
    after: Tree = canonical(apply([FieldChange(steps(path), after=value) for path, value in edits.items()], tree))
    new = car_on_its_wheels(after, origins=origins)
    found = told(rescaled_by(car.whole, new.whole, car.loads_lb), car.loads_lb, new.whole.page)
    row = Sensitivity(
        kind=step.kind,
        where=step.where,
        step=step.what,
        edits=[Edit(path=path, value=value) for path, value in edits.items()],
        loads=found.change,
        heights=_heights(found),
        cross_percent=rounded(found.after.cross_percent - found.before.cross_percent),
        bite_lb=rounded(found.after.bite_lb - found.before.bite_lb),
    )
    if stands is not None:
        _align(row, stands, attitude_answer(after, origins=origins))
    return row


def _heights(found: OnScales) -> WheelInches:
    return found.rise if found.ride_height is UNSET else found.ride_height


def _align(row: Sensitivity, before: AttitudeAnswer, after: AttitudeAnswer) -> None:
    for name in CORNERS:
        was, now = getattr(before.ride_height, name), getattr(after.ride_height, name)
        setattr(row, f"{name}_camber_deg", rounded(now.camber_deg - was.camber_deg))
        setattr(row, f"{name}_toe_deg", rounded(now.toe_deg - was.toe_deg))
        then, there = (toe_in(toe_deg=each.toe_deg, diameter_in=TOE_BASE_IN) for each in (was, now))
        setattr(row, f"{name}_toe_in", rounded(there - then))


def _steps(page: Document, asked: SensitivityQuery) -> Iterator[Step]:
    for name in WHEELS:
        yield _perch(page, name, asked.perch_turns)
    for corner in CORNERS:
        yield _shims(page, corner, asked.shim_in)
    for corner in CORNERS:
        for arm in ARMS:
            path = f"setup.front.{corner}.{arm}_stud.length_in"
            longer = f"{inches(asked.stud_in)} longer"
            yield Step("stud", f"{CORNER[corner]} {arm}", longer, {path: asked.stud_in}, _lacking(page, path))
    for name in WHEELS:
        yield _pressure(page, name, asked.pressure_psi)


def _perch(page: Document, name: str, turns: float) -> Step:
    perch = f"setup.{END[name]}.{name}.spring.perch"
    showing, pitch = f"{perch}.thread_showing_in", f"{perch}.in_per_turn"
    what = f"{turns:g} turn{'s' * (turns != 1)} in (tighten, raises)"
    return Step(
        "perch", CORNER[name], what, {showing: turns * (page.get(pitch) or 0.0)}, _lacking(page, showing, pitch)
    )


def _shims(page: Document, name: str, thickness_in: float) -> Step:
    """Equal shims at both upper pivots; not where the corner has another actuator of camber."""
    root = f"setup.front.{name}"
    paths = [f"{root}.upper_shims.{end}_in" for end in ("front", "rear")]
    way = page.get(f"{root}.upper_shims.adding_moves_pivot")
    what = f"{inches(thickness_in)} more at both upper pivots" + (f", moves them {way}" if way else "")
    by = page.get(f"{root}.adjusters.camber") or "upper_shims"
    if by != "upper_shims":
        return Step("shims", CORNER[name], what, {}, why=f"its camber is set by {by.replace('_', ' ')}")
    return Step("shims", CORNER[name], what, dict.fromkeys(paths, thickness_in), _lacking(page, *paths))


def _pressure(page: Document, name: str, psi: float) -> Step:
    """A pressure is felt through the tire's size alone: what it grows by is measured, or not known."""
    tire = f"setup.{END[name]}.{name}.tire"
    pressure, rollout, grows = (f"{tire}.{leaf}" for leaf in ("pressure_cold_psi", "rollout_in", "rollout_in_per_psi"))
    moves = {pressure: psi, rollout: psi * (page.get(grows) or 0.0)}
    return Step("pressure", CORNER[name], f"{psi:g} psi more", moves, _lacking(page, pressure, rollout, grows))


def _lacking(page: Document, *paths: str) -> tuple[str, ...]:
    return tuple(path for path in paths if page.get(path) is None)
