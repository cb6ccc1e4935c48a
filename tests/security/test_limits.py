"""How much one may ask for: rates, addresses, waiting, costs, bodies. Each bound has a clear answer."""

import asyncio
import gzip
import json
from collections.abc import AsyncIterator
from typing import Any

import pytest
from prometheus_client.parser import text_string_to_metric_families

from security.teams import DOCUMENT, UPPER_STUD, Answer, Team, ask, running
from studbook_service.app import create_app
from studbook_service.http import time_limit
from studbook_service.http.limits import WINDOW_S, Buckets, place
from studbook_service.store import StoreUnavailable, audit_event, mint, open_book, secret_hash
from studbook_service.store import pool as pools
from studbook_service.store.connecting import connected
from studbook_service.store.errors import driver_errors

RATE = 5
AT_ONCE = RATE * WINDOW_S
OF_TOKEN, OF_ADDRESS = f'"token";q={AT_ONCE};w={WINDOW_S}', f'"address";q={AT_ONCE};w={WINDOW_S}'


class Clock:
    """A clock that the test sets."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture(scope="module")
async def strict(shared_database: Any) -> AsyncIterator[Any]:
    """The application with a low rate."""
    async with running(create_app(dsn=shared_database.serving_dsn, rate=RATE)) as app:
        yield app


@pytest.fixture(scope="module")
async def app(shared_database: Any) -> AsyncIterator[Any]:
    """The application without a rate."""
    async with running(create_app(dsn=shared_database.serving_dsn, rate=0)) as app:
        yield app


@pytest.fixture
def document() -> dict[str, Any]:
    """A full setup."""
    return dict(DOCUMENT)


@pytest.fixture(scope="module")
async def team(app: Any, shared_database: Any) -> Team:
    """A team with a car and a sheet."""
    team = await Team.founded_in(app, shared_database.owner_dsn)
    await team.add_car("7")
    return team


# Rates


def test_a_bucket_gives_what_comes_in_and_no_more() -> None:
    clock = Clock()
    buckets = Buckets(10, clock=clock)
    assert [buckets.take("a") for _ in range(41)] == [*range(39, -1, -1), None]
    assert buckets.take("b") == 39
    clock.now = 0.5
    assert [buckets.take("a") for _ in range(6)] == [4, 3, 2, 1, 0, None]
    clock.now = 100
    assert buckets.take("a") == 39


@pytest.mark.parametrize("beat_s", [0.01, 0.3, 0.7, 3.9, 4.1, 9.0])
def test_forgetting_gives_nobody_more_than_the_rate(beat_s: float) -> None:
    """Over any span: what fits at once and what came in since, whatever was forgotten between."""
    clock = Clock()
    buckets = Buckets(10, clock=clock)
    got = 0
    while clock.now < 40:
        for _ in range(200):
            got += buckets.take("a") is not None
        clock.now += beat_s
    came_in = min(10 * beat_s, 40) * clock.now / beat_s
    assert 0.9 * came_in - 40 <= got <= 40 + 10 * clock.now + 1e-6


def test_strangers_without_number_take_bounded_memory() -> None:
    clock = Clock()
    buckets = Buckets(10, most=100, clock=clock)
    for stranger in range(10_000):
        buckets.take(str(stranger))
        clock.now += 0.001
    assert len(buckets) <= 202
    assert [buckets.take("newcomer") for _ in range(3)][-1] is None  # they share what is left
    clock.now += 2 * WINDOW_S
    assert buckets.take("newcomer") == 39


def test_places_of_addresses() -> None:
    assert place("2001:db8:1:2::7") == place("2001:db8:1:2:ffff::1") != place("2001:db8:1:3::7")
    assert place("::ffff:192.0.2.7") == place("192.0.2.7") != place("192.0.2.8")
    assert place("fe80::1%eth0") == place("fe80::1")
    assert len(place("a:" * 1000)) <= 64


async def test_who_asks_too_often_is_told_when_to_come_back(strict: Any, shared_database: Any) -> None:
    one, two = [await Team.founded_in(strict, shared_database.owner_dsn, name) for name in ("One", "Two")]
    for team in (one, two):  # met once, so that the process knows the token
        await team.made("GET", "/v1/me")
    told = [await one.ask("chief", "GET", "/v1/me") for _ in range(AT_ONCE + 1)]
    assert [each.status for each in told] == [200] * AT_ONCE + [429]
    assert [each.headers["ratelimit-policy"] for each in told] == [OF_TOKEN] * len(told)
    assert told[0].headers["ratelimit"] == f'"token";r={AT_ONCE - 1};t=1'
    assert told[-1].headers["ratelimit"] == '"token";r=0;t=1'
    assert told[-1].headers["retry-after"] == "1"
    assert told[-1].code == "too_many"
    assert (await two.ask("chief", "GET", "/v1/me")).status == 200
    await asyncio.sleep(1.01)  # what Retry-After says
    assert (await one.ask("chief", "GET", "/v1/me")).status == 200


async def test_without_a_good_token_an_address_is_counted(strict: Any, shared_database: Any) -> None:
    team = await Team.founded_in(strict, shared_database.owner_dsn)
    await team.made("GET", "/v1/me")
    bad = [mint(), "sbk_short", None, mint()]
    told = [
        await ask(strict, "GET", "/v1/cars", token=bad[turn % 4], address="198.51.100.1") for turn in range(AT_ONCE + 1)
    ]
    assert [each.status for each in told] == [401] * AT_ONCE + [429]
    assert {each.headers["ratelimit-policy"] for each in told} == {OF_ADDRESS}
    for path in ("/livez", "/nowhere", "/metrics"):
        assert (await ask(strict, "GET", path, address="198.51.100.1")).status == 429
    assert (await ask(strict, "GET", "/v1/cars", address="198.51.100.2")).status == 401
    # A good token is served from there all the same, once it is known; what others changed makes it unknown again.
    await team.made("GET", "/v1/me")
    assert (await ask(strict, "GET", "/v1/me", token=team.tokens["chief"], address="198.51.100.1")).status == 200


async def test_without_a_rate_there_are_no_headers(app: Any) -> None:
    assert not {"ratelimit", "ratelimit-policy"} & (await ask(app, "GET", "/livez")).headers.keys()


# Denials and counts


async def test_denials_are_lines_and_counts(app: Any, team: Team, caplog: Any) -> None:
    token = team.tokens["chief"]
    bad = mint()
    none = await ask(app, "GET", "/v1/cars")
    wrong = await ask(app, "GET", f"/v1/cars/{token}", token=bad)
    silly = await ask(app, "GET", "/v1/cars/a%0d%0arequest%20forged", token="letmein")  # noqa: S106 - no password
    assert [each.code for each in (none, wrong, silly)] == ["token_needed", "token_refused", "token_refused"]
    bad_id = secret_hash(bad).hex()[:12]
    told = [
        (none, "token_needed, no token, GET /v1/cars"),
        (wrong, f"token_refused, token {bad_id}, GET /v1/cars/sbk_..."),
        (silly, r"token_refused, no token of ours, GET /v1/cars/a\r\nrequest forged"),
    ]
    lines = [record.getMessage() for record in caplog.records]
    assert lines == [f"request {answer.headers['x-request-id']} denied: {said}" for answer, said in told]
    assert token not in caplog.text + wrong.text
    counts = await metrics(app)
    assert counts["studbook_denials_total", "token_needed"] >= 1
    assert counts["studbook_denials_total", "token_refused"] >= 2


async def test_the_log_is_not_flooded_by_who_asks_too_often(strict: Any, caplog: Any) -> None:
    for _ in range(300):
        await ask(strict, "GET", "/livez", address="198.51.100.3")
    assert 0 < len(caplog.records) < 60


async def metrics(app: Any) -> dict[tuple[str, ...], float]:
    """Read the page as Prometheus does."""
    page = await ask(app, "GET", "/metrics", address="127.0.0.1")
    assert page.headers["content-type"].startswith("text/plain; version=0.0.4")
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(page.text)
        for sample in family.samples
    }


async def test_metrics(app: Any, team: Team) -> None:
    await team.made("GET", "/v1/cars/7")
    await team.ask("chief", "GET", "/v1/cars/8")
    await ask(app, "BREW", "/v1/cars/8")
    await ask(app, "GET", "/no/such/address")
    counts = await metrics(app)
    assert counts["studbook_requests_total", "GET", "/v1/cars/{car}", "200"] >= 1
    assert counts["studbook_requests_total", "GET", "/v1/cars/{car}", "404"] >= 1
    assert counts["studbook_pool_most", "access"] == 3
    assert counts["studbook_pool_in_use", "book"] == 0
    routes = {key[1:3] for key in counts if key[0] == "studbook_requests_total"}
    assert {method for method, _ in routes} <= {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "other"}
    assert not any("such" in route or "8" in route for _, route in routes)


async def test_metrics_are_not_found_through_a_proxy(app: Any) -> None:
    for header in ("x-forwarded-for", "X-Forwarded-For"):
        hidden = await ask(app, "GET", "/metrics", headers={header: "203.0.113.9"})
        assert (hidden.status, hidden.code) == (404, "not_found")


# Waiting


async def test_a_full_pool_is_said_and_makes_neither_readiness_nor_revocation_late(
    app: Any, team: Team, shared_database: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pools, "CONNECTION_WITHIN_S", 0.2)
    book = app.app.app.state.context.book
    await team.join("crew")
    mine = team.tokens["crew"]
    for _ in range(4):
        assert (await ask(app, "GET", "/v1/me", token=mine)).status == 200
        await asyncio.sleep(0.1)
    held = [await book.pool.acquire() for _ in range(book.pool.get_max_size())]
    try:
        full = await team.ask("chief", "GET", "/v1/cars")
        assert (full.status, full.code, full.headers["retry-after"]) == (503, "unavailable", "1")
        app.app.app.state.readiness._until = 0
        assert (await ask(app, "GET", "/readyz")).status == 200
        assert (await ask(app, "GET", "/v1/me", token=mint())).status == 401  # asked, and answered
        elsewhere = await open_book(shared_database.serving_dsn, size=1)
        recorded = audit_event(actor=team.members["chief"], action="token.end", subject=secret_hash(mine).hex()[:12])
        assert await elsewhere.access.revoke_token(team.founded.team, secret_hash(mine).hex()[:12], audit=recorded)
        await elsewhere.close()
        await asyncio.sleep(1)
        assert (await ask(app, "GET", "/v1/me", token=mine)).status == 401
    finally:
        for connection in held:
            await book.pool.release(connection)
    assert (await team.ask("chief", "GET", "/v1/cars")).status == 200


async def test_the_server_itself_ends_what_takes_too_long(shared_database: Any) -> None:
    """In the service's sessions; a migration may take its time."""
    pool = await pools.open_pool(shared_database.serving_dsn, size=1)
    for setting in ("statement_timeout", "idle_in_transaction_session_timeout"):
        assert await pool.fetchval(f"SHOW {setting}") == "15s"
    async with pool.acquire() as connection, connection.transaction():
        await connection.execute("SET LOCAL statement_timeout = '50ms'")
        with pytest.raises(StoreUnavailable), driver_errors():
            await connection.fetchval("SELECT pg_sleep(10)")
    await pool.close()
    async with connected(shared_database.owner_dsn) as owner:
        assert await owner.fetchval("SHOW statement_timeout") == "0"


async def test_a_request_that_does_not_end_is_given_up(app: Any, team: Team, monkeypatch: pytest.MonkeyPatch) -> None:
    async def never(*_: Any) -> None:
        await asyncio.sleep(60)

    monkeypatch.setattr(time_limit, "ANSWER_WITHIN_S", 0.1)
    monkeypatch.setattr(app.app.app.state.context.book, "head_entries", never)
    slow = await team.ask("chief", "GET", "/v1/cars")
    assert (slow.status, slow.code, slow.headers["retry-after"]) == (503, "too_slow", "1")


async def test_a_body_that_never_ends_is_given_up(app: Any, team: Team, monkeypatch: pytest.MonkeyPatch) -> None:
    """Slow loris: a byte now and then. No connection to the database is held meanwhile."""
    monkeypatch.setattr(time_limit, "ANSWER_WITHIN_S", 0.3)
    sent: list[dict[str, Any]] = []
    busiest = 0

    async def drop() -> dict[str, Any]:
        nonlocal busiest
        busiest = max(busiest, app.app.app.state.context.book.pool.in_use)
        await asyncio.sleep(0.02)
        return {"type": "http.request", "body": b" ", "more_body": True}

    async def keep(message: dict[str, Any]) -> None:
        sent.append(message)

    sent_headers = {"authorization": f"Bearer {team.tokens['chief']}", "content-type": "application/json"}
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": "/v1/cars",
        "raw_path": b"/v1/cars",
        "query_string": b"",
        "headers": [(name.encode(), value.encode()) for name, value in sent_headers.items()],
        "client": ("192.0.2.7", 50_000),
        "state": {},
    }
    await app(scope, drop, keep)
    assert (sent[0]["status"], json.loads(sent[1]["body"])["code"]) == (503, "too_slow")
    assert busiest == 0


# Costs


@pytest.mark.parametrize(
    ("target", "body", "most", "unit"),
    [
        ("searches/studs", {"most_count": 1000}, 1000, "combinations"),
        ("searches/studs", {"most_count": 400_000, "camber_target": [[0, -4]] * 29}, 3_000_000, "poses"),
        ("searches/carry-over", {"most_count": 1000}, 1000, "combinations"),
        (
            "rear",
            "?low_in=-8&high_in=8&step_in=0.25&roll_low_deg=-12&roll_high_deg=12&roll_step_deg=0.25",
            2000,
            "poses",
        ),
    ],
    ids=["combinations", "poses", "carry-over", "table"],
)
async def test_what_costs_too_much_is_refused_before_it_begins(
    team: Team, document: dict[str, Any], target: str, body: Any, most: int, unit: str
) -> None:
    if "/v1/cars/7/sheets/baseline" not in team.tags:
        await team.push("/v1/cars/7/sheets/baseline", document=document)
    id_ = team.refs["/v1/cars/7/sheets/baseline"][0]
    stock = [{"joint": "either", "length_in": 1.2 + place / 40} for place in range(9)]
    asked = {"revision": id_, "studs": stock, "shims_within_in": 0.25, "spacers_within_in": 0.25}
    if target == "rear":
        answer = await team.ask(
            "viewer" if "viewer" in team.tokens else "chief", "GET", f"/v1/revisions/{id_}/rear{body}"
        )
    else:
        asked |= {"source": id_} if "carry" in target else {"corner": "rf", "camber_target": [[0, -4]]}
        answer = await team.ask("chief", "POST", f"/v1/{target}", asked | body)
    assert (answer.status, answer.code) == (422, "too_costly"), answer.text
    [fault] = answer.json["errors"]
    assert (fault["most"], fault["unit"]) == (most, unit)
    assert fault["value"] > most
    assert f"{fault['value']:,} {unit}" in answer.json["detail"]
    assert f"{most:,}" in answer.json["detail"]


async def test_travels_are_bounded_by_their_own_steps(team: Team, document: dict[str, Any]) -> None:
    if "/v1/cars/7/sheets/baseline" not in team.tags:
        await team.push("/v1/cars/7/sheets/baseline", document=document)
    id_ = team.refs["/v1/cars/7/sheets/baseline"][0]
    refused = await team.ask("chief", "GET", f"/v1/revisions/{id_}/front?step_in=0.0001")
    assert (refused.status, refused.json["errors"][0]["least"]) == (400, 0.05)


# Bodies and what is around them


async def post(team: Team, body: Any, **headers: str) -> Answer:
    return await team.ask("chief", "POST", "/v1/cars/7/sheets/limits/revisions", body, if_none_match="*", **headers)


async def test_a_packed_body_is_refused_unopened(team: Team) -> None:
    packed = gzip.compress(b"{" + b" " * 10_000_000 + b"}")
    for coding in ("gzip", "deflate", "br", "zstd", "gzip, identity"):
        refused = await post(team, packed, content_type="application/json", content_encoding=coding)
        assert (refused.status, refused.code) == (415, "media_type")
    assert (await post(team, {"edits": [], "color": 1}, content_encoding="identity")).code == "bad_request"


async def test_a_token_is_not_written_into_the_book(team: Team) -> None:
    token = team.tokens["chief"]
    for body in ({"note": f"my token is {token}", "document": {}}, {"document": {"notes": token}}):
        refused = await post(team, body)
        assert (refused.status, refused.code) == (400, "bad_request")
        assert token not in refused.text
    refused = await post(team, {"document": {"notes": "x"}}, idempotency_key=token)
    assert (refused.status, refused.code) == (400, "bad_request")
    assert token not in refused.text


@pytest.mark.parametrize(
    ("target", "status", "code"),
    [
        ("/v1/cars/" + "7" * 9000, 413, "too_large"),
        ("/v1/cars?" + "a" * 9000, 413, "too_large"),
        ("/v1/cars/" + "7" * 49, 400, "bad_reference"),
        ("/v1/revisions/" + "a" * 65, 400, "bad_reference"),
        ("/v1/cars/7/sheets/baseline/history?limit=201", 400, "bad_request"),
        ("/v1/cars/7/sheets/baseline/history?limit=0", 400, "bad_request"),
        ("/v1/cars/7/sheets/baseline/history?limit=1e3", 400, "bad_request"),
        ("/v1/cars/7/sheets/baseline/history?cursor=" + "a" * 201, 400, "bad_request"),
        ("/v1/cars/7/sheets/baseline/history?limit=" + "9" * 5000, 400, "bad_request"),
        ("/v1/audit?limit=100000", 400, "bad_request"),
        ("/v1/audit?after=-1", 400, "bad_request"),
    ],
)
async def test_addresses_and_pages_are_bounded(team: Team, target: str, status: int, code: str) -> None:
    refused = await team.ask("chief", "GET", target)
    assert (refused.status, refused.code) == (status, code), refused.text
    assert len(refused.body) < 2000


@pytest.mark.parametrize(
    "headers",
    [
        {"idempotency-key": "x" * 201},
        {"idempotency-key": "a b"},
        {"idempotency-key": ""},
        {"if-none-match": '"a"'},
        {"if-match": '"a"', "if-none-match": "*"},
    ],
)
async def test_headers_are_bounded(app: Any, team: Team, headers: dict[str, str]) -> None:
    body = {"edits": [{"path": UPPER_STUD, "value": 1}]}
    target = "/v1/cars/7/sheets/limits/revisions"
    refused = await ask(
        app, "POST", target, token=team.tokens["chief"], body=body, headers={"if-none-match": "*"} | headers
    )
    assert (refused.status, refused.code) == (400, "bad_request")
