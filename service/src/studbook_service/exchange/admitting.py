"""Who may bring what: entries that are whole and true, and yet not taken from just anybody."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from studbook.history.merge import AUTHOR as MERGE
from studbook.wire.exchange import Frame, Refused
from studbook_service.exchange import erasures
from studbook_service.exchange.book import Book, Entry
from studbook_service.exchange.rebuilding import Taken, names_in

NOBODYS: Final = frozenset({MERGE, erasures.AUTHOR})
"""Authors who are no members anywhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What one bringer may bring.

    Attributes:
        authors: whose entries are taken, `NOBODYS` among them; None for anybody's.
        introduces: entries of others are taken too, and these become members.
        closed: lines on which it may not bring anything.
        erasures: it may have content erased.
    """

    authors: frozenset[str] | None = None
    introduces: bool = False
    closed: Collection[str] = ()
    erasures: bool = False


ANYTHING: Final = Terms()
"""Whatever is no erasure."""


@dataclass(slots=True)
class Gate:
    """Lets in what one stream brings, as far as its bringer may.

    What is in the book already passes whatever the terms are by now: it was let in before, and its receipt got lost.

    Attributes:
        via: who brings it.
        terms: what they may bring.
    """

    via: str
    terms: Terms
    _barred: set[str] = field(default_factory=set)
    _introduced: set[str] = field(default_factory=set)

    async def admit(self, taken: Taken, book: Book) -> Taken:
        """Part what is let in from what is refused, with all that follows it."""
        wrong = self._wrong(taken.entries, ())
        if wrong:
            wrong = self._wrong(taken.entries, await book.has(wrong))
        self._barred |= wrong.keys()
        refused = [
            Refused(id=entry.id[:8], line=entry.header.line, code=code, detail=_detail(entry, code))
            for entry in taken.entries
            if (code := wrong.get(entry.id))
        ]
        entries = [entry for entry in taken.entries if entry.id not in wrong]
        return replace(taken, entries=entries, refused=[*taken.refused, *refused])

    def newcomers(self, entries: Collection[Entry], frame: Frame) -> Mapping[str, str]:
        """Name the authors of entries let in whom the team never had, by their id where the frame has no name."""
        if self.terms.authors is None or not self.terms.introduces:
            return {}
        names = names_in(frame)
        found = {entry.header.author for entry in entries} - self.terms.authors - self._introduced
        self._introduced |= found
        return {author: names.get(author, author) for author in sorted(found)}

    def _wrong(self, entries: Sequence[Entry], known: Collection[str]) -> dict[str, str]:
        """Say of each entry that is refused why."""
        wrong: dict[str, str] = {}
        for entry in entries:
            code = self._against(entry)
            if not code and any(parent in self._barred or parent in wrong for parent in entry.header.parents):
                code = "parent_refused"
            if code and entry.id not in known:
                wrong[entry.id] = code
        return wrong

    def _against(self, entry: Entry) -> str:
        header, terms = entry.header, self.terms
        if header.kind == erasures.KIND and not terms.erasures:
            return "not_home"
        if header.line in terms.closed:
            return "protected"
        if not (terms.authors is None or terms.introduces or header.author in terms.authors):
            return "unknown_author"
        return ""


def _detail(entry: Entry, code: str) -> str:
    return entry.header.author if code == "unknown_author" else ""
