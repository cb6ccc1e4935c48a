"""Other nodes that this one exchanges with: how we stand with each, and exchanging with them."""

import asyncio
import logging
import os
import random
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from uuid import UUID

import msgspec
from msgspec import UNSET

from studbook.wire.exchange import Peer, Peers
from studbook_service import store
from studbook_service.actions.desk import Desk
from studbook_service.actions.team_book import TeamBook, read_standing
from studbook_service.exchange.answering import OtherBook
from studbook_service.exchange.asking import beginning, via_of
from studbook_service.exchange.driver import Address, PeerFailed, ask_head, sync
from studbook_service.store import Bearer, StoreUnavailable

EVERY_S: Final = 15.0
SELDOM_S: Final = 600.0
LOOK_EVERY_S: Final = 1.0

_log = logging.getLogger("studbook")


async def list_peers(desk: Desk, bearer: Bearer) -> Peers:
    """Say of each peer when it was last reached and what waits for it."""
    return await shown_peers(desk.book, bearer.team)


async def shown_peers(books: store.Book, team: UUID) -> Peers:
    """Say the same of any team's peers."""
    return Peers(items=[await _shown(books, team, peer) for peer in await books.peers.list(team)])


async def _shown(books: store.Book, team: UUID, peer: store.Peer) -> Peer:
    standing = read_standing(peer)
    return Peer(
        name=peer.name,
        url=peer.url,
        waiting=await books.peers.waiting(team, after=standing.sent, via=via_of(peer.name)),
        reached_at=standing.reached_at or UNSET,
        failed_at=standing.failed_at or UNSET,
        failure=standing.failure or UNSET,
        refused=list(standing.refused),
    )


class UnknownPeer(Exception):
    """There is no peer of that name, or no token for it here."""


@dataclass(frozen=True, slots=True)
class Tokens:
    """The tokens that peers gave this node: one file each, which nobody else may read.

    Attributes:
        data: the service's data folder.
    """

    data: Path

    def keep(self, team: UUID, peer: str, token: str) -> None:
        """Keep a peer's token."""
        file = self._file(team, peer)
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        file.unlink(missing_ok=True)
        with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as text:
            text.write(f"{token}\n")

    def token(self, team: UUID, peer: str) -> str:
        """Give a peer's token.

        Raises:
            UnknownPeer: there is none.
        """
        file = self._file(team, peer)
        if not file.exists():
            raise UnknownPeer(f"there is no token for {peer} here: studbook peers add {peer} URL")
        return file.read_text(encoding="ascii").strip()

    def teams(self) -> set[UUID]:
        """Name the teams that have peers."""
        folder = self.data / "peers"
        return {UUID(each.name) for each in folder.iterdir()} if folder.is_dir() else set()

    def _file(self, team: UUID, peer: str) -> Path:
        return self.data / "peers" / str(team) / peer


async def add_peer(books: store.Book, team: UUID, tokens: Tokens, address: Address, *, join: bool) -> None:
    """Add a node to exchange with, or begin anew with one.

    Args:
        books: the books of all teams.
        team: whose.
        tokens: where the peer's token is kept.
        address: of the peer; it is asked which book it keeps.
        join: let our book become one with the peer's, though it began alone.

    Raises:
        PeerFailed: it does not answer, or refuses the token.
        OtherBook: it keeps another book, and ours may not become one with it.
    """
    theirs = (await ask_head(address)).book
    ours = await books.team_head(team)
    if ours.book != theirs and not ((join or ours.seq == 0) and await books.peers.join(team, theirs)):
        raise OtherBook(
            "the peer keeps another book: --join makes this one part of it, if it has met no other"
            if not join
            else "the peer keeps another book, and this one has met others already: it cannot be made part of it"
        )
    tokens.keep(team, address.name, address.token)
    await books.peers.set(team, address.name, address.url, standing=msgspec.json.encode(beginning(ours.seq)))


async def addresses(books: store.Book, team: UUID, tokens: Tokens, name: str | None = None) -> list[Address]:
    """Find a team's peers, or one of them.

    Raises:
        UnknownPeer: there is no such peer, or no token for it here.
    """
    kept = [peer for peer in await books.peers.list(team) if name in {None, peer.name}]
    if not kept:
        raise UnknownPeer("there are no peers: studbook peers add NAME URL" if name is None else f"no peer is {name}")
    return [Address(peer.name, peer.url, tokens.token(team, peer.name)) for peer in kept]


async def keep_exchanging(books: store.Book, tokens: Tokens) -> None:
    """Exchange with every peer again and again, until cancelled; one that fails is asked ever more seldom."""
    due: dict[tuple[UUID, str], tuple[float, int]] = {}
    while True:
        for team in tokens.teams():
            for peer in await _reachable(books, team, tokens):
                at, failures = due.get((team, peer.name), (0.0, 0))
                if time.monotonic() >= at:
                    failed = not await _exchanged(TeamBook(books, team), peer)
                    failures = failures + 1 if failed else 0
                    wait = min(EVERY_S * 2**failures, SELDOM_S) * random.uniform(0.7, 1.0)  # noqa: S311 - only to spread
                    due[team, peer.name] = (time.monotonic() + wait, failures)
        await asyncio.sleep(LOOK_EVERY_S)


async def _reachable(books: store.Book, team: UUID, tokens: Tokens) -> list[Address]:
    try:
        return await addresses(books, team, tokens)
    except (UnknownPeer, StoreUnavailable) as error:
        _log.info("no exchange: %s", error)
        return []


async def _exchanged(book: TeamBook, peer: Address) -> bool:
    try:
        done = await sync(book, peer)
    except (PeerFailed, StoreUnavailable) as error:
        _log.info("no exchange with %s: %s", peer.name, error)
        return False
    except Exception:  # noqa: BLE001 - logged; what is wrong with one peer must not end the exchange with the others
        _log.exception("the exchange with %s failed", peer.name)
        return False
    if done.sent or done.received or done.refused:
        _log.info(
            "exchanged with %s: %d sent, %d received, %d refused",
            peer.name,
            done.sent,
            done.received,
            len(done.refused),
        )
    return True
