"""Recording one entry on what its author has seen: the one way anything is written.

A change names the state it was made on by the line's tag. If the line moved on since, the change is refused, unless
it is a retry: then the entry it made the first time is the answer. A key that comes with a tag nobody knows is looked
up by pushing onto a tip that cannot exist, so the store needs no second way in.
"""

import datetime as dt
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import NamedTuple
from uuid import UUID

from msgspec import UNSET, UnsetType

from studbook.history.canonical import Tree, encode
from studbook.history.ids import Header, entry_id, hash_content, tips_tag
from studbook.wire import fields
from studbook.wire.entries import Pushed, Revision
from studbook.wire.operations.row import DECIDING
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.documents import refuse_large
from studbook_service.actions.lines import agreed
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.actions.results import Written
from studbook_service.actions.views import revision
from studbook_service.night.times import moment, ms_of
from studbook_service.store import Bearer, EntryHead, Judged, KeyReused, NewEntry, ProtectedLine, StaleTips, StoredEntry

AHEAD_MOST = dt.timedelta(days=1)
PARENTS_MOST = 16
"""An entry follows no more tips than these."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Precondition:
    """On what a change is made, and what a retry of it is known by.

    Attributes:
        tags: the tag the author saw (any of several); empty for a new line.
        new: the line is to be new.
        key: idempotency key, and `fingerprint` the hash of the request it stands for.
    """

    tags: frozenset[str] = frozenset()
    new: bool = False
    key: str | None = None
    fingerprint: bytes | None = None

    def saw(self, tips: Sequence[bytes]) -> bool:
        """Say whether the author saw just these tips."""
        return not self.new and tag_of(tips) in self.tags

    def split_of(self, tips: Sequence[EntryHead]) -> tuple[bytes, ...]:
        """Give the tips of the split that the author saw, of a line's tips as they are; none where it was not split.

        It stands there still, or was settled just now: by this very change, if it is a retry.
        """
        known = (tuple(tip.id for tip in tips), *(tip.parents for tip in tips))
        return next((ids for ids in known if len(ids) > 1 and self.saw(ids)), ())


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryDraft:
    """What is to be recorded.

    Attributes:
        compose: makes the body from the documents of the entries it follows.
        author: who says so, where it is not the bearer.
        parents: the tips it follows, where the author named them; else all, which then hold one document.
        afresh: it makes do without what it follows, should that have been erased.
        judged: by what of the book it was found fit, where it was.
    """

    line: str
    kind: str
    compose: Callable[[Sequence[Tree]], Tree]
    note: str = ""
    at: dt.datetime | UnsetType = UNSET
    carried_from: str | None = None
    author: str | None = None
    parents: tuple[bytes, ...] = field(default=())
    afresh: bool = False
    judged: Judged | None = None


class Recorded(NamedTuple):
    """What stands in the book for a change: now recorded, or found from before."""

    revision: Revision
    tag: str
    body: bytes
    fresh: bool


class _Ground(NamedTuple):
    """The tips a change was made on, and those of them it follows."""

    expected: tuple[bytes, ...]
    parents: tuple[bytes, ...]


def tag_of(tips: Sequence[bytes]) -> str:
    """Name a line's state by its tips."""
    return tips_tag(tip.hex() for tip in tips)


def saw_what_stands(tips: Collection[StoredEntry], precondition: Precondition) -> bool:
    """Say whether a change's author saw a line as it stands: all of its tips, or one of alike ones."""
    ids = [tip.id for tip in tips]
    return precondition.saw(ids) or (agreed(tips) and any(precondition.saw([id_]) for id_ in ids))


def check_time(at: dt.datetime | UnsetType) -> None:
    """Refuse a time before 1970 or more than a day ahead of this clock.

    Raises:
        Refusal: `bad_request`.
    """
    if at is not UNSET and not moment(0) <= at <= dt.datetime.now(dt.UTC) + AHEAD_MOST:
        detail = f"at: {at.isoformat()} is not between 1970 and one day from now"
        raise unfit("/at", detail, value=at.isoformat())


async def record(context: Context, bearer: Bearer, draft: EntryDraft, precondition: Precondition) -> Recorded:
    """Record a change, or find it recorded.

    Raises:
        Refusal: `stale` and `split` with the present tag and tips, `not_found` where there is no such line,
            `protected`, `erased`, `key_reused`, and what `draft.compose` raises.
        BookMoved: what it was judged by changed meanwhile.
    """
    tips = await context.book.tip_entries(bearer.team, draft.line)
    ground = _ground(tips, draft, precondition)
    if ground is None:
        entry, ground = _unseen(bearer, draft, precondition, tips)
    else:
        bases = await _bases(context, bearer.team, ground.parents, tips, afresh=draft.afresh)
        entry = _entry(bearer, draft, ground.parents, draft.compose(bases))
    try:
        pushed = await context.book.push(
            bearer.team,
            entry,
            expected=ground.expected,
            key=precondition.key,
            fingerprint=precondition.fingerprint,
            may_protected=bearer.role in DECIDING,
            judged=draft.judged,
        )
    except ProtectedLine:
        raise Refusal("protected", f"{draft.line} is protected: only a chief records on it") from None
    except StaleTips as stale:
        raise _stale(stale.tips, draft, precondition) from None
    except KeyReused:
        raise Refusal("key_reused", f"the key {precondition.key!r} came before with another request") from None
    if draft.kind == "sheet":
        context.background.wake(bearer.team)
    recorded = await context.entry(bearer.team, pushed.id)
    if pushed.replayed:
        now = tuple(tip.id for tip in await context.book.tips(bearer.team, recorded.line))
    else:
        now = (*(set(ground.expected) - set(ground.parents)), pushed.id)
    return Recorded(revision(recorded), tag_of(now), recorded.body, fresh=not pushed.replayed)


async def record_first(
    context: Context, bearer: Bearer, draft: EntryDraft, precondition: Precondition, *, exists: str
) -> Recorded:
    """Record the first entry of a line, or find it recorded.

    Raises:
        Refusal: `exists` in these words, and what `record` raises.
    """
    try:
        return await record(context, bearer, draft, precondition)
    except Refusal as refusal:
        if refusal.code != "stale":
            raise
        raise Refusal("exists", exists, tag=refusal.tag, tips=refusal.tips) from None


def _ground(tips: Sequence[StoredEntry], draft: EntryDraft, precondition: Precondition) -> _Ground | None:
    """Find what the author saw: the line as it is, or as it was one entry ago; None when it is neither."""
    if precondition.new:
        return _Ground((), ())
    if not tips:
        raise Refusal("not_found", f"there is no {draft.line}")
    ids = tuple(tip.id for tip in tips)
    if saw_what_stands(tips, precondition):
        if not draft.parents and not (agreed(tips) and len(ids) <= PARENTS_MOST):
            raise Refusal("split", f"{draft.line} has {len(ids)} tips", tag=tag_of(ids), tips=_hex(ids))
        if not set(draft.parents) <= set(ids):
            raise Refusal("stale", "a parent named is no tip", tag=tag_of(ids), tips=_hex(ids))
        return _Ground(ids, tuple(sorted(set(draft.parents or ids))))
    for tip in tips:
        before = tuple(sorted({*ids, *tip.parents} - {tip.id}))
        # A first entry that came from elsewhere follows nothing that the author saw.
        if tip.parents and precondition.saw(before) and (not draft.parents or set(draft.parents) == set(tip.parents)):
            return _Ground(before, tip.parents)
    return None


def _unseen(
    bearer: Bearer, draft: EntryDraft, precondition: Precondition, tips: Sequence[StoredEntry]
) -> tuple[NewEntry, _Ground]:
    """Make an entry that only a known key can answer: what its author saw is gone from the tips.

    The store looks the key up before it compares tips, and no entry has the id that stands for the tips unseen.
    """
    if precondition.key is None:
        raise _stale([tip.id for tip in tips], draft, precondition)
    gone = (sha256(",".join(sorted(precondition.tags)).encode()).digest(),)
    return _entry(bearer, draft, gone, {}), _Ground(gone, gone)


async def _bases(
    context: Context, team: UUID, parents: Sequence[bytes], tips: Sequence[StoredEntry], *, afresh: bool
) -> list[Tree]:
    bodies = {tip.id: tip.body for tip in tips}
    read = [bodies[id_] if id_ in bodies else (await context.document(team, id_)).body for id_ in parents]
    if not afresh and not all(read):
        raise Refusal("erased", "what the edits are made on was erased: give a whole document")
    return [tree_of(body) for body in read]


def _entry(bearer: Bearer, draft: EntryDraft, parents: tuple[bytes, ...], tree: Tree) -> NewEntry:
    at = dt.datetime.now(dt.UTC) if draft.at is UNSET else draft.at
    body = encode(tree)
    refuse_large(body)
    header = Header(
        kind=draft.kind,
        line=draft.line,
        parents=_hex(parents),
        author=draft.author or bearer.member,
        at=ms_of(at),
        content=hash_content(note=draft.note, body=body),
        carried_from=draft.carried_from,
    )
    return NewEntry(
        id=bytes.fromhex(entry_id(header)),
        kind=header.kind,
        line=header.line,
        parents=parents,
        content=bytes.fromhex(header.content),
        note=draft.note,
        body=body,
        author=header.author,
        at_ms=header.at,
        carried_from=None if draft.carried_from is None else encode(draft.carried_from),
    )


def _stale(tips: Sequence[bytes], draft: EntryDraft, precondition: Precondition) -> Refusal:
    detail = f"there is a {draft.line} already" if precondition.new else f"{draft.line} is not what you saw any more"
    return Refusal("stale", detail, tag=tag_of(tips), tips=_hex(tips))


def _hex(ids: Sequence[bytes]) -> tuple[str, ...]:
    return tuple(id_.hex() for id_ in ids)


def pushed(recorded: Recorded) -> Written:
    """Show a revision that was recorded, or found recorded."""
    shown = Pushed(
        revision=recorded.revision,
        tag=recorded.tag,
        recorded=recorded.fresh,
        unusual=fields.unusual(tree_of(recorded.body)),
    )
    return Written(shown, recorded.tag, made=recorded.revision.id, now=recorded.fresh)
