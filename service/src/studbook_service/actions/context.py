"""What one process gives every action: the book, who is who, what is cached, and who computes.

Documents are cached by team and id, not by content hash and a map of ids: that is one lookup, and entries never change.
"""

import asyncio
from collections import Counter
from dataclasses import dataclass, field, replace
from uuid import UUID

import msgspec

from studbook.history.canonical import Tree
from studbook_service.actions.background import BackgroundWorker
from studbook_service.actions.bearers import Bearers
from studbook_service.actions.cache import Cache
from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.search_process import SearchProcess
from studbook_service.store import BookStore, StoredEntry

DocumentKey = tuple[UUID, bytes]
AnswerKey = tuple[UUID, str]
_MIB = 1024 * 1024


@dataclass(frozen=True, slots=True)
class StoredDocument:
    """An entry's document, which never changes.

    Attributes:
        content: hash of note and body.
        body: canonical JSON; empty once it was erased.
    """

    content: bytes
    body: bytes


def _documents(most_bytes: int = 64 * _MIB) -> Cache[DocumentKey, StoredDocument]:
    return Cache(most_bytes=most_bytes)


def _answers(most_bytes: int = 64 * _MIB) -> Cache[AnswerKey, bytes]:
    return Cache(most_bytes=most_bytes)


def _protections() -> Cache[UUID, frozenset[str]]:
    return Cache(most_bytes=_MIB)


@dataclass(slots=True)
class Context:
    """What one process gives every action.

    Caches are forgotten by putting a new one in their place: what a reading under way then puts into the old one is
    forgotten with it.

    Attributes:
        documents: by team and entry id; an entry never changes.
        answers: by team and the answer's tag, which names entries, engine and parameters.
        protections: each team's protected lines.
        refused: how many entries that other nodes brought were refused, by code.
        exchanges: with other nodes, where this service was started to exchange.
        exporting: held by the one export that lays out a page of rows.
        background: computes effects while nobody waits, where it was started.
    """

    book: BookStore
    bearers: Bearers
    engine_thread: EngineThread
    documents: Cache[DocumentKey, StoredDocument] = field(default_factory=_documents)
    answers: Cache[AnswerKey, bytes] = field(default_factory=_answers)
    protections: Cache[UUID, frozenset[str]] = field(default_factory=_protections)
    search_process: SearchProcess = field(default_factory=SearchProcess)
    refused: Counter[str] = field(default_factory=Counter)
    exchanges: Exchanges | None = None
    exporting: asyncio.Lock = field(default_factory=asyncio.Lock)
    background: BackgroundWorker = field(init=False)

    def __post_init__(self) -> None:
        """Make the background worker of this book."""
        self.background = BackgroundWorker(self.book, self.engine_thread)

    async def watch(self) -> None:
        """Forget what was known whenever access changed anywhere, or something was erased; until canceled."""
        await self.bearers.watch(self.forget)

    def forget(self) -> None:
        """Forget all that was read."""
        self.documents, self.answers = _documents(), _answers()
        self.forget_protection()
        self.background.forget()

    def forget_protection(self) -> None:
        """Forget which sheets are protected."""
        self.protections = _protections()

    def within(self, scope: str) -> "Context":
        """Give the place at which a share's holder works: the book within its scope, and nothing of what teams read.

        Its caches last for one request. Its background worker is never started, and reads no further than its book.

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
        cache = self.protections
        found = cache.get(team)
        if found is None:
            found = await self.book.access.protected(team)
            cache.put(team, found, 100 + sum(len(line) + 50 for line in found))
        return found

    async def document(self, team: UUID, id_: bytes) -> StoredDocument:
        """Give an entry's document, from the cache when it was read before.

        Raises:
            Refusal: `not_found`, the team has no such entry; `erased`, it has no document any more.
        """
        cache = self.documents
        document = cache.get((team, id_))
        if document is None:
            found = await self.book.document(team, id_)
            if found is None:
                raise _missing(id_)
            document = _keep(cache, team, id_, StoredDocument(*found))
        if not document.body:
            raise Refusal("erased", f"what revision {id_.hex()[:12]} held was erased")
        return document

    async def entry(self, team: UUID, id_: bytes) -> StoredEntry:
        """Read an entry; its body is empty once it was erased.

        Raises:
            Refusal: `not_found`, the team has no such entry.
        """
        cache = self.documents
        entry = await self.book.get(team, id_)
        if entry is None:
            raise _missing(id_)
        _keep(cache, team, id_, StoredDocument(entry.content, entry.body))
        return entry


def _keep(
    cache: Cache[DocumentKey, StoredDocument], team: UUID, id_: bytes, document: StoredDocument
) -> StoredDocument:
    cache.put((team, id_), document, len(document.body) + 300)
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
