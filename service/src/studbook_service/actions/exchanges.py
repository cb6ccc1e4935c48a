"""The exchanges that this service makes: by itself again and again, and when somebody asks for one.

A request for an exchange is answered when the exchange has ended, or after a while with how far it is and a number to
ask again with. So no request stays open for as long as a slow link takes, and both clients stay plain loops.
"""

import asyncio
import logging
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from itertools import count
from typing import Final
from uuid import UUID

from studbook.wire.exchange import Exchanged
from studbook_service import store
from studbook_service.actions.known_peers import PeerTokens, UnknownPeer, addresses
from studbook_service.actions.team_book import TeamBook
from studbook_service.exchange.driver import Address, PeerFailed, sync
from studbook_service.exchange.initiator import Progress
from studbook_service.store import StoreUnavailable

EVERY_S: Final = 15.0
SELDOM_S: Final = 600.0
LOOK_EVERY_S: Final = 1.0

_log = logging.getLogger("studbook")


@dataclass(slots=True)
class _Run:
    """One exchange.

    Attributes:
        task: gives what it came to.
        progress: what it did so far.
    """

    peer: str
    number: int
    task: asyncio.Task[Progress] = field(init=False)
    progress: Progress = field(default_factory=Progress)

    def hear(self, progress: Progress) -> None:
        """Note how far it is."""
        self.progress = progress

    def shown(self) -> Exchanged:
        """Say how far it is."""
        done = self.progress
        return Exchanged(
            peer=self.peer,
            number=self.number,
            running=not self.task.done(),
            requests=done.requests,
            sent=done.sent,
            received=done.received,
            bytes_up=done.bytes_up,
            bytes_down=done.bytes_down,
            split=list(done.split),
            refused=list(done.refused),
        )


class Exchanges:
    """Exchanges with the peers of all teams, one at a time with each.

    Args:
        books: the books of all teams.
        tokens: the tokens that peers gave us.
        received: called with a team whose exchange brought something.

    Example::

        await Exchanges(book, PeerTokens(data)).ask(team, "shop", number=None, within_s=10)
    """

    def __init__(
        self, books: store.BookStore, tokens: PeerTokens, *, received: Callable[[UUID], None] = lambda _: None
    ) -> None:
        self._books = books
        self._tokens = tokens
        self._received = received
        self._runs: dict[tuple[UUID, str], _Run] = {}
        self._numbers = count(1)

    def running(self, team: UUID, peer: str) -> Exchanged | None:
        """Say how far an exchange with a peer is, where one goes on."""
        run = self._runs.get((team, peer))
        return None if run is None or run.task.done() else run.shown()

    async def ask(self, team: UUID, peer: str, *, number: int | None, within_s: float) -> Exchanged:
        """Exchange with a peer, or join the exchange that goes on, and wait for its end, but not for ever.

        Args:
            team: whose book.
            peer: its name.
            number: an exchange requested before; where it is the last one, none is begun.
            within_s: how long to wait.

        Raises:
            UnknownPeer: there is no such peer, or no token for it here.
            PeerFailed: it does not answer, or refuses.
            StoreUnavailable: our own book cannot be reached.
        """
        run = self._runs.get((team, peer))
        if run is None or run.number != number:
            [address] = await addresses(self._books, team, self._tokens, peer)
            run = self._begin(team, address)
        await asyncio.wait([run.task], timeout=within_s)
        if run.task.done():
            run.task.result()
        return run.shown()

    async def keep_up(self) -> None:
        """Exchange with every peer again and again, until canceled; one that fails is tried ever more seldom."""
        due: dict[tuple[UUID, str], tuple[float, int]] = {}
        while True:
            for team in self._tokens.teams():
                for peer in await self._reachable(team):
                    at, failures = due.get((team, peer.name), (0.0, 0))
                    if time.monotonic() >= at:
                        failures = 0 if await self._exchanged(team, peer) else failures + 1
                        wait = min(EVERY_S * 2**failures, SELDOM_S) * random.uniform(0.7, 1.0)  # noqa: S311 - to spread
                        due[team, peer.name] = (time.monotonic() + wait, failures)
            await asyncio.sleep(LOOK_EVERY_S)

    async def close(self) -> None:
        """End all exchanges; what they took is kept."""
        tasks = [run.task for run in self._runs.values()]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    def _begin(self, team: UUID, peer: Address) -> _Run:
        before = self._runs.get((team, peer.name))
        if before is not None and not before.task.done():
            return before
        run = self._runs[team, peer.name] = _Run(peer.name, next(self._numbers))
        run.task = asyncio.create_task(sync(TeamBook(self._books, team), peer, report=run.hear))
        run.task.add_done_callback(partial(self._end, team, run))
        return run

    def _end(self, team: UUID, run: _Run, task: asyncio.Task[Progress]) -> None:
        """Look at how it ended, so that one that nobody waited for is no complaint of the event loop's."""
        if not task.cancelled():
            task.exception()
        if run.progress.received:
            self._received(team)

    async def _reachable(self, team: UUID) -> list[Address]:
        try:
            return await addresses(self._books, team, self._tokens)
        except (UnknownPeer, StoreUnavailable) as error:
            _log.info("no exchange: %s", error)
            return []

    async def _exchanged(self, team: UUID, peer: Address) -> bool:
        try:
            done = await asyncio.shield(self._begin(team, peer).task)
        except (PeerFailed, StoreUnavailable) as error:
            _log.info("no exchange with %s: %s", peer.name, error)
            return False
        except Exception:  # noqa: BLE001 - logged; what is wrong with one peer must not end the exchange with the others
            _log.exception("the exchange with %s failed", peer.name)
            return False
        if done.sent or done.received or done.refused:
            counts = (done.sent, done.received, len(done.refused))
            _log.info("exchanged with %s: %d sent, %d received, %d refused", peer.name, *counts)
        return True
