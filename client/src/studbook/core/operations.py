"""One function per address of the service: each makes a `Call`, nothing is sent here."""

import os
from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import msgspec
from msgspec import UNSET

from studbook.core.call import Call, as_json
from studbook.core.errors import local
from studbook.core.exporting import Extract, extract_of
from studbook.core.references import ID, SheetName
from studbook.history.canonical import SLUG, Tree
from studbook.wire.access import (
    Audit,
    Me,
    Member,
    MemberChange,
    Members,
    NewMember,
    NewShare,
    NewToken,
    Protection,
    Share,
    ShareMade,
    Shares,
    Token,
    TokenMade,
    Tokens,
)
from studbook.wire.answers import Effects, FrontAnswer, Travels, WhatIf
from studbook.wire.around_scales import (
    Race,
    RaceAnswer,
    Returned,
    ReturnedAnswer,
    SensitivityAnswer,
    SensitivityQuery,
    SessionWeights,
)
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingAnswer, DampingQuery
from studbook.wire.entries import (
    Car,
    CarChange,
    Cars,
    Changes,
    Edit,
    History,
    NewCar,
    NewRevision,
    Pushed,
    Revision,
    Sheet,
    Sheets,
)
from studbook.wire.exchange import Exchanged, Peers
from studbook.wire.export import ExportQuery, Tables
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook.wire.loads import Cornering, CorneringAnswer, LoadsAnswer, PerchesAnswer, PerchSearch
from studbook.wire.part_states import PartsQuery, PartStates
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook.wire.records import KINDS, NewRecord, Record, RecordChange, RecordKind, Records
from studbook.wire.searches import CarryOver, CarryOverAnswer, StudSearch, StudSearchAnswer
from studbook.wire.season import SeasonQuery, SeasonReport
from studbook.wire.work import JobTable

T = TypeVar("T")

NEW_LINE: Mapping[str, str] = {"If-None-Match": "*"}
"""What a push to a sheet that must not exist yet says."""


def seen(tag: str) -> Mapping[str, str]:
    """Say which state of a line the sender has seen.

    Example:
        >>> seen("3f9a")
        {'If-Match': '"3f9a"'}
    """
    return {"If-Match": f'"{tag}"'}


def edits_of(values: Mapping[str, Any], remove: Iterable[str] = ()) -> list[Edit]:
    """Spell values by dotted path, and paths to remove, as edits.

    Example:
        >>> edits_of({"notes": "tacky"}, ["measured.run"])[1].remove
        True
    """
    return [Edit(path=path, value=value) for path, value in values.items()] + [
        Edit(path=path, remove=True) for path in remove
    ]


def ready() -> Call[bool]:
    """Whether the service and its database answer."""
    return Call("GET", "/readyz", lambda _: True, repeatable=False)


def me() -> Call[Me]:
    """Who holds the token."""
    return _get("/v1/me", Me)


def members() -> Call[Members]:
    """The team's members."""
    return _get("/v1/members", Members)


def add_member(request: NewMember) -> Call[Member]:
    """Add a member; each sending makes one more."""
    return _decide("POST", "/v1/members", Member, request, repeatable=False)


def change_member(slug: str, request: MemberChange) -> Call[Member]:
    """Change a member."""
    return _decide("PATCH", _path("members", slug), Member, request)


def tokens() -> Call[Tokens]:
    """The team's tokens, or one's own."""
    return _get("/v1/tokens", Tokens)


def make_token(request: NewToken) -> Call[TokenMade]:
    """Make a token; a lost answer loses it, so it is sent once."""
    return _decide("POST", "/v1/tokens", TokenMade, request, repeatable=False)


def end_token(token: str) -> Call[Token]:
    """End a token."""
    return _decide("DELETE", _path("tokens", token), Token)


def shares() -> Call[Shares]:
    """What is shared with other teams."""
    return _get("/v1/shares", Shares)


def make_share(request: NewShare) -> Call[ShareMade]:
    """Share a car or a sheet; a lost answer loses the token, so it is sent once."""
    return _decide("POST", "/v1/shares", ShareMade, request, repeatable=False)


def end_share(share: str) -> Call[Share]:
    """End a share."""
    return _decide("DELETE", _path("shares", share), Share)


def protect(name: SheetName) -> Call[Protection]:
    """Let only a chief record on a sheet."""
    return _decide("PUT", _path("cars", name.car, "sheets", name.sheet, "protection"), Protection)


def unprotect(name: SheetName) -> Call[Protection]:
    """Let the crew record on a sheet again."""
    return _decide("DELETE", _path("cars", name.car, "sheets", name.sheet, "protection"), Protection)


def audit(*, after: int, limit: int) -> Call[Audit]:
    """A page of the record of changes to who may what, oldest first."""
    return _get("/v1/audit", Audit, [("after", str(after)), ("limit", str(limit))])


def cars() -> Call[Cars]:
    """All cars of the team."""
    return _get("/v1/cars", Cars)


def car(slug: str) -> Call[Car]:
    """One car."""
    return _get(_path("cars", slug), Car)


def new_car(request: NewCar) -> Call[Car]:
    """Enter a car."""
    return _write("POST", "/v1/cars", request, Car, {})


def change_car(slug: str, request: CarChange, tag: str) -> Call[Car]:
    """Change a car whose state `tag` was seen."""
    return _write("PATCH", _path("cars", slug), request, Car, seen(tag))


def sheets(slug: str) -> Call[Sheets]:
    """A car's sheets."""
    return _get(_path("cars", slug, "sheets"), Sheets)


def sheet(name: SheetName) -> Call[Sheet]:
    """A sheet as it stands."""
    return _get(_path("cars", name.car, "sheets", name.sheet), Sheet)


def push(name: SheetName, request: NewRevision, precondition: Mapping[str, str]) -> Call[Pushed]:
    """Record a revision on a sheet in the state that `precondition` names (`seen`, or `NEW_LINE`)."""
    path = _path("cars", name.car, "sheets", name.sheet, "revisions")
    return _write("POST", path, request, Pushed, precondition)


def accept(name: SheetName, tag: str) -> Call[Pushed]:
    """Record the merge of a split sheet whose state `tag` was seen."""
    path = _path("cars", name.car, "sheets", name.sheet, "merge")
    return Call("POST", path, as_json(Pushed), headers={**_key(), **seen(tag)})


def history(name: SheetName, *, limit: int, cursor: str | None = None) -> Call[History]:
    """A page of a sheet's revisions, newest first."""
    query = [("limit", str(limit)), *([("cursor", cursor)] if cursor else [])]
    return _get(_path("cars", name.car, "sheets", name.sheet, "history"), History, query)


def revision(ref: str) -> Call[Revision]:
    """A revision by its id or the beginning of it."""
    return _get(_path("revisions", ref), Revision)


def document(ref: str) -> Call[Tree]:
    """A revision's document."""
    return _get(_path("revisions", ref, "document"), dict[str, Any])


def changes(ref: str, since: str) -> Call[Changes]:
    """The leaves that differ between two revisions."""
    return _get(_path("revisions", ref, "changes"), Changes, [("since", since)])


def front(ref: str, travels: Travels | None = None) -> Call[FrontAnswer]:
    """How the front stands and moves."""
    return _get(_path("revisions", ref, "front"), FrontAnswer, _query(travels))


def rear(ref: str, over: BumpRolls | None = None) -> Call[RearAnswer]:
    """How the rear axle is held, stands and moves."""
    return _get(_path("revisions", ref, "rear"), RearAnswer, _query(over))


def joints(ref: str, forces: WheelForces | None = None) -> Call[JointsAnswer]:
    """What the front joints cost, and what they and their studs carry."""
    return _get(_path("revisions", ref, "joints"), JointsAnswer, _query(forces))


def damping(ref: str, asked: DampingQuery | None = None) -> Call[DampingAnswer]:
    """What the shocks, springs, bars, tires and gears come to."""
    return _get(_path("revisions", ref, "damping"), DampingAnswer, _query(asked))


def loads(ref: str) -> Call[LoadsAnswer]:
    """What the car weighs at each wheel, and what one step of everything does."""
    return _get(_path("revisions", ref, "loads"), LoadsAnswer)


def sensitivity(ref: str, asked: SensitivityQuery | None = None) -> Call[SensitivityAnswer]:
    """What one step of each thing does: the sheet for the wall."""
    return _get(_path("revisions", ref, "sensitivity"), SensitivityAnswer, _query(asked))


def after_race(request: Race) -> Call[RaceAnswer]:
    """What a car weighs after the race, against its rules."""
    return _ask("/v1/after-race", request, RaceAnswer)


def try_check(request: Returned) -> Call[ReturnedAnswer]:
    """What a car that came back tells; nothing is recorded."""
    return _ask("/v1/returned", request, ReturnedAnswer)


def check_findings(name: str) -> Call[ReturnedAnswer]:
    """What a recorded check tells."""
    return _get(f"{record_path(KINDS['check'], name)}/findings", ReturnedAnswer)


def session_weights(name: str) -> Call[SessionWeights]:
    """What a scale session comes to."""
    return _get(f"{record_path(KINDS['scale_session'], name)}/weights", SessionWeights)


def effects(ref: str, since: str, travels: Travels | None = None) -> Call[Effects]:
    """What the change from `since` does."""
    return _get(_path("revisions", ref, "effects"), Effects, [("since", since), *_query(travels)])


def what_if(request: WhatIf) -> Call[Effects]:
    """What edits would do."""
    return _ask("/v1/what-if", request, Effects)


def attitude(request: Attitude) -> Call[AttitudeAnswer]:
    """How a revision's car stands at an attitude."""
    return _ask("/v1/attitude", request, AttitudeAnswer)


def cornering(request: Cornering) -> Call[CorneringAnswer]:
    """How a revision's car stands in a corner."""
    return _ask("/v1/cornering", request, CorneringAnswer)


def search_perches(request: PerchSearch) -> Call[PerchesAnswer]:
    """Which perch turns reach a cross weight."""
    return _ask("/v1/searches/perches", request, PerchesAnswer)


def search_studs(request: StudSearch) -> Call[StudSearchAnswer]:
    """Which parts at one front corner come closest to a camber curve."""
    return _ask("/v1/searches/studs", request, StudSearchAnswer)


def search_carry_over(request: CarryOver) -> Call[CarryOverAnswer]:
    """By which parts one car reads at the front like another."""
    return _ask("/v1/searches/carry-over", request, CarryOverAnswer)


def records(kind: RecordKind, wanted: Mapping[str, str], *, limit: int, cursor: str | None = None) -> Call[Records]:
    """A page of records of a kind, by name."""
    query = [("limit", str(limit)), *wanted.items(), *([("cursor", cursor)] if cursor else [])]
    return _get(kind.path, Records, query)


def record(kind: RecordKind, name: str) -> Call[Record]:
    """One record."""
    return _get(record_path(kind, name), Record)


def new_record(kind: RecordKind, request: NewRecord) -> Call[Record]:
    """Enter a record."""
    record_path(kind, request.name)
    return _write("POST", kind.path, request, Record, {})


def change_record(kind: RecordKind, name: str, request: RecordChange, tag: str) -> Call[Record]:
    """Correct a record whose state `tag` was seen."""
    return _write("PATCH", record_path(kind, name), request, Record, seen(tag))


def record_history(kind: RecordKind, name: str, *, limit: int, cursor: str | None = None) -> Call[History]:
    """A page of what was recorded on a record's line, newest first."""
    query = [("limit", str(limit)), *([("cursor", cursor)] if cursor else [])]
    return _get(f"{record_path(kind, name)}/history", History, query)


def jobs() -> Call[JobTable]:
    """What each kind of job takes: the team's own figures over the defaults."""
    return _get("/v1/jobs", JobTable)


def shelf(asked: PartsQuery) -> Call[PartStates]:
    """How parts stand."""
    return _get("/v1/shelf", PartStates, _query(asked))


def season(asked: SeasonQuery) -> Call[SeasonReport]:
    """A season's report."""
    return _get("/v1/reports/season", SeasonReport, msgspec.to_builtins(asked).items())


def record_path(kind: RecordKind, name: str) -> str:
    """Give a record's address.

    Raises:
        BadReferenceError: that can be no name of this kind.

    Example:
        >>> from studbook.wire.records import KINDS
        >>> record_path(KINDS["outing"], "2026-05-02-north/7/heat-1")
        '/v1/outings/2026-05-02-north/7/heat-1'
    """
    try:
        kind.line(name)
    except ValueError as error:
        raise local("bad_reference", str(error)) from None
    return f"{kind.path}/{name}"


def peers() -> Call[Peers]:
    """Other nodes that hold the same book."""
    return _get("/v1/peers", Peers)


def sync(peer: str, *, number: int | None = None, within_s: float) -> Call[Exchanged]:
    """Exchange with another node, or with `number` hear how far that exchange is; the answer comes after `within_s`.

    Where the other node fails it was asked again and again already.
    """
    query = [("within_s", f"{within_s:g}"), *([] if number is None else [("number", str(number))])]
    return Call("POST", _path("peers", peer, "sync"), as_json(Exchanged), query=tuple(query), repeatable=False)


def tables() -> Call[Tables]:
    """The tables that the book is exported as."""
    return _get("/v1/export", Tables)


def export(table: str, asked: ExportQuery) -> Call[Extract]:
    """A part of a table."""
    return Call("GET", _path("export", table), extract_of, query=tuple(_query(asked)), streamed=True)


def _get(path: str, form: type[T], query: Iterable[tuple[str, str]] = ()) -> Call[T]:
    return Call("GET", path, as_json(form), query=tuple(query))


def _ask(path: str, request: msgspec.Struct, form: type[T]) -> Call[T]:
    """Ask in a body; nothing is stored, so it may be repeated without a key."""
    headers = {"Content-Type": "application/json"}
    return Call("POST", path, as_json(form), headers=headers, body=msgspec.json.encode(request))


def _decide(
    method: str, path: str, form: type[T], request: msgspec.Struct | None = None, *, repeatable: bool = True
) -> Call[T]:
    """Change who may what. Said twice it is true still, unless it makes something."""
    if request is None:
        return Call(method, path, as_json(form), repeatable=repeatable)
    headers = {"Content-Type": "application/json"}
    return Call(method, path, as_json(form), headers=headers, body=msgspec.json.encode(request), repeatable=repeatable)


def _write(method: str, path: str, request: msgspec.Struct, form: type[T], precondition: Mapping[str, str]) -> Call[T]:
    headers = {"Content-Type": "application/json", **_key(), **precondition}
    return Call(method, path, as_json(form), headers=headers, body=msgspec.json.encode(request))


def _key() -> Mapping[str, str]:
    return {"Idempotency-Key": os.urandom(16).hex()}


def _path(*steps: str) -> str:
    for step in steps:
        if not SLUG.fullmatch(step) and not ID.fullmatch(step):
            raise local("bad_reference", f"{step[:80]!r} is no name: 1 to 48 of a-z, 0-9, _ and -")
    return "/v1/" + "/".join(steps)


def _query(asked: msgspec.Struct | None) -> list[tuple[str, str]]:
    """Spell what is asked as query parameters; what is unset is left out."""
    if asked is None:
        return []
    given = {name: value for name, value in msgspec.structs.asdict(asked).items() if value is not UNSET}
    return [(name, value if isinstance(value, str) else f"{value:.10g}") for name, value in given.items()]
