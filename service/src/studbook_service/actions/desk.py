"""What every action works with: the book, who is who, what is remembered, and who computes."""

from dataclasses import dataclass, field
from uuid import UUID

from studbook_service.actions.bearers import Bearers
from studbook_service.actions.memory import Memory
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.searcher import Searcher
from studbook_service.actions.worker import Worker
from studbook_service.store import Book, Entry

AnswerKey = tuple[UUID, str]


@dataclass(frozen=True, slots=True)
class Document:
    """An entry's document, which never changes.

    Attributes:
        content: hash of note and body.
        body: canonical JSON.
    """

    content: bytes
    body: bytes


def _documents() -> Memory[tuple[UUID, bytes], Document]:
    return Memory(most_bytes=64 * 1024 * 1024)


def _answers() -> Memory[AnswerKey, bytes]:
    return Memory(most_bytes=64 * 1024 * 1024)


@dataclass(frozen=True, slots=True)
class Desk:
    """One process's place at the book.

    Attributes:
        documents: by team and entry id; an entry never changes.
        answers: by team and the answer's tag, which names entries, engine and parameters.
    """

    book: Book
    bearers: Bearers
    worker: Worker
    documents: Memory[tuple[UUID, bytes], Document] = field(default_factory=_documents)
    answers: Memory[AnswerKey, bytes] = field(default_factory=_answers)
    searcher: Searcher = field(default_factory=Searcher)

    async def document(self, team: UUID, id_: bytes) -> Document:
        """Give an entry's document, from memory when it was read before.

        Raises:
            Refusal: `not_found`, the team has no such entry.
        """
        known = self.documents.get((team, id_))
        if known is not None:
            return known
        found = await self.book.document(team, id_)
        if found is None:
            raise _missing(id_)
        return self._keep(team, id_, Document(*found))

    async def entry(self, team: UUID, id_: bytes) -> Entry:
        """Read an entry.

        Raises:
            Refusal: `not_found`, the team has no such entry.
        """
        entry = await self.book.get(team, id_)
        if entry is None:
            raise _missing(id_)
        self._keep(team, id_, Document(entry.content, entry.body))
        return entry

    def _keep(self, team: UUID, id_: bytes, document: Document) -> Document:
        self.documents.put((team, id_), document, len(document.body) + 300)
        return document


def _missing(id_: bytes) -> Refusal:
    return Refusal("not_found", f"there is no revision {id_.hex()[:12]}")
