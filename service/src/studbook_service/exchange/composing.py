"""Entries into rows: what differs from the first parent, with lines, authors and parents by reference."""

from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha256
from typing import Any, Final

from msgspec import UNSET, UnsetType

from studbook.history.changes import diff
from studbook.history.leaves import dotted
from studbook.wire.exchange import Cursor, Frame, FrameRow
from studbook_service.exchange import trees
from studbook_service.exchange.book import CHAIN_BYTES, ExchangeBook, ExchangedEntry, NumberedEntry

CHECK_BYTES: Final = 4
DIGEST_BYTES: Final = 16

_BODIES_ENOUGH: Final = 128 * 1024


def chunks(numbered: Sequence[NumberedEntry], rows: int) -> Iterator[Sequence[NumberedEntry]]:
    """Cut entries into what one frame holds: so many rows, or so many bytes."""
    start = size = 0
    for place, each in enumerate(numbered):
        size += len(each.entry.body)
        if place + 1 - start == rows or size >= _BODIES_ENOUGH:
            yield numbered[start : place + 1]
            start, size = place + 1, 0
    if start < len(numbered):
        yield numbered[start:]


def digest(ids: Sequence[str]) -> bytes:
    """Hash the ids of a frame's entries."""
    return sha256(bytes.fromhex("".join(ids))).digest()[:DIGEST_BYTES]


class Composer:
    """Writes the rows of one stream.

    Args:
        names: the members' names by their ids, sent with their first entries.
        whole: write whole documents, for a reader who may lack what they are changes of.

    Example:
        >>> Composer().frame([], {}, cursor=Cursor(0, bytes(8))).rows
        []
    """

    def __init__(self, names: Mapping[str, str] | None = None, *, whole: bool = False) -> None:
        self._names = names or {}
        self._whole = whole
        self._lines: dict[str, int] = {}
        self._authors: dict[str, int] = {}
        self._places: dict[str, int] = {}
        self._last: dict[str, str] = {}
        self._at = 0
        self._trees = trees.Trees()

    async def parents(self, entries: Sequence[ExchangedEntry], book: ExchangeBook) -> Mapping[str, ExchangedEntry]:
        """Fetch the first parents that are not at hand."""
        here = {entry.id for entry in entries}
        wanted = {entry.header.parents[0] for entry in entries if entry.header.parents} - here
        lacking = {id_ for id_ in wanted if id_ not in self._trees}
        return await book.get(lacking) if lacking else {}

    def frame(
        self,
        entries: Sequence[ExchangedEntry],
        parents: Mapping[str, ExchangedEntry],
        *,
        cursor: Cursor | UnsetType = UNSET,
        more: bool | UnsetType = UNSET,
    ) -> Frame:
        """Write a frame.

        Args:
            entries: in the book's order.
            parents: what `parents` fetched for them.
            cursor: how far the book has been sent with this frame.
            more: for the last frame.
        """
        for id_, parent in parents.items():
            if not parent.erased:
                self._trees.keep(id_, trees.read(parent.body), len(parent.body))
        lines, authors = len(self._lines), len(self._authors)
        kinds = {entry.header.line: entry.header.kind for entry in entries}
        rows = [self._row(entry) for entry in entries]
        added = list(self._authors)[authors:]
        ids = [entry.id for entry in entries]
        return Frame(
            lines=[(line, kinds[line]) for line in list(self._lines)[lines:]],
            authors=added,
            names={author: self._names[author] for author in added if author in self._names},
            rows=rows,
            checks=bytes.fromhex("".join(id_[: 2 * CHECK_BYTES] for id_ in ids)),
            digest=digest(ids) if ids else b"",
            cursor=cursor,
            more=more,
        )

    def _row(self, entry: ExchangedEntry) -> FrameRow:
        header = entry.header
        row = FrameRow(
            on=self._lines.setdefault(header.line, len(self._lines)),
            by=self._authors.setdefault(header.author, len(self._authors)),
            at=header.at - self._at,
            note=entry.note,
            after=self._after(entry),
            origin=UNSET if header.carried_from is None else header.carried_from,
            **self._content(entry),
        )
        self._at = header.at
        self._places[entry.id] = len(self._places)
        self._last[header.line] = entry.id
        return row

    def _after(self, entry: ExchangedEntry) -> list[int | str] | UnsetType:
        parents = entry.header.parents
        if parents == (self._last.get(entry.header.line),):
            return UNSET
        here = len(self._places)
        return [here - self._places[parent] if parent in self._places else parent for parent in parents]

    def _content(self, entry: ExchangedEntry) -> dict[str, Any]:
        """Give the edits on the first parent, or the document where that is shorter; of an erased one the hash."""
        if entry.erased:
            return {"content": bytes.fromhex(entry.header.content)}
        tree = trees.read(entry.body)
        self._trees.keep(entry.id, tree, len(entry.body))
        first = entry.header.parents[:1]
        if self._whole or not first or first[0] not in self._trees:
            return {"body": tree}
        changes = diff(self._trees[first[0]], tree)
        if sum(len(step) for change in changes for step in change.path) > len(entry.body):
            return {"body": tree}
        return {
            "put": {dotted(change.path): change.after for change in changes if change.after is not UNSET},
            "cut": [dotted(change.path) for change in changes if change.after is UNSET],
        }


def cursor(numbered: NumberedEntry) -> Cursor:
    """Name a place in a book."""
    return Cursor(numbered.seq, numbered.chain[:CHAIN_BYTES])
