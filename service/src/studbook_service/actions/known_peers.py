"""Other nodes that this one exchanges with: which they are, and the tokens they gave us.

An empty book takes a peer's identity by itself; one that holds entries takes it only when its owner joins it. A node is
its own home until it adds a peer at home. What the home decides comes in the head of its responses, and only when the
digest in the request differs.
"""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from uuid import UUID

import msgspec

from studbook.core.bearer_token import token_fault
from studbook_service import store
from studbook_service.exchange.book import OtherBook
from studbook_service.exchange.driver import Address, ask_head
from studbook_service.exchange.initiator import new_peer_state

_TOKEN_MOST: Final = 4096


class UnknownPeer(Exception):
    """There is no peer of that name, or no token for it here."""


@dataclass(frozen=True, slots=True)
class PeerTokens:
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
        text = file.read_bytes()[:_TOKEN_MOST].decode(errors="replace").strip()
        fault = token_fault(text)
        if fault is None:
            return text
        del text  # a traceback may show it
        raise UnknownPeer(f"what is kept as the token for {peer} is none ({fault}): studbook peers add {peer} URL")

    def teams(self) -> set[UUID]:
        """Name the teams that have peers."""
        folder = self.data / "peers"
        return {UUID(each.name) for each in folder.iterdir()} if folder.is_dir() else set()

    def _file(self, team: UUID, peer: str) -> Path:
        return self.data / "peers" / str(team) / peer


async def add_peer(
    books: store.BookStore, team: UUID, tokens: PeerTokens, address: Address, *, join: bool, by: str
) -> bool:
    """Add a node to exchange with, or begin again with one; where it is the book's home, it is ours from now on.

    Args:
        books: the books of all teams.
        team: whose.
        tokens: where the peer's token is kept.
        address: of the peer; its head says which book it keeps.
        join: let our book become one with the peer's, though it began alone.
        by: who does it.

    Returns:
        Whether the peer is our home now.

    Raises:
        PeerFailed: it does not answer, or refuses the token.
        OtherBook: it keeps another book, and ours may not become one with it.
    """
    head = await ask_head(address)
    ours = await books.team_head(team)
    if ours.book != head.book and not ((join or ours.seq == 0) and await books.peers.join(team, head.book)):
        raise OtherBook(
            "the peer keeps another book: --join makes this one part of it, if it has met no other"
            if not join
            else "the peer keeps another book, and this one has met others already: it cannot be made part of it"
        )
    tokens.keep(team, address.name, address.token)
    await books.peers.set(team, address.name, address.url, state=msgspec.json.encode(new_peer_state(ours.seq)))
    if head.at_home and await books.access.home(team) != address.name:
        event = store.audit_event(actor=by, action="home.set", subject="home", peer=address.name)
        await books.access.set_home(team, address.name, audit=event)
    return head.at_home


async def addresses(books: store.BookStore, team: UUID, tokens: PeerTokens, name: str | None = None) -> list[Address]:
    """Find a team's peers, or one of them.

    Raises:
        UnknownPeer: there is no such peer, or no token for it here.
    """
    kept = [peer for peer in await books.peers.list(team) if name in {None, peer.name}]
    if not kept:
        raise UnknownPeer("there are no peers: studbook peers add NAME URL" if name is None else f"no peer is {name}")
    return [Address(peer.name, peer.url, tokens.token(team, peer.name)) for peer in kept]
