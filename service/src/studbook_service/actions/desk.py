"""What every action works with: the book, who is who, what is remembered, and who computes."""

import asyncio
from collections import Counter
from dataclasses import dataclass, field, replace
from uuid import UUID

import msgspec

from studbook.history.canonical import Tree
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.clerk import Clerk
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.memory import Memory
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.searcher import Searcher
from studbook_service.actions.worker import Worker
from studbook_service.store import BookStore, StoredEntry

DocumentKey = tuple[UUID, bytes]
AnswerKey = tuple[UUID, str]
_MIB = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Document:
    """An entry's document, which never changes.

    Attributes:
        content: hash of note and body.
        body: canonical JSON; empty once it was erased.
    """

    content: bytes
    body: bytes


def _documents(most_bytes: int = 64 * _MIB) -> Memory[DocumentKey, Document]:
    return Memory(most_bytes=most_bytes)


def _answers(most_bytes: int = 64 * _MIB) -> Memory[AnswerKey, bytes]:
    return Memory(most_bytes=most_bytes)


def _protections() -> Memory[UUID, frozenset[str]]:
    return Memory(most_bytes=_MIB)


@dataclass(slots=True)
class Desk:
    """One process's place at the book.

    Memories are forgotten by putting a new one in their place: what a reading under way then puts into the old one is
    forgotten with it.

    Attributes:
        documents: by team and entry id; an entry never changes.
        answers: by team and the answer's tag, which names entries, engine and parameters.
        protections: each team's protected lines.
        refused: how many entries that other nodes brought were refused, by code.
        exchanges: with other nodes, where this service was started to exchange.
        exporting: held by the one export that lays out a page of rows.
        clerk: computes effects while nobody waits, where it was started.
    """

    book: BookStore
    bearers: Bearers
    worker: Worker
    documents: Memory[DocumentKey, Document] = field(default_factory=_documents)
    answers: Memory[AnswerKey, bytes] = field(default_factory=_answers)
    protections: Memory[UUID, frozenset[str]] = field(default_factory=_protections)
    searcher: Searcher = field(default_factory=Searcher)
    refused: Counter[str] = field(default_factory=Counter)
    exchanges: Exchanges | None = None
    exporting: asyncio.Lock = field(default_factory=asyncio.Lock)
    clerk: Clerk = field(init=False)

    def __post_init__(self) -> None:
        """Make the clerk of this book."""
        self.clerk = Clerk(self.book, self.worker)

    async def watch(self) -> None:
        """Forget what was known whenever access changed anywhere, or something was erased; until canceled."""
        await self.bearers.watch(self.forget)

    def forget(self) -> None:
        """Forget all that was read."""
        self.documents, self.answers = _documents(), _answers()
        self.forget_protection()
        self.clerk.forget()

    def forget_protection(self) -> None:
        """Forget which sheets are protected."""
        self.protections = _protections()

    def within(self, scope: str) -> "Desk":
        """Give the place at which a share's holder works: the book within its scope, and nothing of what teams read.

        Its memories last for one request.

        Args:
            scope: the line that is shared.
        """
        return replace(
            self,
            book=self.book.within(scope),
            documents=_documents(4 * _MIB),
            answers=_answers(4 * _MIB),
            protections=_protections(),
        )

    async def protected(self, team: UUID) -> frozenset[str]:
        """Give the lines on which only a chief records."""
        memory = self.protections
        found = memory.get(team)
        if found is None:
            found = await self.book.access.protected(team)
            memory.put(team, found, 100 + sum(len(line) + 50 for line in found))
        return found

    async def document(self, team: UUID, id_: bytes) -> Document:
        """Give an entry's document, from memory when it was read before.

        Raises:
            Refusal: `not_found`, the team has no such entry; `erased`, it has no document any more.
        """
        memory = self.documents
        document = memory.get((team, id_))
        if document is None:
            found = await self.book.document(team, id_)
            if found is None:
                raise _missing(id_)
            document = _keep(memory, team, id_, Document(*found))
        if not document.body:
            raise Refusal("erased", f"what revision {id_.hex()[:12]} held was erased")
        return document

    async def entry(self, team: UUID, id_: bytes) -> StoredEntry:
        """Read an entry; its body is empty once it was erased.

        Raises:
            Refusal: `not_found`, the team has no such entry.
        """
        memory = self.documents
        entry = await self.book.get(team, id_)
        if entry is None:
            raise _missing(id_)
        _keep(memory, team, id_, Document(entry.content, entry.body))
        return entry


def _keep(memory: Memory[DocumentKey, Document], team: UUID, id_: bytes, document: Document) -> Document:
    memory.put((team, id_), document, len(document.body) + 300)
    return document


def tree_of(body: bytes) -> Tree:
    """Decode a document; what was erased counts as empty.

    Example:
        >>> tree_of(b"")
        {}
    """
    return msgspec.json.decode(body, type=Tree) if body else {}


def _missing(id_: bytes) -> Refusal:
    return Refusal("not_found", f"there is no revision {id_.hex()[:12]}")
