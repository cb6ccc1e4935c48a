"""Who may bring what.

Rules:
    Whether an entry is well formed is decided first, when it is rebuilt and hashed (`rebuilding.py`).
    An entry that the book holds already passes under any rules: it was admitted before, and its receipt got lost.
    What follows a refused entry is refused with it.
    A laptop that began alone joins with a token that `introduces`: its authors become crew, known by name and without
        a token here, and go on recording on their laptop. A chief's token introduces too: chiefs add members anyway.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from studbook.history.merge import AUTHOR as MERGE
from studbook.wire.exchange import Frame, Refused
from studbook_service.exchange import erasures
from studbook_service.exchange.book import ExchangeBook, ExchangedEntry
from studbook_service.exchange.rebuilding import RebuiltFrame, author_names

NOBODYS: Final = frozenset({MERGE, erasures.AUTHOR})
"""Authors who are members nowhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdmissionRules:
    """What one node may bring.

    Attributes:
        authors: whose entries are taken, `NOBODYS` among them; None for anybody's.
        introduces: entries of other authors are taken too, and these become members.
        closed: lines on which it may bring nothing.
        erasures: it may bring erasures.
    """

    authors: frozenset[str] | None = None
    introduces: bool = False
    closed: Collection[str] = ()
    erasures: bool = False


ANYTHING: Final = AdmissionRules()
"""Everything but erasures."""


@dataclass(slots=True)
class Gate:
    """Parts what one stream brings into admitted and refused entries.

    Attributes:
        via: who brings it.
        rules: what they may bring.
    """

    via: str
    rules: AdmissionRules
    _barred: set[str] = field(default_factory=set)
    _introduced: set[str] = field(default_factory=set)

    async def admit(self, frame: RebuiltFrame, book: ExchangeBook) -> RebuiltFrame:
        """Give the frame with what is not admitted among its refusals."""
        wrong = self._wrong(frame.entries, ())
        if wrong:
            wrong = self._wrong(frame.entries, await book.has(wrong))
        self._barred |= wrong.keys()
        refused = [
            Refused(id=entry.id[:8], line=entry.header.line, code=code, detail=_detail(entry, code))
            for entry in frame.entries
            if (code := wrong.get(entry.id))
        ]
        entries = [entry for entry in frame.entries if entry.id not in wrong]
        return replace(frame, entries=entries, refused=[*frame.refused, *refused])

    def newcomers(self, entries: Collection[ExchangedEntry], frame: Frame) -> Mapping[str, str]:
        """Name the authors of admitted entries whom the team never had; by their id where the frame has no name."""
        if self.rules.authors is None or not self.rules.introduces:
            return {}
        names = author_names(frame)
        found = {entry.header.author for entry in entries} - self.rules.authors - self._introduced
        self._introduced |= found
        return {author: names.get(author, author) for author in sorted(found)}

    def _wrong(self, entries: Sequence[ExchangedEntry], known: Collection[str]) -> dict[str, str]:
        """Give the reason for each entry that is refused."""
        wrong: dict[str, str] = {}
        for entry in entries:
            code = self._against(entry)
            if not code and any(parent in self._barred or parent in wrong for parent in entry.header.parents):
                code = "parent_refused"
            if code and entry.id not in known:
                wrong[entry.id] = code
        return wrong

    def _against(self, entry: ExchangedEntry) -> str:
        header, rules = entry.header, self.rules
        if header.kind == erasures.KIND and not rules.erasures:
            return "not_home"
        if header.line in rules.closed:
            return "protected"
        if not (rules.authors is None or rules.introduces or header.author in rules.authors):
            return "unknown_author"
        return ""


def _detail(entry: ExchangedEntry, code: str) -> str:
    return entry.header.author if code == "unknown_author" else ""
