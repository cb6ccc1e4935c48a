"""Answers through the blocking client: what a setup is, and what a change does."""

from collections.abc import Iterable, Mapping
from typing import Any

from studbook.blocking.transport import Transport
from studbook.core import flows
from studbook.wire.answers import Effects, FrontAnswer, Travels
from studbook.wire.attitude import AttitudeAnswer
from studbook.wire.damping import DampingAnswer, DampingQuery
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook.wire.loads import CorneringAnswer, CornerPath, CrossWanted, LoadsAnswer, PerchesAnswer
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook.wire.searches import CamberWanted, CarryOverAnswer, LikenessWanted, StudSearchAnswer


class Answers(Transport):
    """What is computed; nothing of it is recorded."""

    def effects(self, ref: str, *, since: str | None = None, travels: Travels | None = None) -> Effects:
        """Tell what a change does: as fitted, and after putting settings right.

        Args:
            ref: the revision with the change.
            since: the one without; its first parent unless given.
            travels: the wheel travels that curves cover.

        Raises:
            FieldsMissingError: the document is too thin; `faults` names what it lacks.
            CannotCloseError: the linkage cannot be assembled.
        """
        return self._do(flows.effects(ref, since=since, travels=travels))

    def what_if(
        self,
        ref: str,
        edits: Mapping[str, Any],
        *,
        remove: Iterable[str] = (),
        travels: Travels | None = None,
        allow_unknown: bool = False,
    ) -> Effects:
        """Tell what edits would do to a revision; nothing is recorded.

        Args:
            ref: the revision to try them on.
            edits: new values by dotted path.
            remove: paths to take away.
            travels: the wheel travels that curves cover.
            allow_unknown: accept fields that the schema does not know.
        """
        return self._do(flows.what_if(ref, edits, remove=remove, travels=travels, allow_unknown=allow_unknown))

    def front(self, ref: str, *, travels: Travels | None = None) -> FrontAnswer:
        """Tell how a revision's front stands and moves."""
        return self._do(flows.front(ref, travels=travels))

    def rear(self, ref: str, *, over: BumpRolls | None = None) -> RearAnswer:
        """Tell how a revision's rear axle is held by its rods, stands, and moves over bump and axle roll.

        Raises:
            CannotCloseError: the rods leave a motion free or hold one twice; the text names both.
        """
        return self._do(flows.rear(ref, over=over))

    def joints(self, ref: str, *, forces: WheelForces | None = None) -> JointsAnswer:
        """Tell what a revision's front joints cost in friction, how they swing, and what they carry.

        Args:
            ref: the revision.
            forces: at the wheels; as the car stands on the scales unless given.
        """
        return self._do(flows.joints(ref, forces=forces))

    def damping(self, ref: str, *, asked: DampingQuery | None = None) -> DampingAnswer:
        """Tell what a revision's shocks, springs, bars, tires and gears come to.

        Args:
            ref: the revision.
            asked: the cycle that shocks are worked through, the turn, the speed.
        """
        return self._do(flows.damping(ref, asked=asked))

    def loads(self, ref: str) -> LoadsAnswer:
        """Tell what a revision's car weighs at each wheel, and what one step of each perch, gas and tire does."""
        return self._do(flows.loads(ref))

    def cornering(
        self,
        ref: str,
        path: CornerPath,
        *,
        edits: Mapping[str, Any] | None = None,
        remove: Iterable[str] = (),
        allow_unknown: bool = False,
    ) -> CorneringAnswer:
        """Tell how a revision's car stands in a left-hand corner; nothing is recorded.

        Args:
            ref: the revision.
            path: the corner, how fast, and how driven.
            edits: new values by dotted path, to try first.
            remove: paths to take away first.
            allow_unknown: accept fields that the schema does not know.

        Raises:
            CannotCloseError: the car turns over, or a linkage cannot be assembled.
        """
        asked = flows.cornering(ref, path, edits=edits, remove=remove, allow_unknown=allow_unknown)
        return self._do(asked)

    def search_perches(
        self,
        ref: str,
        wanted: CrossWanted,
        *,
        edits: Mapping[str, Any] | None = None,
        remove: Iterable[str] = (),
        allow_unknown: bool = False,
    ) -> PerchesAnswer:
        """Tell which perch turns bring a revision's car to a cross weight; nothing is recorded.

        Args:
            ref: the revision.
            wanted: the cross weight, the perches that may turn, the step, and limits.
            edits: new values by dotted path, to try first.
            remove: paths to take away first.
            allow_unknown: accept fields that the schema does not know.
        """
        asked = flows.search_perches(ref, wanted, edits=edits, remove=remove, allow_unknown=allow_unknown)
        return self._do(asked)

    def attitude(
        self,
        ref: str,
        *,
        heave_in: float = 0.0,
        roll_deg: float = 0.0,
        pitch_deg: float = 0.0,
        steer_in: float = 0.0,
        edits: Mapping[str, Any] | None = None,
        remove: Iterable[str] = (),
        allow_unknown: bool = False,
    ) -> AttitudeAnswer:
        """Tell how a revision's car stands on its four wheels at an attitude; nothing is recorded.

        Args:
            ref: the revision.
            heave_in: rise of the chassis origin since the survey.
            roll_deg: since the survey, + right side down.
            pitch_deg: since the survey, + nose down.
            steer_in: of the rack or center link from straight ahead, + toward the left.
            edits: new values by dotted path, to try first.
            remove: paths to take away first.
            allow_unknown: accept fields that the schema does not know.
        """
        asked = flows.attitude(
            ref,
            heave_in=heave_in,
            roll_deg=roll_deg,
            pitch_deg=pitch_deg,
            steer_in=steer_in,
            edits=edits,
            remove=remove,
            allow_unknown=allow_unknown,
        )
        return self._do(asked)

    def search_studs(self, ref: str, wanted: CamberWanted) -> StudSearchAnswer:
        """Tell which parts at one front corner come closest to a camber curve; nothing is recorded.

        Args:
            ref: the revision.
            wanted: the corner, the curve, the limits and the parts at hand.

        Raises:
            BadRequestError: there are more combinations than may be tried.
            BusyError: other searches wait already.
        """
        return self._do(flows.search_studs(ref, wanted))

    def search_carry_over(self, source: str, ref: str, wanted: LikenessWanted | None = None) -> CarryOverAnswer:
        """Tell by which parts of its own a car reads at the front like another; nothing is recorded.

        Args:
            source: the revision to be like.
            ref: the revision to change.
            wanted: the parts at hand, and the travels.
        """
        return self._do(flows.search_carry_over(source, ref, wanted))
