"""Around the scales, through the asynchronous client: sessions, checks, the race, the log, the sheet for the wall."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from studbook.asynchronous.transport import Transport
from studbook.core import around_scales, operations
from studbook.core.pulled import Pulled
from studbook.history.canonical import Tree
from studbook.wire.around_scales import (
    RaceAnswer,
    RaceConditions,
    ReturnedAnswer,
    SensitivityAnswer,
    SensitivityQuery,
    SessionWeights,
)
from studbook.wire.entries import Pushed
from studbook.wire.records import Record
from studbook.wire.shop import Check


class AroundScales(Transport):
    """What is read on the pads and noted down beside them."""

    async def sensitivity(self, ref: str, *, asked: SensitivityQuery | None = None) -> SensitivityAnswer:
        """Tell what one step of each perch, shim, stud and pressure does to a revision's car.

        Args:
            ref: the revision.
            asked: how large the steps are.

        Raises:
            FieldsMissingError: scales, springs or tires are not known.
        """
        return await self._do(around_scales.sensitivity(ref, asked=asked))

    async def after_race(
        self,
        ref: str,
        asked: RaceConditions,
        *,
        edits: Mapping[str, Any] | None = None,
        remove: Iterable[str] = (),
        allow_unknown: bool = False,
    ) -> RaceAnswer:
        """Tell what a revision's car weighs after the race, against its rules; nothing is recorded.

        Args:
            ref: the revision.
            asked: the fuel burned, the rules, the driver.
            edits: new values by dotted path, to try first, such as a ballast's place.
            remove: paths to take away first.
            allow_unknown: accept fields that the schema does not know.
        """
        flow = around_scales.after_race(ref, asked, edits=edits, remove=remove, allow_unknown=allow_unknown)
        return await self._do(flow)

    async def try_check(self, car: str, document: Tree, *, allow_unknown: bool = False) -> ReturnedAnswer:
        """Hold the readings of a car that came back against the book; nothing is recorded.

        Args:
            car: whose.
            document: as a check's record: `measured`, and `revision` if not what the car raced last was left.
            allow_unknown: accept fields that the schema does not know.

        Raises:
            NotFoundError: the book has no outing of the car, and no revision is named.
        """
        return await self._do(around_scales.try_check(car, document, allow_unknown=allow_unknown))

    async def new_check(self, car: str, document: Tree | Check, *, note: str = "") -> Record:
        """Record what a car read that came back, under the time of day; it says `at`.

        Raises:
            BadDocumentError: it does not, or holds values that cannot be recorded.
        """
        return await self._do(around_scales.new_check(car, document, note=note))

    async def check_findings(self, check: str) -> ReturnedAnswer:
        """Tell what a recorded check (`CAR/DATE-HHMM`) found."""
        return await self._do(operations.check_findings(check))

    async def weigh(
        self,
        car: str,
        readings_lb: Sequence[Sequence[float]],
        *,
        revision: str | None = None,
        basis: Mapping[str, Any] | None = None,
        settled: str = "",
        at: dt.datetime | None = None,
    ) -> Record:
        """Record a session on the scales, under the time of day.

        Args:
            car: whose.
            readings_lb: LF, RF, LR, RR of each settled reading, two or more.
            revision: the setup that stood on the scales.
            basis: what was aboard and set, such as `{"driver_aboard": True}`.
            settled: how it was settled before each reading.
            at: when, if not now; with an offset.

        Raises:
            BadDocumentError: fewer than two readings.
        """
        at = at or dt.datetime.now().astimezone()
        flow = around_scales.weigh(car, readings_lb, revision=revision, basis=basis, settled=settled, at=at)
        return await self._do(flow)

    async def session_weights(self, session: str) -> SessionWeights:
        """Tell what a scale session (`CAR/DATE-HHMM`) comes to: average, spread, and what had not settled."""
        return await self._do(operations.session_weights(session))

    async def log(self, car: str, words: str, *, at: dt.datetime | None = None) -> Record:
        """Note down what was turned or let out, before there is time for a revision.

        Args:
            car: whose.
            words: such as `RR perch +2 turns, LR pressure -1`.
            at: when, if not now; with an offset.

        Raises:
            BadRequestError: with everything that cannot be read, and why.
        """
        return await self._do(around_scales.log(car, words, at=at or dt.datetime.now().astimezone()))

    async def open_logs(self, car: str) -> list[Record]:
        """List what was logged of a car and is in no revision yet, in order of time."""
        return await self._do(around_scales.open_logs(car))

    async def on_the_car(self, ref: str) -> tuple[Pulled, Tree]:
        """Give a setup as it is recorded, and its document as it really is on the car: with everything logged since.

        Raises:
            BadRequestError: the setup does not tell what is needed, such as the pitch of a thread.
        """
        return await self._do(around_scales.on_the_car(ref))

    async def take_logs(self, sheet: str, *, note: str = "", at: dt.datetime | None = None) -> Pushed | None:
        """Make a revision of everything that is logged of a car, and mark it taken.

        Args:
            sheet: `CAR/SHEET`.
            note: why; the words of the logs unless given.
            at: when, if not now; with an offset.

        Returns:
            What was recorded; None where all that is logged was in the sheet already, and is marked now.

        Raises:
            UnchangedError: nothing is logged, or nothing differs.
            BadRequestError: the setup does not tell what is needed, such as the pitch of a thread.
        """
        return await self._do(around_scales.take_logs(sheet, note=note, at=at))
