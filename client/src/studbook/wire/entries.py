"""Cars, sheets, revisions, and the requests that record them."""

import datetime as dt
from typing import Annotated, Any

import msgspec
from msgspec import UNSET, Meta

from studbook.history.canonical import SLUG
from studbook.wire.units import Opt

Slug = Annotated[str, Meta(pattern=f"^{SLUG.pattern}$", description="1 to 48 of a-z, 0-9, _ and -")]
Id = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of an entry's header, hex")]
ShortId = Annotated[
    str, Meta(pattern=r"^[0-9a-f]{6,64}$", description="a revision's id, or its first 6 or more digits")
]
Note = Annotated[str, Meta(max_length=2000, description="why, in the crew's words")]
When = Annotated[dt.datetime, Meta(tz=True, description="a timestamp with its offset, at most one day ahead")]
Tree = dict[str, Any]

PAGE_LENGTH = 50
"""Items on a page, unless the request names another number."""


class Request(msgspec.Struct, forbid_unknown_fields=True, omit_defaults=True, kw_only=True):
    """Base of what a client sends: an unknown member is refused."""


class Answer(msgspec.Struct, omit_defaults=True, kw_only=True):
    """Base of what the service answers: a reader ignores members it does not know."""


class Edit(Request):
    """One leaf to set or remove.

    Attributes:
        path: dotted path, such as `setup.front.rf.upper_stud.length_in`.
        value: the new value; left out when removing.
        remove: take the leaf away.
    """

    path: Annotated[str, Meta(max_length=2000)]
    value: Opt[Any] = UNSET
    remove: bool = False


class NewCar(Request):
    """A car to enter in the book."""

    car: Slug
    name: Annotated[str, Meta(max_length=200)] = ""
    number: Annotated[str, Meta(max_length=12)] = ""
    note: Note = ""
    at: Opt[When] = UNSET


class CarChange(Request):
    """What to change about a car; left-out members stay."""

    name: Opt[Annotated[str, Meta(max_length=200)]] = UNSET
    number: Opt[Annotated[str, Meta(max_length=12)]] = UNSET
    retired: Opt[bool] = UNSET
    note: Note = ""


class NewRevision(Request):
    """A revision to record: `edits` on the tip, or a whole `document`; exactly one of the two.

    Attributes:
        note: why.
        parents: which tips it follows, needed on a split sheet only; else all that there are.
        at: when, if it was not now (a timestamp with offset).
        carried_from: id of the revision whose content was carried here.
        elsewhere: that revision is in another book, so this one need not know it.
        allow_unknown: accept fields that neither the schema nor the parent knows.
    """

    note: Note = ""
    edits: Opt[Annotated[list[Edit], Meta(max_length=5000)]] = UNSET
    document: Opt[Tree] = UNSET
    parents: Opt[Annotated[list[Id], Meta(min_length=1, max_length=16)]] = UNSET
    at: Opt[When] = UNSET
    carried_from: Opt[Id] = UNSET
    elsewhere: bool = False
    allow_unknown: bool = False


class Author(Answer):
    """Who wrote an entry: an opaque id that never changes, and the name kept beside it."""

    id: str
    name: str = ""


class Revision(Answer):
    """An entry of a line, without its body.

    Attributes:
        generation: 0 for a first entry, else one more than its highest parent's.
        at: when, by the author's clock; `received_at`: by this book's clock.
        content: hash of note and body: equal content, equal hash.
        erased: note and document were erased; all else stands and still verifies.
    """

    id: str
    kind: str
    line: str
    car: str
    parents: list[str]
    generation: int
    author: Author
    at: dt.datetime
    received_at: dt.datetime
    note: str
    content: str
    sheet: Opt[str] = UNSET
    carried_from: Opt[str] = UNSET
    erased: bool = False


class Unusual(Answer):
    """A value that was recorded but lies outside the usual range."""

    path: str
    value: float
    usual: list[float]
    unit: str


class Pushed(Answer):
    """What a push recorded, or found already recorded."""

    revision: Revision
    tag: str
    recorded: bool
    unusual: list[Unusual] = []


class Car(Answer):
    """A car as it stands."""

    car: str
    name: str
    number: str
    retired: bool
    revision: Revision
    tag: str


class Cars(Answer):
    """All cars of the team."""

    items: list[Car]


class SheetHead(Answer):
    """A sheet without its document.

    Attributes:
        split: it has several tips, and they do not hold one document; of alike ones the first stands for all.
        protected: only a chief may record on it.
    """

    car: str
    sheet: str
    tips: list[Revision]
    tag: str
    split: bool = False
    protected: bool = False


class Sheets(Answer):
    """A car's sheets."""

    items: list[SheetHead]


class ConflictSide(Answer):
    """One tip's value of a field in conflict.

    Attributes:
        tip: id.
        value: absent where that tip does not have the field.
        set_by: the revision that last changed it on that side: who, when and why; absent where the side left it as it
            was before the sides parted, or long ago.
    """

    tip: str
    value: Opt[Any] = UNSET
    set_by: Opt[Revision] = UNSET


class Conflict(Answer):
    """A field that the sides changed in different ways; all under a name where one has a value and one has fields.

    Attributes:
        base: what it was before the sides parted; absent where it was not there.
        base_unknown: the sides parted more than once and what they had in common disagrees; or it was erased, or lies
            too far back.
        sides: one for each tip, sorted by its id.
    """

    path: str
    sides: list[ConflictSide]
    base: Opt[Any] = UNSET
    base_unknown: bool = False
    unit: Opt[str] = UNSET


class Merge(Answer):
    """What the tips of a split sheet make together; computed, not recorded.

    Attributes:
        bases: ids of the last revisions that all tips have in common; several where they crossed.
        document: all on which the sides agree. Fields in conflict are left out: they wait for a choice.
        conflicts: by path; none when the merge can be accepted as it is.
        left: tips, the last ones, that are not in it, as there are too many to be merged at once.
        unlisted: conflicts that are not listed, as there are too many.
    """

    bases: list[str]
    document: Tree
    conflicts: list[Conflict]
    left: int = 0
    unlisted: int = 0


class Sheet(Answer):
    """A sheet as it stands: its tips, and its document while they hold one, else their merge.

    Attributes:
        split: its tips do not hold one document; of alike ones the first stands for all.
        protected: only a chief may record on it.
        erased: what the document or merge would be made of was erased, so it is absent.
    """

    car: str
    sheet: str
    tips: list[Revision]
    tag: str
    split: bool
    protected: bool = False
    erased: bool = False
    document: Opt[Tree] = UNSET
    merge: Opt[Merge] = UNSET


class Page(Request):
    """Which page of a list or history."""

    limit: Annotated[int, Meta(ge=1, le=200, description="most revisions on the page")] = PAGE_LENGTH
    cursor: Opt[Annotated[str, Meta(max_length=200, description="`next` of the page before")]] = UNSET


class History(Answer):
    """A page of a sheet's revisions, newest first; `next` is the cursor of the page after it."""

    items: list[Revision]
    next: Opt[str] = UNSET


class Since(Request):
    """Against which revision."""

    since: ShortId


class LeafChange(Answer):
    """One leaf that differs between two revisions; a side without it is absent."""

    path: str
    before: Opt[Any] = UNSET
    after: Opt[Any] = UNSET
    unit: Opt[str] = UNSET


class Changes(Answer):
    """What differs from `since` to `revision`."""

    since: str
    revision: str
    changes: list[LeafChange]
