"""A car that came back, before anything is touched: its readings, against what the book expects.

A check is a record of readings; its findings are computed whenever somebody looks, with the tolerances and play limits
of then. The check keeps the revision that the car left with, so an outing entered late changes no old check.
"""

from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import diff
from studbook.history.leaves import at, steps
from studbook.wire.answers import Missing
from studbook.wire.around_scales import Finding, ReturnedAnswer
from studbook.wire.shop import Tolerances
from studbook_service.engine import VERSION
from studbook_service.engine.car import percentages
from studbook_service.engine.loads import Ballast, ChassisChange, on_scales
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import toe_in
from studbook_service.translate import cautions
from studbook_service.translate.aboard import PLACES, Basis, Load, differing, on_dirt
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.document import FRONT, REAR, DocumentReader
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.front_end import front_end
from studbook_service.translate.rescaling import OnItsWheels, height_places, on_its_wheels, unscaled
from studbook_service.translate.states import TOE_BASE_IN, front_states, pose_readings, rounded
from studbook_service.translate.tolerances import TOLERANCES, tolerances, whose_tolerances
from studbook_service.translate.whole_car import WholeCar, whole_car
from studbook_service.translate.words import CORNER

JOINTS: Final = ("upper_joint", "lower_joint", "upper_pivot", "lower_pivot", "tie_inner", "tie_outer")


class CheckReadings(NamedTuple):
    """What a check is made of.

    Attributes:
        measured: as read.
        own: the team's tolerances over the defaults.
        play_limits: of the parts that are fitted, in, by corner and joint.
    """

    measured: Tree
    own: Tolerances
    play_limits: Mapping[tuple[str, str], float]


class LeftRevision(NamedTuple):
    """The revision that the car left with, and how that is known."""

    revision: str
    chosen: str


class Expected(NamedTuple):
    """What the book expects of one reading; the value is None where it has nothing to compare."""

    value: float | None
    recorded: bool = False


def as_returned_answer(
    tree: Tree, *, origins: Mapping[str, Tree], left: LeftRevision, given: CheckReadings
) -> ReturnedAnswer:
    """Compare every reading of a car that came back with the book.

    Args:
        tree: the document that the car left with.
        origins: where its readings were entered: alignment by corner, `scales`, `ride_height`, `lr_lead`, `rr_lead`.
        left: which revision that is.
        given: the readings, the tolerances and the play limits.

    Raises:
        FieldsUnfit: the document holds a value that nothing can be computed from.
    """
    answer = ReturnedAnswer(
        headline=[],
        revision=left.revision,
        chosen=left.chosen,
        engine=VERSION,
        findings=[],
        assumptions=[whose_tolerances(given.own)],
        missing=[],
        cautions=list(cautions.RETURNED),
    )
    check = _CheckOfCar(answer, tree, origins, given)
    for findings in (check.scales, check.heights, check.alignment, check.lead, check.play):
        answer.findings += findings()
    beyond = [each.text for each in answer.findings if each.beyond]
    answer.headline = [
        f"{len(beyond)} of {len(answer.findings)} readings beyond tolerance." if beyond else "All as it was left.",
        *beyond,
    ]
    if not answer.findings:
        answer.headline = ["There is no reading to compare with the book."]
    return answer


class _CheckOfCar:
    """One check under way."""

    def __init__(self, answer: ReturnedAnswer, tree: Tree, origins: Mapping[str, Tree], given: CheckReadings) -> None:
        self.answer, self.tree, self.origins, self.given = answer, tree, origins, given
        self.left, self.read = DocumentReader(tree=tree), DocumentReader(tree={"measured": given.measured})
        self.tolerances = tolerances(given.own)
        self.basis: Basis = given.measured.get("basis") or {}
        if on_dirt(self.basis):
            answer.assumptions.append("on a dirt floor pads are good to 15 lb and strings to 1/16 in (common practice)")
        self.wheels: OnItsWheels | WholeCar | FieldsMissing | CannotClose
        try:
            self.wheels = on_its_wheels(tree, origins=origins)
        except (FieldsMissing, CannotClose) as error:
            self.wheels = error

    def scales(self) -> Iterator[Finding]:
        """Compare the weights: by corner, in total, and the cross."""
        read = [self.read.get(f"measured.scales.{name}_lb") for name in WHEELS]
        if all(value is None for value in read):
            return
        found, recorded = self.wheels, self._recorded("scales")
        then = [self.left.get(f"measured.scales.{name}_lb") for name in WHEELS]
        if isinstance(found, OnItsWheels):
            self.answer.since, self.answer.left_out = list(found.since.causes), list(found.since.left_out)
            expected, total = self._weights(found)
        elif not recorded and None not in then:
            expected, total = self._as_scaled(np.array(then, float))
        else:
            self._note_unweighed()
            return
        for name, value, should in zip(WHEELS, read, expected, strict=True):
            if value is not None:
                yield self._finding("corner", f"{CORNER[name]} weight", value, Expected(_known(should), recorded))
        if None not in read:
            loads = np.array(read, float)
            cross, should = (float(percentages(each).cross_percent) for each in (loads, expected))
            yield self._finding("total", "total weight", float(loads.sum()), Expected(total, recorded))
            yield self._finding("cross", "cross weight", cross, Expected(_known(should), recorded))

    def heights(self) -> Iterator[Finding]:
        """Compare the ride heights."""
        places, rise = height_places(self.left), None
        if isinstance(self.wheels, OnItsWheels) and places is not None:
            rise = self.wheels.since_heights.rise_at(x_in=places[0], y_in=places[1])
        recorded = self._recorded("ride_height")
        for index, name in enumerate(WHEELS):
            read = self.read.get(f"measured.ride_height.{name}.height_in")
            if read is None:
                continue
            paths = [f"{part}.ride_height.{name}.height_in" for part in ("measured", "survey")]
            then = next((value for path in paths if (value := self.left.get(path)) is not None), None)
            if then is None:
                self.answer.missing.append(Missing(subject=f"{CORNER[name]} height", fields=paths))
            elif recorded and rise is None:
                fields = [f"survey.ride_height.{name}.at_in"] if places is None else []
                why = UNSET if fields else "the changes recorded since move it by an amount that is not known"
                self.answer.missing.append(Missing(subject=f"{CORNER[name]} height", fields=fields, why=why))
            else:
                expected = Expected(float(then + (0.0 if rise is None else rise[index])), recorded)
                yield self._finding("height", f"{CORNER[name]} height", read, expected)

    def alignment(self) -> Iterator[Finding]:
        """Compare camber, caster and toe of the front wheels, and total toe."""
        root = "measured.front"
        read = {
            (name, setting): value
            for setting in ("camber", "caster", "toe")
            for name in FRONT
            if (value := self.read.get(f"{root}.{name}.alignment.{setting}_deg")) is not None
        }
        expected = self._aligned() if read else {}
        toes: dict[str, tuple[float, float]] = {}
        for (name, setting), value in read.items():
            label, recorded = f"{CORNER[name]} {setting}", self._recorded(name)
            should = expected.get((name, setting))
            if should is None and not recorded:
                should = self.left.get(f"{root}.{name}.alignment.{setting}_deg")
            if setting != "toe":
                yield self._finding(setting, label, value, Expected(should, recorded))
                continue
            inch = float(toe_in(toe_deg=value, diameter_in=TOE_BASE_IN))
            wanted = None if should is None else float(toe_in(toe_deg=should, diameter_in=TOE_BASE_IN))
            if wanted is not None:
                toes[name] = inch, wanted
            yield self._finding("toe", label, inch, Expected(wanted, recorded))
        if len(toes) == len(FRONT):
            inch, wanted = (sum(each[side] for each in toes.values()) for side in (0, 1))
            recorded = any(map(self._recorded, FRONT))
            yield self._finding("toe", "total toe", inch, Expected(wanted, recorded))

    def lead(self) -> Iterator[Finding]:
        """Compare the lead of the rear wheels."""
        for index, name in enumerate(REAR):
            path = f"rear.{name}.lead_in"
            read, then = self.read.get(f"measured.{path}"), self.left.get(f"measured.{path}")
            if read is None:
                continue
            recorded, moved = self._recorded(f"{name}_lead"), 0.0
            if then is None:
                then, recorded = self.left.get(f"setup.{path}"), False
            elif recorded:
                moved = self._lead_change(index, self.origins[f"{name}_lead"])
            value = None if then is None else float(then + moved)
            yield self._finding("lead", f"{CORNER[name]} lead", read, Expected(value, recorded))

    def play(self) -> Iterator[Finding]:
        """Compare the play of the front joints with what it was, and with the limit of the part that is fitted."""
        for name in FRONT:
            for joint in JOINTS:
                for way in ("axial", "radial"):
                    path = f"measured.front.{name}.{joint}.play_{way}_in"
                    read = self.read.get(path)
                    if read is None:
                        continue
                    label = f"{CORNER[name]} {joint.replace('_', ' ')} {way} play"
                    then = self.left.get(path)
                    found = self._finding("play", label, read, Expected(None if then is None else float(then)))
                    limit = self.given.play_limits.get((name, joint))
                    if limit is not None and read > limit:
                        found.beyond = True
                        found.text = f"{label} {read:.3f} in, its limit is {limit:.3f}: replace it."
                    yield found

    def _finding(self, subject: Any, what: str, read: float, expected: Expected) -> Finding:
        tolerance = TOLERANCES[subject]
        found = Finding(
            what=what, subject=subject, read=rounded(read), unit=tolerance.unit, recorded=expected.recorded, text=""
        )
        if expected.value is not None:
            most = self.tolerances[subject]
            difference = rounded(read - expected.value)
            found.expected, found.difference, found.tolerance = rounded(expected.value), difference, most
            # Play is only ever too much; to a millionth, so that what is just within stays within.
            found.beyond = (difference if subject == "play" else abs(difference)) > most + 1e-6
        found.text = finding_sentence(found)
        return found

    def _weights(self, found: OnItsWheels) -> tuple[Array, float]:
        """Give what the pads should read as the car is checked, NaN where that is not known, and the total."""
        then, loads = self._loads_since()
        nowhere = [each for each in loads if each.at_in is None]
        change = self._change(found, self.basis.get("bar_hooked", then.get("bar_hooked")))
        added = [Ballast(each.weight_lb, *each.at_in) for each in loads if each.at_in is not None]
        standing = on_scales(found.since.car, change._replace(ballast=[*change.ballast, *added]))
        total = float(standing.loads_lb.sum()) + sum(each.weight_lb for each in nowhere)
        if not nowhere:
            return standing.loads_lb, total
        what = " and ".join(f"{each.weight_lb:+.0f} lb of {each.what}" for each in nowhere)
        fields = [PLACES[each.what] for each in nowhere]
        self.answer.missing.append(Missing(subject=f"corner weights with {what}", fields=fields))
        return np.full(4, np.nan), total

    def _as_scaled(self, then_lb: Array) -> tuple[Array, float]:
        """Give the same for a car whose geometry is not known, with nothing changed since it was scaled."""
        _, loads = self._loads_since()
        self.answer.assumptions.append("weights are compared with the scales as read: nothing was recorded since")
        if loads:
            self._note_unweighed()
        return np.full(4, np.nan) if loads else then_lb, float(then_lb.sum()) + sum(each.weight_lb for each in loads)

    def _note_unweighed(self) -> None:
        """Note why the loads at the wheels are not known."""
        if isinstance(self.wheels, WholeCar):
            self.answer.missing += unscaled(self.wheels)
        elif not isinstance(self.wheels, OnItsWheels):
            self.answer.missing += self.wheels.missing_for("scales")

    def _loads_since(self) -> tuple[Basis, list[Load]]:
        """Give the basis of the last scale reading, and the loads that came or went since."""
        then: Basis = at(self.origins.get("scales", self.tree), steps("measured.basis")) or {}
        loads, unknown = differing(self.left, then, self.basis)
        for what in unknown:
            self.answer.assumptions.append(
                f"the {what} is taken as on the scales; it is not recorded for both readings"
            )
        return then, loads

    def _change(self, found: OnItsWheels, linked: bool | None) -> ChassisChange:  # noqa: FBT001 - as recorded, or not
        """Give what was changed since the scales were read, with the bars as they are linked in the check."""
        if linked is not None:
            return found.change_with_bars(hooked=linked)
        if found.whole.bars():
            self.answer.assumptions.append("the anti-roll bars are taken as raced; it is not recorded")
        return found.since.change

    def _aligned(self) -> dict[tuple[str, str], float]:
        """Give camber, caster and toe as the car should stand now, by corner and setting."""
        found: dict[tuple[str, str], float] = {}
        try:
            front = front_end(self.tree, origins=self.origins)
            states = front_states(front, pose_readings(front.pose(), shocks=front.shocks()))
            found |= {
                (name, setting): getattr(state, f"{setting}_deg")
                for name, state in states.items()
                for setting in ("camber", "caster", "toe")
            }
            here = attitude_answer(self.tree, origins=self.origins).ride_height
            found |= {
                (name, setting): getattr(getattr(here, name), f"{setting}_deg")
                for name in FRONT
                for setting in ("camber", "toe")
            }
        except (FieldsMissing, CannotClose) as error:
            if found:
                self.answer.assumptions.append("camber and toe are those at the heights read last")
            else:
                self.answer.missing += error.missing_for("alignment")
        return found

    def _lead_change(self, index: int, origin: Tree) -> float:
        """Give the lead change from the rods that were changed since a reading."""
        old, new = (whole_car(tree, origins=self.origins) for tree in (origin, self.tree))
        if old.placed is None or new.placed is None:
            return 0.0
        return float(new.placed.wheels[0, index] - old.placed.wheels[0, index])

    def _recorded(self, key: str) -> bool:
        """Tell whether any of the setup was changed since a reading was entered."""
        origin = self.origins.get(key)
        return origin is not None and any(each.path[0] == "setup" for each in diff(origin, self.tree))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def finding_sentence(found: Finding) -> str:
    """Write a reading with its difference and, beyond tolerance, what to look at.

    Example:
        >>> finding_sentence(Finding(what="RF camber", subject="camber", read=-4.6, unit="deg", text="", expected=-4.0,
        ...     difference=-0.6, tolerance=0.3, beyond=True))
        'RF camber -0.60 deg with nothing recorded: bent or slipped?'
    """
    if found.difference is UNSET:
        return f"{found.what} {_figure(found)}: the book has nothing to compare it with"
    if not found.beyond:
        return f"{found.what} {_figure(found)}: as it was left, within {found.tolerance:.3g}"
    tolerance = TOLERANCES[found.subject]
    beside = "with nothing recorded" if not found.recorded else "beside what was recorded"
    return f"{found.what} {tolerance.difference(found.difference)} {beside}: {tolerance.question}"


def _figure(found: Finding) -> str:
    digits = {"lb": 0, "percent": 1, "deg": 2, "in": 3}[found.unit]
    return f"{found.read:.{digits}f} {'%' if found.unit == 'percent' else found.unit}"
