"""A car that came back, before anything is touched: what it reads, against what the book says that it should."""

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
from studbook_service.engine.one_sided import WHEELS, difference_row
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import toe_in
from studbook_service.translate import cautions
from studbook_service.translate.aboard import PLACES, Basis, Load, differing, on_dirt
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.document import CORNERS, Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError, FieldsUnfitError
from studbook_service.translate.front_end import front_end
from studbook_service.translate.rescaling import OnItsWheels, height_places, on_its_wheels, unscaled
from studbook_service.translate.returned_words import question
from studbook_service.translate.states import TOE_BASE_IN, front_states, rounded, stands
from studbook_service.translate.tolerances import TOLERANCES, told, tolerances
from studbook_service.translate.whole_car import REAR, WholeCar, whole_car
from studbook_service.translate.words import CORNER

JOINTS: Final = ("upper_joint", "lower_joint", "upper_pivot", "lower_pivot", "tie_inner", "tie_outer")


class Given(NamedTuple):
    """What a check is made of.

    Attributes:
        measured: as read.
        own: the team's tolerances over the defaults.
        play_limits: of the parts that are fitted, in, by corner and joint.
    """

    measured: Tree
    own: Tolerances
    play_limits: Mapping[tuple[str, str], float]


class Left(NamedTuple):
    """What was left: the revision, and how that is known."""

    revision: str
    chosen: str


class Expected(NamedTuple):
    """What the book says of one reading; a value of None where it says nothing."""

    value: float | None
    recorded: bool = False


def returned_answer(tree: Tree, *, origins: Mapping[str, Tree], left: Left, given: Given) -> ReturnedAnswer:
    """Hold every reading of a car that came back against the book.

    Args:
        tree: the document of what was left.
        origins: where its readings were entered: alignment by corner, `scales`, `ride_height`, `lr_lead`, `rr_lead`.
        left: which revision that is.
        given: the readings, the tolerances.

    Returns:
        A finding for each reading; what could not be compared is in `missing`.

    Raises:
        FieldsUnfitError: the document left holds a value that no answer can be computed from.
    """
    answer = ReturnedAnswer(
        headline=[],
        revision=left.revision,
        chosen=left.chosen,
        engine=VERSION,
        findings=[],
        assumptions=[told(given.own)],
        missing=[],
        cautions=list(cautions.RETURNED),
    )
    check = _Check(answer, tree, origins, given)
    for look in (check.scales, check.heights, check.alignment, check.lead, check.play):
        answer.findings += look()
    beyond = [each.text for each in answer.findings if each.beyond]
    answer.headline = [
        f"{len(beyond)} of {len(answer.findings)} readings beyond tolerance." if beyond else "All as it was left.",
        *beyond,
    ]
    if not answer.findings:
        answer.headline = ["Nothing was read that the book can be held against."]
    return answer


class _Check:
    """One check under way."""

    def __init__(self, answer: ReturnedAnswer, tree: Tree, origins: Mapping[str, Tree], given: Given) -> None:
        self.answer, self.tree, self.origins, self.given = answer, tree, origins, given
        self.left, self.read = Document(tree=tree), Document(tree={"measured": given.measured})
        self.tolerances = tolerances(given.own)
        self.basis: Basis = given.measured.get("basis") or {}
        if on_dirt(self.basis):
            answer.assumptions.append("on a dirt floor pads are good to 15 lb and strings to 1/16 in (common practice)")
        self.wheels: OnItsWheels | WholeCar | FieldsMissingError | CannotCloseError
        try:
            self.wheels = on_its_wheels(tree, origins=origins)
        except (FieldsMissingError, CannotCloseError) as error:
            self.wheels = error

    def scales(self) -> Iterator[Finding]:
        """Weights: by corner, in all, and the cross."""
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
            self._unweighed()
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
        """Ride heights where they are read."""
        found = self.wheels
        places = height_places(self.left)
        rise = np.zeros(4)
        known = isinstance(found, OnItsWheels) and places is not None
        if isinstance(found, OnItsWheels) and places is not None:
            rise = found.since_heights.rise_at(x_in=places[0], y_in=places[1])
        recorded = self._recorded("ride_height")
        for index, name in enumerate(WHEELS):
            read = self.read.get(f"measured.ride_height.{name}.height_in")
            if read is None:
                continue
            paths = [f"{part}.ride_height.{name}.height_in" for part in ("measured", "survey")]
            then = next((value for path in paths if (value := self.left.get(path)) is not None), None)
            if then is None:
                self.answer.missing.append(Missing(subject=f"{CORNER[name]} height", fields=paths))
            elif recorded and not known:
                fields = [f"survey.ride_height.{name}.at_in"] if places is None else []
                why = UNSET if fields else "what was recorded since moves it, by how much is not known"
                self.answer.missing.append(Missing(subject=f"{CORNER[name]} height", fields=fields, why=why))
            else:
                expected = Expected(float(then + rise[index]), recorded)
                yield self._finding("height", f"{CORNER[name]} height", read, expected)

    def alignment(self) -> Iterator[Finding]:
        """Camber, caster and toe of the front wheels; toe also of both together."""
        root = "measured.front"
        read = {
            (name, setting): value
            for setting in ("camber", "caster", "toe")
            for name in CORNERS
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
        if len(toes) == len(CORNERS):
            inch, wanted = (sum(each[side] for each in toes.values()) for side in (0, 1))
            recorded = any(map(self._recorded, CORNERS))
            yield self._finding("toe", "total toe", inch, Expected(wanted, recorded))

    def lead(self) -> Iterator[Finding]:
        """How far each rear wheel stands ahead of square."""
        for index, name in enumerate(REAR):
            path = f"rear.{name}.lead_in"
            read, then = self.read.get(f"measured.{path}"), self.left.get(f"measured.{path}")
            if read is None:
                continue
            recorded, moved = self._recorded(f"{name}_lead"), 0.0
            if then is None:
                then, recorded = self.left.get(f"setup.{path}"), False
            elif recorded:
                moved = self._led(index, self.origins[f"{name}_lead"])
            value = None if then is None else float(then + moved)
            yield self._finding("lead", f"{CORNER[name]} lead", read, Expected(value, recorded))

    def play(self) -> Iterator[Finding]:
        """Play of the front joints, against what it was and against the limit of the part that is fitted."""
        for name in CORNERS:
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
        found.text = question(found)
        return found

    def _weights(self, found: OnItsWheels) -> tuple[Array, float]:
        """Give what the pads should read as the car is checked, NaN where that is not known, and the total."""
        then, loads = self._aboard()
        nowhere = [each for each in loads if each.at_in is None]
        standing = on_scales(
            found.since.car,
            self._bars(found, self.basis.get("bar_hooked", then.get("bar_hooked")))._replace(
                ballast=[
                    *found.since.change.ballast,
                    *(Ballast(each.weight_lb, *each.at_in) for each in loads if each.at_in is not None),
                ]
            ),
        )
        total = float(standing.loads_lb.sum()) + sum(each.weight_lb for each in nowhere)
        if not nowhere:
            return standing.loads_lb, total
        what = " and ".join(f"{each.weight_lb:+.0f} lb of {each.what}" for each in nowhere)
        fields = [PLACES[each.what] for each in nowhere]
        self.answer.missing.append(Missing(subject=f"corner weights with {what}", fields=fields))
        return np.full(4, np.nan), total

    def _as_scaled(self, then_lb: Array) -> tuple[Array, float]:
        """Give the same of a car whose geometry is not known, and of which nothing was changed since it was scaled."""
        _, loads = self._aboard()
        self.answer.assumptions.append("weights are held against the scales as read: nothing was recorded since")
        if loads:
            self._unweighed()
        return np.full(4, np.nan) if loads else then_lb, float(then_lb.sum()) + sum(each.weight_lb for each in loads)

    def _unweighed(self) -> None:
        """Say what the loads at the wheels cannot be told for."""
        if isinstance(self.wheels, WholeCar):
            self.answer.missing += unscaled(self.wheels)
        elif not isinstance(self.wheels, OnItsWheels):
            self._lacks("scales", self.wheels)

    def _aboard(self) -> tuple[Basis, list[Load]]:
        """Give the basis of the scales then, and what is aboard otherwise now."""
        then: Basis = at(self.origins.get("scales", self.tree), steps("measured.basis")) or {}
        loads, unknown = differing(self.left, then, self.basis)
        for what in unknown:
            self.answer.assumptions.append(f"the {what} is taken as it was on the scales; it is not recorded with both")
        return then, loads

    def _bars(self, found: OnItsWheels, linked: bool | None) -> ChassisChange:  # noqa: FBT001 - as recorded, or not
        """Give what was changed since the scales were read, with the bars as they are linked in the check."""
        change, bars = found.since.change, found.whole.bars()
        if linked is None:
            if bars:
                self.answer.assumptions.append("the anti-roll bars are taken as raced; it is not recorded")
            return change
        force = np.asarray(change.spring_lb) + sum(
            difference_row(bar.axle) * bar.rate_lb_per_in * bar.preload_in * (linked - bar.hooked) for bar in bars
        )
        return change._replace(spring_lb=force, hooked=[bar.axle for bar in bars] if linked else [])

    def _aligned(self) -> dict[tuple[str, str], float]:
        """Give camber, caster and toe as the car should stand now, by corner and setting."""
        found: dict[tuple[str, str], float] = {}
        try:
            front = front_end(self.tree, origins=self.origins)
            states = front_states(front, stands(front.pose(), shocks=front.shocks()))
            found |= {
                (name, setting): getattr(state, f"{setting}_deg")
                for name, state in states.items()
                for setting in ("camber", "caster", "toe")
            }
            here = attitude_answer(self.tree, origins=self.origins).ride_height
            found |= {
                (name, setting): getattr(getattr(here, name), f"{setting}_deg")
                for name in CORNERS
                for setting in ("camber", "toe")
            }
        except (FieldsMissingError, CannotCloseError) as error:
            if found:
                self.answer.assumptions.append("camber and toe are told at the heights that were read last")
            else:
                self._lacks("alignment", error)
        return found

    def _led(self, index: int, origin: Tree) -> float:
        """Give how far the rods that were changed since a reading moved a rear wheel forward."""
        old, new = (whole_car(tree, origins=self.origins) for tree in (origin, self.tree))
        if old.placed is None or new.placed is None:
            return 0.0
        return float(new.placed.wheels[0, index] - old.placed.wheels[0, index])

    def _recorded(self, key: str) -> bool:
        """Tell whether any of the setup was changed since a reading was entered."""
        origin = self.origins.get(key)
        return origin is not None and any(each.path[0] == "setup" for each in diff(origin, self.tree))

    def _lacks(self, subject: str, error: FieldsMissingError | CannotCloseError | FieldsUnfitError) -> None:
        if isinstance(error, FieldsMissingError):
            self.answer.missing += error.missing
        else:
            self.answer.missing.append(Missing(subject=subject, fields=[], why=str(error)))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
