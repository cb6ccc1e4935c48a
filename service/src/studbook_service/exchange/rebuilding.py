"""Rows into entries: each is rebuilt, hashed, and compared with what its sender says. The bad ones are refused by name.

Nothing of the sender is believed but what the hashes prove. What follows a refused entry is refused with it.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from msgspec import UNSET

from studbook.history.canonical import MAX_DEPTH, SLUG, Tree, UnrecordableError, canonical, encode
from studbook.history.changes import FieldChange, apply
from studbook.history.ids import LINE, Header, entry_id, hash_content
from studbook.history.leaves import Path, steps
from studbook.wire.exchange import Frame, FrameRow, Home, HomeMember, Refused
from studbook_service.exchange import trees
from studbook_service.exchange.book import ExchangeBook, ExchangedEntry
from studbook_service.exchange.composing import CHECK_BYTES, digest
from studbook_service.exchange.frames import BadFrames

BODY_MOST_BYTES: Final = 256 * 1024
NOTE_MOST: Final = 2000
PARENTS_MOST: Final = 64
CONTENT_BYTES: Final = 32
AT_MOST_MS: Final = 253_402_300_799_999
"""The last millisecond of the year 9999."""

_ID: Final = re.compile("[0-9a-f]{64}")


class _Unfit(Exception):
    """Why one row makes no entry."""

    def __init__(self, code: str, detail: str = "") -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


class KnownParents(NamedTuple):
    """What a book has of the parents of a frame's rows.

    Attributes:
        lines: line and kind of each.
        firsts: the parents whose documents the rows may be edits on.
    """

    lines: Mapping[str, tuple[str, str]]
    firsts: Mapping[str, ExchangedEntry]


@dataclass(frozen=True, slots=True)
class RebuiltFrame:
    """The entries of a frame.

    Attributes:
        ids: of all its entries that could be rebuilt, those refused for other reasons included.
        entries: the good ones.
        refused: the others.
    """

    ids: list[str]
    entries: list[ExchangedEntry]
    refused: list[Refused]


class Rebuilder:
    """Reads the rows of one stream.

    Args:
        via: who brings it, or None when nobody does.

    Example:
        >>> Rebuilder(via="n1").rebuild(Frame(), KnownParents({}, {})).entries
        []
    """

    def __init__(self, *, via: str | None) -> None:
        self._via = via
        self._lines: list[tuple[str, str]] = []
        self._authors: list[str] = []
        self._rows: list[str | None] = []
        self._last: dict[int, int] = {}
        self._line_of: dict[str, tuple[str, str]] = {}
        self._at = 0
        self._trees = trees.Trees()

    async def parents(self, frame: Frame, book: ExchangeBook) -> KnownParents:
        """Look up the parents that this stream did not bring; of first parents the documents too."""
        named: set[str] = set()
        firsts: set[str] = set()
        last = dict(self._last)
        for here, row in enumerate(frame.rows, start=len(self._rows)):
            refs = [last.get(row.on, here)] if row.after is UNSET else [_back(ref, here) for ref in row.after]
            ids = {id_ for ref in refs if _is_id(id_ := ref if isinstance(ref, str) else self._before(ref))}
            named |= ids - self._line_of.keys()
            if ids:
                firsts.add(min(ids))
            last[row.on] = here
        firsts = {id_ for id_ in firsts if id_ not in self._trees}
        return KnownParents(await book.has(named) if named else {}, await book.get(firsts) if firsts else {})

    def rebuild(self, frame: Frame, known: KnownParents) -> RebuiltFrame:
        """Rebuild a frame's entries.

        Args:
            frame: the next frame of the stream.
            known: what `parents` found for it.

        Raises:
            BadFrames: the frame does not say which entry is bad.
        """
        self._lines += frame.lines
        self._authors += frame.authors
        self._line_of |= known.lines
        for id_, parent in known.firsts.items():
            if not parent.erased:
                self._trees.keep(id_, trees.read(parent.body), len(parent.body))
        if len(frame.checks) != CHECK_BYTES * len(frame.rows):
            raise BadFrames("each entry has a check of 4 bytes")
        rebuilt = RebuiltFrame([], [], [])
        for place, row in enumerate(frame.rows):
            self._add(row, frame.checks[place * CHECK_BYTES :][:CHECK_BYTES].hex(), rebuilt)
        if len(rebuilt.ids) == len(frame.rows) and frame.rows and digest(rebuilt.ids) != frame.digest:
            raise BadFrames("the entries are not those the digest is of")
        return rebuilt

    def _add(self, row: FrameRow, check: str, rebuilt: RebuiltFrame) -> None:
        line = ""
        self._rows.append(None)
        try:
            self._at += row.at
            line, kind = _line(self._lines, row.on)
            entry, tree = self._entry(row, line, kind)
            if not entry.id.startswith(check):
                raise _Unfit("hash")  # noqa: TRY301 - one place turns a reason into a refusal
            rebuilt.ids.append(entry.id)
        except _Unfit as unfit:
            rebuilt.refused.append(Refused(id=check, line=line, code=unfit.code, detail=unfit.detail))
        else:
            self._rows[-1] = entry.id
            self._line_of[entry.id] = (line, kind)
            if tree is not None:
                self._trees.keep(entry.id, tree, len(entry.body))
            rebuilt.entries.append(entry)
        self._last[row.on] = len(self._rows) - 1

    def _entry(self, row: FrameRow, line: str, kind: str) -> tuple[ExchangedEntry, Tree | None]:
        author = _pick(self._authors, row.by, "author")
        _check_header(row, author, self._at)
        parents = self._parents(row, (line, kind))
        if row.content is UNSET:
            tree = self._tree(row, parents)
            body = encode(tree)
            if len(body) > BODY_MOST_BYTES:
                raise _Unfit("size", f"{len(body)} bytes, {BODY_MOST_BYTES} are accepted")
            content = hash_content(note=row.note, body=body)
        else:
            tree, body, content = None, b"", _erased(row, row.content)
        header = Header(
            kind=kind,
            line=line,
            parents=parents,
            author=author,
            at=self._at,
            content=content,
            carried_from=None if row.origin is UNSET else row.origin,
        )
        return ExchangedEntry(id=entry_id(header), header=header, note=row.note, body=body, via=self._via), tree

    def _parents(self, row: FrameRow, place: tuple[str, str]) -> tuple[str, ...]:
        here = len(self._rows) - 1
        if row.after is UNSET:
            if row.on not in self._last:
                raise _Unfit("form", "there is no row on this line to follow")
            found = [self._at_row(self._last[row.on])]
        else:
            found = [ref if isinstance(ref, str) else self._at_row(here - ref) for ref in row.after]
        if len(set(found)) < len(found) or len(found) > PARENTS_MOST:
            raise _Unfit("form", "a parent stands twice, or there are too many")
        for parent in found:
            if self._line_of.get(parent) != place:
                raise _Unfit("missing_parent", parent[:8] if _is_id(parent) else "")
        return tuple(sorted(found))

    def _before(self, place: int) -> str:
        """Give the id of an earlier frame's row; empty for a row of this frame, a refused one, or none."""
        return (self._rows[place] or "") if 0 <= place < len(self._rows) else ""

    def _at_row(self, place: int) -> str:
        if not 0 <= place < len(self._rows) - 1:
            raise _Unfit("form" if place < 0 else "cycle")
        found = self._rows[place]
        if found is None:
            raise _Unfit("parent_refused")
        return found

    def _tree(self, row: FrameRow, parents: Sequence[str]) -> Tree:
        try:
            if row.body is not UNSET or not parents:
                if row.put or row.cut:
                    raise _Unfit("form", "a whole document is not edited")
                tree: Tree = canonical({} if row.body is UNSET else row.body)
                return tree
            return apply(_changes(row), self._trees[parents[0]])
        except (UnrecordableError, OverflowError) as error:
            raise _Unfit("form", printable(str(error))) from None
        except KeyError:
            raise _Unfit("parent_erased", parents[0][:8]) from None


def _back(ref: int | str, here: int) -> int | str:
    return ref if isinstance(ref, str) else here - ref


def _is_id(text: str) -> bool:
    return _ID.fullmatch(text) is not None


def printable(text: str, most: int = 200) -> str:
    """Make a peer's text one line of letters that do nothing to a terminal.

    Example:
        >>> printable("two" + chr(10) + "lines", 6)
        'two?li'
    """
    return "".join(letter if letter.isprintable() else "?" for letter in text[:most])


def author_names(frame: Frame) -> dict[str, str]:
    """Give the names of a frame's authors by their ids, without what cannot be kept or shown."""
    names = {author: printable(frame.names[author]) for author in frame.authors if author in frame.names}
    return {author: name for author, name in names.items() if SLUG.fullmatch(author) and name}


def clean_home(home: Home) -> Home:
    """Give what the home decided, without what cannot be kept or shown.

    Example:
        >>> clean_home(Home(protected=["car/7/sheet/baseline", "../../etc"])).protected
        ['car/7/sheet/baseline']
    """
    return Home(
        members={
            id_: HomeMember(printable(each.name), each.role, each.ended, each.erased)
            for id_, each in home.members.items()
            if SLUG.fullmatch(id_)
        },
        protected=[line for line in home.protected if LINE.fullmatch(line)],
    )


def _pick(known: Sequence[Any], place: int, what: str) -> Any:
    if not 0 <= place < len(known):
        raise _Unfit("form", f"there is no {what} {place}")
    return known[place]


def _line(known: Sequence[tuple[str, str]], place: int) -> tuple[str, str]:
    line, kind = _pick(known, place, "line")
    if not LINE.fullmatch(line) or not SLUG.fullmatch(kind):
        raise _Unfit("form", "its line's name or kind is none")
    return line, kind


def _check_header(row: FrameRow, author: str, at: int) -> None:
    if not SLUG.fullmatch(author):
        raise _Unfit("form", "its author's id is none")
    if not 0 <= at <= AT_MOST_MS:
        raise _Unfit("form", "it is of no time between 1970 and the year 9999")
    if len(row.note) > NOTE_MOST or "\0" in row.note:
        raise _Unfit("form", f"a note is text of at most {NOTE_MOST} letters")
    if row.origin is not UNSET and not _is_id(row.origin):
        raise _Unfit("form", "it is carried from something that is no id")


def _erased(row: FrameRow, content: bytes) -> str:
    """Give the content id of an erased entry: nothing but its header's hash proves it."""
    if row.body is not UNSET or row.put or row.cut or row.note or len(content) != CONTENT_BYTES:
        raise _Unfit("form", "of what was erased only the hash is sent, of 32 bytes")
    return content.hex()


def _changes(row: FrameRow) -> Iterator[FieldChange]:
    for path in row.cut:
        yield FieldChange(_path(path))
    for path, value in row.put.items():
        where = _path(path)
        yield FieldChange(where, after=_leaf(value, len(where)))


def _path(text: str) -> Path:
    path = steps(text)
    if len(path) > MAX_DEPTH or not all(SLUG.fullmatch(step) for step in path):
        raise _Unfit("form", f"{text[:80]!r} is no path")
    return path


def _leaf(value: Any, depth: int) -> Any:
    """Bring one leaf to its form; arrays are nested no deeper than they may be at that depth."""
    if isinstance(value, dict):
        raise _Unfit("form", "a group of fields is no leaf")
    if not isinstance(value, list):
        return canonical(value)
    for _ in range(depth):
        value = [value]
    value = canonical(value)
    for _ in range(depth):
        value = value[0]
    return value
