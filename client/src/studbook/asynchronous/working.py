"""The work card through the asynchronous client."""

import datetime as dt

from studbook.asynchronous.transport import Transport
from studbook.core import operations, working
from studbook.wire.records import Record
from studbook.wire.work import JobTable, WorkCard, WorkQuery


class Working(Transport):
    """What is to be done at the car."""

    async def work(self, ref: str, *, since: str | None = None, wanted: WorkQuery | None = None) -> WorkCard:
        """Make the work card of a change: jobs, who does which when, and what fits; nothing is recorded.

        Args:
            ref: the revision that the car shall have.
            since: the one that it has; its first parent unless given. With `undo` the way back to this one.
            wanted: crew, minutes, wishes, and the record of what is done.

        Raises:
            BadReferenceError: the revision is a first one and `since` is not given.
        """
        return await self._do(working.work(ref, since=since, wanted=wanted))

    async def start_work(
        self,
        ref: str,
        *,
        since: str | None = None,
        wanted: WorkQuery | None = None,
        note: str = "",
        at: dt.datetime | None = None,
    ) -> Record:
        """Start a card in the book, to be ticked off and signed, with the jobs planned on it and named by the time.

        Args:
            ref: the revision that the car shall have.
            since: the one that it has; its first parent unless given. With `undo` the way back to this one.
            wanted: crew, minutes, wishes.
            note: in the crew's words.
            at: when, if not now; with an offset.

        Raises:
            BadReferenceError: the revision is a first one and `since` is not given.
        """
        at = at or dt.datetime.now().astimezone()
        return await self._do(working.start_work(ref, since=since, wanted=wanted, note=note, at=at))

    async def jobs(self) -> JobTable:
        """Give the job table: what each kind of job takes, by the team's own figures where it gave any."""
        return await self._do(operations.jobs())
