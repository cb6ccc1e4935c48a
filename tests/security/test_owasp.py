"""The OWASP API Security Top 10 (2023, https://owasp.org/API-Security/editions/2023/en/0x11-t10/): items 1 to 5.

API1 broken object level authorization, API2 broken authentication, API3 broken object property level authorization,
API4 unrestricted resource consumption, API5 broken function level authorization. Items 6 to 10 are in
test_owasp_surroundings.py; bounds and hostile bodies in full, of API4, in test_limits.py and test_hostile.py.
"""

import datetime as dt
import gzip
import re
import zlib
from collections.abc import AsyncIterator, Callable
from dataclasses import replace
from itertools import count, cycle
from typing import Any

import asyncpg
import pytest
from litestar import get

from exchange.making import entry
from security.teams import (
    DOCUMENT,
    OF_FRAMES,
    UPPER_STUD,
    Team,
    ask,
    framework,
    full_team,
    hello,
    in_days,
    running,
    stored,
)
from studbook.wire.exchange import VERSION, Cursor, Head
from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.cars import LIST_CARS
from studbook.wire.operations.row import DECIDING, EVERYBODY, PUBLIC
from studbook_service.actions.operations import bound
from studbook_service.app import create_app
from studbook_service.exchange.frames import Writer
from studbook_service.http import service
from studbook_service.store import audit_event, mint, secret_hash

SHEET = "/v1/cars/7/sheets/baseline"
EDIT = {"path": UPPER_STUD, "value": 1.3}
RATE = 3  # requests a second where the rate is looked at; four times as many at once


@pytest.fixture(scope="module")
async def app(shared_database: Any) -> AsyncIterator[Any]:
    async with running(create_app(dsn=shared_database.serving_dsn, rate=0)) as app:
        yield app


@pytest.fixture(scope="module")
async def strict(shared_database: Any) -> AsyncIterator[Any]:
    """The application with a low rate."""
    async with running(create_app(dsn=shared_database.serving_dsn, rate=RATE)) as app:
        yield app


@pytest.fixture(scope="module")
async def ours(app: Any, shared_database: Any) -> Team:
    return await full_team(app, shared_database.owner_dsn, "Ours")


@pytest.fixture(scope="module")
async def theirs(app: Any, shared_database: Any) -> Team:
    return await full_team(app, shared_database.owner_dsn, "Theirs")


async def forged(team: Team, kind: str, **wanted: Any) -> str:
    """Let a token in past the front door."""
    token = mint()
    await team.context.book.access.add_token(
        team.founded.team,
        secret_hash=secret_hash(token),
        member=team.members[kind],
        label="made by a test",
        audit=audit_event(actor=team.members["chief"], action="token.make", subject=secret_hash(token).hex()[:12]),
        **wanted,
    )
    return token


# API1:2023 Broken Object Level Authorization


async def test_api1_object_level_a_revision_is_its_teams_alone(ours: Team, theirs: Team) -> None:
    """By full id and short, before and after its team has read it."""
    ref = theirs.refs[SHEET][0]
    for _ in range(2):
        for target in (f"/v1/revisions/{ref}/document", f"/v1/revisions/{ref[:10]}/document", f"/v1/revisions/{ref}"):
            assert (await ours.ask("chief", "GET", target)).status == 404
        await theirs.made("GET", f"/v1/revisions/{ref}/document")


async def test_api1_object_level_equal_names_open_ones_own_things_only(ours: Team, theirs: Team) -> None:
    """All teams have a car 7 with a baseline, and each reads its own."""
    for team, other in ((ours, theirs), (theirs, ours)):
        shown = await team.ask("viewer", "GET", SHEET)
        assert team.name in shown.text
        assert other.name not in shown.text


async def test_api1_object_level_a_share_opens_one_line(ours: Team) -> None:
    """Wherever the other car is named: in the path, in the query, beside the shared one."""
    shared, hidden = ours.refs[SHEET][0], ours.refs["/v1/cars/12/sheets/baseline"][0]
    for target in (
        "/v1/cars/12",
        "/v1/cars/12/sheets",
        f"/v1/revisions/{hidden}",
        f"/v1/revisions/{hidden}/loads",
        f"/v1/revisions/{shared}/changes?since={hidden}",
        f"/v1/revisions/{hidden}/changes?since={shared}",
        f"/v1/revisions/{shared}/effects?since={hidden[:12]}",
    ):
        assert (await ours.ask("share", "GET", target)).status == 404, target
    cars = (await ours.ask("share", "GET", "/v1/cars")).json["items"]
    assert [each["car"] for each in cars] == ["7"]
    await ours.share(sheet="tacky", kind="sheet share")
    assert (await ours.ask("sheet share", "GET", "/v1/cars")).json["items"] == []
    sheets = (await ours.ask("sheet share", "GET", "/v1/cars/7/sheets")).json["items"]
    assert [each["sheet"] for each in sheets] == ["tacky"]


async def test_api1_object_level_a_short_id_tells_nothing_of_others(ours: Team, theirs: Team) -> None:
    """Where another team's revision, or one outside a share, begins with the same digits, it is as if it did not."""
    own, foreign = alike(line_of(ours, "7"), line_of(theirs, "7"))
    mine, other = alike(line_of(ours, "7"), line_of(ours, "12"))
    for team, brought in ((ours, own), (theirs, foreign), (ours, mine), (ours, other)):
        await team.context.book.append(team.founded.team, [stored(brought)])
    for team, only in ((ours, own), (theirs, foreign)):
        assert (await team.ask("viewer", "GET", f"/v1/revisions/{own.id[:6]}")).json["id"] == only.id
    ambiguous = await ours.ask("viewer", "GET", f"/v1/revisions/{mine.id[:6]}")
    assert (ambiguous.status, set(ambiguous.json["candidates"])) == (409, {mine.id, other.id})
    assert (await ours.ask("share", "GET", f"/v1/revisions/{mine.id[:6]}")).json["id"] == mine.id


def line_of(team: Team, car: str) -> Callable[[int], Any]:
    """Make a car's sheet by the number in its notes."""
    line, author = f"car/{car}/sheet/alike", team.members["chief"]
    return lambda number: entry({"notes": f"{number}"}, line=line, author=author)


def alike(first: Callable[[int], Any], second: Callable[[int], Any]) -> tuple[Any, Any]:
    """Make entries of two kinds until one of each begins with the same 6 digits."""
    firsts, seconds = {}, {}
    for number in count():
        one, other = first(number), second(number)
        firsts[one.id[:6]], seconds[other.id[:6]] = one, other
        if one.id[:6] in seconds:
            return one, seconds[one.id[:6]]
        if other.id[:6] in firsts:
            return firsts[other.id[:6]], other
    raise AssertionError


async def test_api1_object_level_to_have_it_already_is_no_way_to_ask(ours: Team, theirs: Team) -> None:
    """Whoever knows an id and its tags learns nothing by If-None-Match: no 304 says that it is there."""
    ref = theirs.refs[SHEET][0]
    for target in (f"/v1/revisions/{ref}/document", f"/v1/revisions/{ref}", f"/v1/revisions/{ref}/damping"):
        tag = (await theirs.ask("chief", "GET", target)).headers["etag"]
        assert (await theirs.ask("chief", "GET", target, if_none_match=tag)).status == 304
        for held in (tag, "*"):
            assert (await ours.ask("chief", "GET", target, if_none_match=held)).status == 404


async def test_api1_object_level_a_laptop_gets_its_own_book(ours: Team, theirs: Team) -> None:
    """Whichever book it names, and wherever it says it stopped reading."""
    context = ours.context
    head = await context.book.team_head(theirs.founded.team)
    for asked in (
        Head(v=VERSION, book=head.book),
        Head(v=VERSION, book=head.book, cursor=Cursor(head.seq - 1, head.chain[:8])),
    ):
        writer = Writer()
        writer.add(asked)
        refused = await ours.ask("node", "POST", "/v1/exchange", writer.finish(), **OF_FRAMES)
        assert (refused.status, refused.code) == (409, "other_book")
        assert "Theirs" not in refused.text


async def test_api1_object_level_a_member_ends_no_token_of_anothers(ours: Team) -> None:
    chiefs = secret_hash(ours.tokens["chief"]).hex()[:12]
    for kind in ("viewer", "crew", "node"):
        assert (await ours.ask(kind, "DELETE", f"/v1/tokens/{chiefs}")).status == 404
        listed = (await ours.ask(kind, "GET", "/v1/tokens")).json["items"]
        assert {each["member"] for each in listed} == {ours.members[kind]}
    assert (await ours.ask("chief", "GET", "/v1/me")).status == 200


async def test_api1_object_level_an_idempotency_key_is_its_teams_alone(ours: Team, theirs: Team) -> None:
    """The same key and the same request make one car in each book, and nothing is told of the other's."""
    for team in (ours, theirs):
        first = await team.ask("crew", "POST", "/v1/cars", {"car": "key"}, idempotency_key="the-same")
        again = await team.ask("crew", "POST", "/v1/cars", {"car": "key"}, idempotency_key="the-same")
        assert (first.status, again.status) == (201, 200)
        assert again.json["revision"]["author"]["id"] == team.members["crew"]


# API2:2023 Broken Authentication


async def test_api2_authentication_every_mistyped_token_is_refused(app: Any, ours: Team) -> None:
    """One letter another, one left out, one more, two exchanged, and the start alone."""
    good = ours.tokens["chief"]
    letters = cycle("aZ9_-")
    wrong = {good[:place] + next(letters) + good[place + 1 :] for place in range(len(good))} - {good}
    wrong |= {good[:place] + good[place + 1 :] for place in range(len(good))}
    wrong |= {good + "0", good * 2, good[:4], good.upper(), good.lower(), good.removeprefix("sbk_"), f"{good}\x00"}
    wrong |= {good[:9] + good[10] + good[9] + good[11:]} - {good}
    for token in wrong:
        refused = await ask(app, "GET", "/v1/me", token=token)
        assert (refused.status, refused.code) == (401, "token_refused"), token


async def test_api2_authentication_the_token_is_read_in_its_header_only(app: Any, ours: Team) -> None:
    token = ours.tokens["chief"]
    for target, headers in (
        (f"/v1/me?access_token={token}", {}),
        (f"/v1/me?token={token}", {}),
        ("/v1/me", {"cookie": f"token={token}; authorization=Bearer {token}"}),
        ("/v1/me", {"x-api-key": token, "x-auth-token": token}),
        ("/v1/me", {"authorization": token}),
        ("/v1/me", {"authorization": f"Basic {token}"}),
        ("/v1/me", {"proxy-authorization": f"Bearer {token}"}),
    ):
        refused = await ask(app, "GET", target, headers=headers)
        assert (refused.status, refused.headers["www-authenticate"].split()[0]) == (401, "Bearer"), headers


async def test_api2_authentication_all_dead_tokens_look_alike(app: Any, shared_database: Any) -> None:
    """Whether a token was ever good is nobody's business: unknown, expired, ended, of an ended member or share."""
    team = await full_team(app, shared_database.owner_dsn, "Of the past")
    await team.made("PATCH", f"/v1/members/{team.members['viewer']}", {"ended": True})
    await team.made("DELETE", f"/v1/shares/{await team.share()}")
    dead = [mint(), *(team.tokens[kind] for kind in ("expired", "revoked", "viewer", "share"))]
    dead.append(await forged(team, "node", role="chief"))  # a laptop is no chief, whatever its token says
    told = set()
    for each in dead:
        refused = await ask(app, "GET", "/v1/me", token=each)
        body = re.sub('"request_id":"[0-9a-f]*"', "", refused.text)
        told.add((refused.status, body, refused.headers["www-authenticate"]))
    assert len(told) == 1
    assert told.pop()[0] == 401


async def test_api2_authentication_what_is_kept_opens_nothing(app: Any, ours: Team, shared_database: Any) -> None:
    """The database holds no token, and the hash it holds is none."""
    connection, dump = await asyncpg.connect(shared_database.owner_dsn), ""
    for (table,) in await connection.fetch("SELECT tablename FROM pg_tables WHERE schemaname = 'studbook'"):
        dump += str(await connection.fetch(f'SELECT * FROM studbook."{table}"'))  # noqa: S608 - its own tables
    await connection.close()
    assert ours.members["chief"] in dump
    for kind, token in ours.tokens.items():
        assert token not in dump, kind
        assert token[4:20] not in dump, kind
    for guess in (secret_hash(ours.tokens["chief"]).hex(), secret_hash(ours.tokens["chief"]).hex()[:12]):
        assert (await ask(app, "GET", "/v1/me", token=guess)).status == 401


async def test_api2_authentication_guessing_is_slowed(strict: Any) -> None:
    """Guesses are counted against the address they come from; another address is let in."""
    statuses = [(await ask(strict, "GET", "/v1/me", token=mint(), address="198.51.100.9")).status for _ in range(30)]
    assert statuses.count(401) < 20
    assert statuses[-1] == 429
    assert (await ask(strict, "GET", "/v1/me", token=mint(), address="198.51.100.10")).status == 401


# API3:2023 Broken Object Property Level Authorization


async def test_api3_property_level_nothing_is_set_that_was_not_offered(ours: Team) -> None:
    """Mass assignment: members of a body that only the service sets are refused, not ignored."""
    tag = ours.tags[SHEET]
    member = f"/v1/members/{ours.members['crew']}"
    until = in_days(30)
    for method, target, body, more in (
        ("POST", "/v1/cars", {"car": "13"}, {"author": "robin", "team": "x", "via": "n1", "seq": 1, "retired": True}),
        ("POST", f"{SHEET}/revisions", {"edits": [EDIT]}, {"author": "robin", "id": "0" * 64, "received_at": until}),
        ("PATCH", member, {"name": "Sam"}, {"erased": True, "id": "chief", "team_id": str(ours.founded.team)}),
        ("POST", "/v1/members", {"name": "Sam"}, {"ended": True, "erased": True}),
        ("POST", "/v1/tokens", {"label": "x"}, {"token": mint(), "id": "0" * 12, "team": "x", "expires_at": until}),
        (
            "POST",
            "/v1/shares",
            {"car": "7", "label": "x", "until": until},
            {"line": "car/12", "id": "s-1", "scope": ""},
        ),
    ):
        for name, value in more.items():
            refused = await ours.ask("chief", method, target, body | {name: value}, if_match=f'"{tag}"')
            assert (refused.status, refused.code) == (400, "bad_request"), (target, name)


async def test_api3_property_level_answers_hold_no_secret_and_no_inner_name(ours: Team) -> None:
    """Nor a team's inner id, nor a hash of a token, nor a token other than the one made just now."""
    inner = [str(ours.founded.team), ours.founded.team.hex]
    inner += [form for token in ours.tokens.values() for form in (token, token[4:]) if token.startswith("sbk_")]
    inner += [secret_hash(ours.tokens[kind]).hex() for kind in ("chief", "crew", "share")]
    for target in (
        *("/v1/me", "/v1/cars", "/v1/cars/7", "/v1/cars/7/sheets", SHEET, f"{SHEET}/history", "/v1/members"),
        *("/v1/tokens", "/v1/shares", "/v1/audit?limit=500", "/v1/peers", f"/v1/revisions/{ours.refs[SHEET][0]}"),
        *("/v1/nothing", "/metrics"),
    ):
        answer = await ours.ask("chief", "GET", target)
        told = answer.text + str(answer.pairs)
        assert not [each for each in inner if each in told], target


async def test_api3_property_level_a_share_is_told_no_names(ours: Team) -> None:
    """Not of people, and no line but its own; who wrote is an id that says nothing."""
    names = [f"{role} of Ours" for role in ("viewer", "crew", "node")] + ["Chris of Ours"]
    for target in (
        *("/v1/me", "/v1/cars", "/v1/cars/7", "/v1/cars/7/sheets", SHEET, f"{SHEET}/history"),
        *(f"/v1/revisions/{ref}" for ref in ours.refs[SHEET]),
        f"/v1/revisions/{ours.refs[SHEET][1]}/changes?since={ours.refs[SHEET][0]}",
    ):
        told = (await ours.ask("share", "GET", target)).text
        assert not [name for name in names if name in told], target
        assert "car/12" not in told


async def test_api3_property_level_nobody_raises_their_own_role(ours: Team) -> None:
    for kind in ("viewer", "crew", "node", "share"):
        for method, target, body in (
            ("PATCH", f"/v1/members/{ours.members.get(kind, 'm-aaaaaaaaaa')}", {"role": "chief"}),
            ("POST", "/v1/tokens", {"label": "more", "role": "chief"}),
            ("POST", "/v1/members", {"name": "me again", "role": "chief"}),
        ):
            assert (await ours.ask(kind, method, target, body)).status == 403
    above = await forged(ours, "viewer", role="chief")  # a token allows no more than its member may
    assert (await ask(ours.app, "GET", "/v1/me", token=above)).json["role"] == "viewer"
    assert (await ask(ours.app, "GET", "/v1/members", token=above)).status == 403


# API4:2023 Unrestricted Resource Consumption


async def test_api4_consumption_a_token_asks_so_often(strict: Any, shared_database: Any) -> None:
    """Beyond its rate it is told when to come again; another token is not held up by it."""
    busy, calm = [await Team.founded_in(strict, shared_database.owner_dsn, name) for name in ("Busy", "Calm")]
    first = await busy.ask("chief", "GET", "/v1/me")
    assert {"ratelimit", "ratelimit-policy"} <= first.headers.keys()
    answers = [await busy.ask("chief", "GET", "/v1/me") for _ in range(4 * RATE + 10)]
    assert answers[-1].code == "too_many"
    assert int(answers[-1].headers["retry-after"]) >= 1
    assert (await calm.ask("chief", "GET", "/v1/me")).status == 200


async def test_api4_consumption_bodies_and_pages_are_bounded(ours: Team) -> None:
    deep: Any = 1
    for _ in range(80):
        deep = {"a": deep}
    for method, target, body, status in (
        ("POST", "/v1/cars", b"{" + b" " * 1_100_000 + b"}", 413),
        ("POST", "/v1/cars", {"car": "14", "name": "x" * 201}, 400),
        ("POST", f"{SHEET}/revisions", {"document": deep}, 422),
        ("POST", f"{SHEET}/revisions", {"edits": [EDIT] * 5001}, 400),
        ("GET", f"{SHEET}/history?limit=201", None, 400),
        ("GET", "/v1/audit?limit=501", None, 400),
        ("GET", f"/v1/cars/{'7' * 9000}", None, 413),
    ):
        refused = await ours.ask("chief", method, target, body, if_match='"x"', content_type="application/json")
        assert refused.status == status, (target[:50], refused.text[:200])


async def test_api4_consumption_what_costs_too_much_is_refused_before_it_is_begun(ours: Team) -> None:
    """A search says what it would cost; finer steps than anybody needs are none that can be asked for."""
    ref = ours.refs[SHEET][0]
    studs = [{"joint": joint, "length_in": 1 + step / 64} for joint in ("upper", "lower") for step in range(20)]
    wanted = {"revision": ref, "corner": "rf", "camber_target": [[0, -4]], "studs": studs, "shims_within_in": 1}
    refused = await ours.ask("crew", "POST", "/v1/searches/studs", wanted)
    assert (refused.status, refused.code) == (422, "too_costly"), refused.text[:300]
    assert re.search(r"\d{3}", refused.json["detail"])
    refused = await ours.ask("crew", "GET", f"/v1/revisions/{ref}/front?low_in=-6&high_in=6&step_in=0.0001")
    assert (refused.status, refused.code) == (400, "bad_request")


async def test_api4_consumption_a_small_body_that_unpacks_large_is_refused(ours: Team) -> None:
    bomb = zlib.compress(bytes(50_000_000), 9)
    refused = await ours.ask("node", "POST", "/v1/exchange", bomb, **OF_FRAMES)
    assert (refused.status, refused.code) == (400, "bad_frames")
    packed = gzip.compress(b'{"car": "15"}')
    refused = await ours.ask("chief", "POST", "/v1/cars", packed, content_encoding="gzip")
    assert refused.status in {400, 415}


# API5:2023 Broken Function Level Authorization


async def test_api5_function_level_who_may_is_decided_for_every_operation() -> None:
    """And what only a chief may is in no other role's row."""
    for operation in OPERATIONS:
        assert operation.roles == PUBLIC or (operation.roles and operation.roles <= EVERYBODY), operation.name
    chiefs = {operation.name for operation in OPERATIONS if operation.roles == {"chief"}}
    assert {"list_members", "add_member", "change_member", "make_token", "make_share", "end_share"} < chiefs
    assert {"protect_sheet", "unprotect_sheet", "read_audit", "list_shares"} < chiefs
    for operation in OPERATIONS:
        if "share" in operation.roles:
            assert operation.name.startswith(("read_", "list_")), operation.name


async def test_api5_function_level_what_nobody_decided_nobody_may(ours: Team, monkeypatch: pytest.MonkeyPatch) -> None:
    """The roles of a row say who may; without a route for it, or with a route more, the application does not start."""
    [route] = [
        handler
        for route in framework(ours.app).routes
        for handler in getattr(route, "route_handlers", ())
        if handler.opt.get("operation") is LIST_CARS
    ]
    kinds = ("viewer", "crew", "chief", "node", "share")
    for roles in (frozenset[str](), frozenset({"crew"}), DECIDING, PUBLIC):
        monkeypatch.setitem(route.opt, "operation", replace(LIST_CARS, roles=roles))
        for kind in kinds:
            answer = await ours.ask(kind, "GET", "/v1/cars")
            wanted = (200, "") if kind in roles else (403, "not_allowed")
            assert (answer.status, answer.code if answer.status >= 400 else "") == wanted, (kind, roles)
    routes = bound()
    monkeypatch.setattr("studbook_service.app.bound", lambda: [each for each in routes if each[0] is not LIST_CARS])
    with pytest.raises(RuntimeError, match="list_cars"):
        create_app(dsn="postgresql://nowhere")
    monkeypatch.setattr("studbook_service.app.bound", lambda: routes)
    monkeypatch.setattr(service, "ROUTES", [*service.ROUTES, get("/v1/secrets")(service.live.fn)])
    with pytest.raises(RuntimeError, match="/v1/secrets"):
        create_app(dsn="postgresql://nowhere")


async def test_api5_function_level_no_detour_leads_to_a_chiefs_function(ours: Team) -> None:
    """Another spelling of the path or of the method is no other way in."""
    for method, target, headers in (
        ("GET", "/v1/members/", {}),
        ("GET", "/V1/MEMBERS", {}),
        ("GET", "//v1//members", {}),
        ("GET", "/v1/./members", {}),
        ("GET", "/v1/cars/../members", {}),
        ("GET", "/v1/cars/%2e%2e/members", {}),
        ("GET", "/v1/members%00", {}),
        ("GET", "/v1/members;x=1", {}),
        ("HEAD", "/v1/members", {}),
        ("GET", "/v1/cars", {"x_original_url": "/v1/members", "x_rewrite_url": "/v1/members"}),
        ("GET", "/v1/members", {"x_forwarded_for": "127.0.0.1", "x_real_ip": "127.0.0.1"}),
        ("POST", "/v1/me", {"x_http_method_override": "GET"}),
        ("GET", "/v1/members", {"x_http_method_override": "POST", "x_method_override": "POST"}),
    ):
        answer = await ours.ask("crew", method, target, **headers)
        assert "viewer of Ours" not in answer.text, target
        assert answer.status in {403, 404, 405} or target == "/v1/cars", (method, target, answer.status)


async def test_api5_function_level_a_share_takes_nothing_and_brings_nothing(ours: Team) -> None:
    ref = ours.refs[SHEET][0]
    for method, target, body, headers in (
        ("POST", "/v1/exchange", hello(), OF_FRAMES),
        ("POST", "/v1/what-if", {"revision": ref, "edits": [EDIT]}, {}),
        ("POST", f"{SHEET}/revisions", {"document": DOCUMENT}, {"if_none_match": "*"}),
        ("PATCH", "/v1/cars/7", {"name": "mine"}, {"if_match": '"x"'}),
        ("PUT", f"{SHEET}/protection", None, {}),
        ("GET", "/v1/members", None, {}),
        ("GET", "/v1/tokens", None, {}),
        ("GET", "/v1/audit", None, {}),
        ("GET", "/v1/peers", None, {}),
    ):
        refused = await ours.ask("share", method, target, body, **headers)
        assert (refused.status, refused.code) == (403, "not_allowed"), target


async def test_api5_function_level_a_share_ends_at_its_date(ours: Team) -> None:
    """It is made with one, not beyond two years, and past it is dead."""
    for days in (-1, 0, 800):
        refused = await ours.ask("chief", "POST", "/v1/shares", {"car": "7", "label": "x", "until": in_days(days)})
        assert refused.status == 400, days
    assert (await ours.ask("chief", "POST", "/v1/shares", {"car": "7", "label": "x"})).status == 400
    token = mint()
    await ours.context.book.access.add_share(
        ours.founded.team,
        id="s-aaaaaaaaaa",
        secret_hash=secret_hash(token),
        line="car/7",
        label="last year's friends",
        until=dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1),
        by=ours.members["chief"],
        audit=audit_event(actor=ours.members["chief"], action="share.make", subject="s-aaaaaaaaaa"),
    )
    assert (await ask(ours.app, "GET", "/v1/cars", token=token)).status == 401
