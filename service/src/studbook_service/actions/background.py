"""The background worker: computes the effects of what was recorded while nobody waits for an answer.

It computes in the engine thread, a subject at a time, only when nobody waits and no request came for half a second, or
without such a pause once in ten: a request then waits for one such piece at most. It takes teams in turn, the newest
revision first, and sleeps when nothing is missing. It knows a team once a request of it came here: to find teams by
itself the serving role would have to look across the fence.
"""

import asyncio
import logging
from typing import Final
from uuid import UUID

from studbook_service.actions.effects import ENGINE, ChangeEffects
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.store import BookStore, StoreUnavailable

AT_ONCE: Final = 32
"""Revisions of one team that are looked up at a time."""

AGAIN_S, FAILURES_MOST = 1.0, 6

_log = logging.getLogger("studbook")


class BackgroundWorker:
    """Looks after teams in turn, a revision of each, the newest first, until there is nothing left to compute.

    A team is looked after once this process has heard of it; of others it knows nothing.

    Args:
        book: the books of all teams.
        engine_thread: computes.

    Attributes:
        changes: what computes and keeps.

    Example::

        worker = BackgroundWorker(book, EngineThread())
        asyncio.create_task(worker.keep_up())
        worker.wake(team)
    """

    def __init__(self, book: BookStore, engine_thread: EngineThread) -> None:
        self.changes = ChangeEffects(book)
        self._book, self._engine_thread = book, engine_thread
        self._teams: set[UUID] = set()
        self._due: dict[UUID, list[bytes]] = {}
        self._woken = asyncio.Event()

    def wake(self, team: UUID) -> None:
        """Look after a team again: something was recorded, or its effects are not known yet."""
        self._teams.add(team)
        self._due[team] = []
        self._woken.set()

    def forget(self) -> None:
        """Forget what was read, and look after all teams again: effects of erased revisions are gone."""
        self.changes.forget()
        for team in self._teams:
            self.wake(team)

    async def keep_up(self) -> None:
        """Compute whenever there is something to, until canceled; a book that is away is waited for."""
        failures = 0
        while True:
            await self._woken.wait()
            while self._due:
                try:
                    await self._turn()
                    failures = 0
                except Exception as error:  # noqa: BLE001 - logged; what is wrong with one team must not end it
                    if not isinstance(error, StoreUnavailable):
                        _log.exception("effects are not computed")
                    await asyncio.sleep(AGAIN_S * 2**failures)
                    failures = min(failures + 1, FAILURES_MOST)
            self._woken.clear()

    async def _turn(self) -> None:
        """Compute one revision of the team whose turn it is; without one it is not looked after any more."""
        team = next(iter(self._due))
        left = self._due.pop(team)
        try:
            left = left or await self._book.effects.missing(team, engine=ENGINE, limit=AT_ONCE)
            if not left:
                return
            await self.changes.compute(team, left[0], run=self._engine_thread.run_idle)
        except Exception:
            self._due.setdefault(team, [])
            raise
        self._due.setdefault(team, left[1:])  # unless it was woken meanwhile
