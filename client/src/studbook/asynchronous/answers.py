"""Answers through the asynchronous client: what a setup is, and what a change does."""

from collections.abc import Iterable, Mapping
from typing import Any

from studbook.asynchronous.transport import Transport
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

    async def effects(self, ref: str, *, since: str | None = None, travels: Travels | None = None) -> Effects:
        """Tell what a change does: as fitted, and after putting settings right (`Studbook.effects`)."""
        return await self._do(flows.effects(ref, since=since, travels=travels))

    async def what_if(
        self,
        ref: str,
        edits: Mapping[str, Any],
        *,
        remove: Iterable[str] = (),
        travels: Travels | None = None,
        allow_unknown: bool = False,
    ) -> Effects:
        """Tell what edits would do to a revision; nothing is recorded (`Studbook.what_if`)."""
        return await self._do(flows.what_if(ref, edits, remove=remove, travels=travels, allow_unknown=allow_unknown))

    async def front(self, ref: str, *, travels: Travels | None = None) -> FrontAnswer:
        """Tell how a revision's front stands and moves (`Studbook.front`)."""
        return await self._do(flows.front(ref, travels=travels))

    async def rear(self, ref: str, *, over: BumpRolls | None = None) -> RearAnswer:
        """Tell how a revision's rear axle is held, stands and moves (`Studbook.rear`)."""
        return await self._do(flows.rear(ref, over=over))

    async def joints(self, ref: str, *, forces: WheelForces | None = None) -> JointsAnswer:
        """Tell what a revision's front joints cost, how they swing, and what they carry (`Studbook.joints`)."""
        return await self._do(flows.joints(ref, forces=forces))

    async def damping(self, ref: str, *, asked: DampingQuery | None = None) -> DampingAnswer:
        """Tell what a revision's shocks, springs, bars, tires and gears come to (`Studbook.damping`)."""
        return await self._do(flows.damping(ref, asked=asked))

    async def loads(self, ref: str) -> LoadsAnswer:
        """Tell what a revision's car weighs at each wheel, and what one step of each perch, gas and tire does."""
        return await self._do(flows.loads(ref))

    async def cornering(
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
        return await self._do(asked)

    async def search_perches(
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
        return await self._do(asked)

    async def attitude(
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
        """Tell how a revision's car stands at an attitude (`Studbook.attitude`)."""
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
        return await self._do(asked)

    async def search_studs(self, ref: str, wanted: CamberWanted) -> StudSearchAnswer:
        """Tell which parts at one front corner come closest to a camber curve (`Studbook.search_studs`)."""
        return await self._do(flows.search_studs(ref, wanted))

    async def search_carry_over(self, source: str, ref: str, wanted: LikenessWanted | None = None) -> CarryOverAnswer:
        """Tell by which parts a car reads at the front like another (`Studbook.search_carry_over`)."""
        return await self._do(flows.search_carry_over(source, ref, wanted))
