"""The served API against its own description: generated requests (schemathesis) and real examples.

The examples in openapi/examples are a run of `exchanges` below. STUDBOOK_RECORD_EXAMPLES names those to write anew,
with commas between (`add_car,read_car`); `1` writes all.
"""

import asyncio
import copy
import datetime as dt
import os
from collections.abc import AsyncIterator
from functools import cache
from pathlib import Path
from typing import Any

import httpx2
import jsonschema
import msgspec
import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.specs.openapi import checks

from exchange.wire import answering
from exchange.wire import spelled as as_response
from studbook.history.ids import tips_tag
from studbook.wire.exchange import MEDIA_TYPE, VERSION, Head
from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.records import RECORD_OPERATIONS
from studbook.wire.records import KINDS
from studbook_service.actions.context import Context
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.known_peers import PeerTokens
from studbook_service.actions.tokens import token_id
from studbook_service.exchange.frames import Writer
from studbook_service.exchange.initiator import new_peer_state
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond
from studbook_service.http.openapi import describe
from studbook_service.store import BookStore, Founded, mint

EXAMPLES = Path(__file__).parents[2] / "openapi" / "examples"
DESCRIPTION = describe()
AT = "2026-05-02T18:30:00Z"
STUD = {"path": "setup.front.rf.upper_stud.length_in", "value": 1.7}

# Not asked: that every generated body is accepted. A document of random numbers closes no linkage.
CHECKS = [
    schemathesis.checks.not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]


def examples() -> int:
    """As many requests of each kind: few that repeat, or those of `--hypothesis-profile=explore`, new each time."""
    return 2 if settings.get_current_profile_name() == "repeat" else 40


@cache
def schema() -> Any:
    """Read the description once for all operations."""
    return schemathesis.openapi.from_dict(DESCRIPTION)


@schemathesis.serializer(MEDIA_TYPE)
def frames(_: Any, value: Any) -> Any:
    """Send frames as they are."""
    return value if isinstance(value, bytes) else str(value).encode()


@pytest.fixture
async def loop() -> asyncio.AbstractEventLoop:
    """The loop that the application lives in."""
    return asyncio.get_running_loop()


@pytest.fixture
async def granted(join: Any, shared_with: Any, sheet: Any) -> dict[str, str]:  # noqa: ARG001 - what is shared
    """A member, their token and a share."""
    robin, share = await join("Robin"), await shared_with("7")
    return {"member": robin.id, "token": token_id(robin.token), "share": share.id}


@pytest.mark.parametrize("name", [operation.name for operation in OPERATIONS])
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["fit", "unfit"])
def test_generated_requests_get_described_answers(
    name: str, mode: GenerationMode, sheet: Any, granted: dict[str, str], loop: asyncio.AbstractEventLoop
) -> None:
    """Requests that fit the description are made about things that are there, so that they get past the door."""
    operation = schema().find_operation_by_id(name)
    if mode is GenerationMode.NEGATIVE and not (operation.path_parameters or operation.query or operation.body):
        return  # nothing about it could be wrong
    there = {
        "car": "7",
        "sheet": "baseline",
        "ref": sheet.id,
        "since": sheet.id,
        "file": "page.js",
        "table": "laps",
        **granted,
    }

    @given(case=operation.as_strategy(generation_mode=mode))
    @settings(max_examples=examples(), deadline=None, database=None, suppress_health_check=list(HealthCheck))
    def check(case: Any) -> None:
        if mode is GenerationMode.POSITIVE:
            for given_ in (case.path_parameters, case.query):
                given_.update({key: value for key, value in there.items() if key in given_})
            if "If-Match" in case.headers:
                tag = loop.run_until_complete(sheet.client.get(sheet.path)).json()["tag"]
                case.headers = {"If-Match": f'"{tag}"'}
        request = requests_to_httpx2(sheet.client, case.as_transport_kwargs(base_url="http://studbook.test"))
        response = loop.run_until_complete(sheet.client.send(request))
        case.validate_response(response, checks=CHECKS)

    check()


def requests_to_httpx2(client: httpx2.AsyncClient, sent: dict[str, Any]) -> httpx2.Request:
    import requests  # noqa: PLC0415 - only to spell the request as schemathesis meant it

    names = ("method", "url", "headers", "params", "json", "data", "cookies")
    spelled = requests.Request(**{name: sent[name] for name in names if name in sent}).prepare()
    headers = [(name.encode("latin-1"), str(value).encode("latin-1")) for name, value in spelled.headers.items()]
    body = spelled.body or b""
    assert isinstance(body, str | bytes)
    return client.build_request(str(spelled.method), str(spelled.url), headers=headers, content=body)


@pytest.fixture
async def peer(context: Context, book: BookStore, team: Founded, tmp_path: Path) -> AsyncIterator[str]:
    """Another node that keeps the team's book too, and began empty."""
    other, tokens = MemoryBook((await book.team_head(team.team)).book), PeerTokens(tmp_path)

    async def reply(body: bytes) -> bytes:
        return as_response((await respond(other, body, via="trailer")).body)

    tokens.keep(team.team, "shop", mint())
    context.exchanges = Exchanges(book, tokens)
    async with answering(reply) as url:
        await book.peers.set(team.team, "shop", url, state=msgspec.json.encode(new_peer_state(0)))
        yield "shop"
        await context.exchanges.close()
    context.exchanges = None


async def from_the_trailer(sheet: Any) -> str:
    """Enter a stud that lies in the trailer, and a setup that tells its seats; give its id, cut short."""
    sizes = {"length_in": 1.7, "taper": {"in_per_ft": 1.5, "large_end_in": 0.62}}
    moved = {"what": "moved", "at": AT, "place": {"where": "trailer"}}
    setup = copy.deepcopy(sheet.document)
    for joint in ("upper", "lower"):
        setup["setup"]["front"]["rf"][f"{joint}_stud"]["taper_included_deg"] = 7.15
    for path, body in (
        (KINDS["part"].path, {"name": "s-170", "document": {"kind": "stud", "stud": sizes}, "at": AT}),
        (KINDS["shop_record"].path, {"name": "s-170/2026-05-02-moved-1", "document": moved, "at": AT}),
        ("/v1/cars/7/sheets/seats/revisions", {"document": setup, "at": AT}),
    ):
        answer = await sheet.client.post(path, json=body, headers={"if-none-match": "*"})
        assert answer.status_code == 201, answer.text
    id_: str = answer.json()["revision"]["id"]
    return id_[:8]


async def exchanges(split: Any, peer: str) -> dict[str, httpx2.Response]:
    """Make one exchange of each operation, and the refusals a client meets most."""
    sheet = split.sheet
    client, push = sheet.client, f"{sheet.path}/revisions"
    seen: dict[str, httpx2.Response] = {}
    seen["add_car"] = await client.post(
        "/v1/cars",
        json={"car": "12", "name": "New red", "number": "12", "at": AT},
        headers={"idempotency-key": "car12"},
    )
    tag = {"if-match": seen["add_car"].headers["etag"]}
    seen["change_car"] = await client.patch("/v1/cars/12", json={"number": "12x"}, headers=tag)
    body = {"note": "longer upper stud", "edits": [STUD], "at": AT}
    seen["push_revision"] = await sheet.push(body, idempotency_key="6f1c2b7e")
    longer = seen["push_revision"].json()["revision"]["id"]
    seen["problem_stale"] = await client.post(push, json=body, headers={"if-match": '"4f0c"'})
    seen["problem_bad_document"] = await sheet.push({"edits": [STUD | {"value": 43.2}]})
    travels = "low_in=-2&high_in=2&step_in=1"
    for name, path in {
        "read_me": "/v1/me",
        "list_cars": "/v1/cars",
        "read_car": "/v1/cars/12",
        "list_sheets": "/v1/cars/7/sheets",
        "read_sheet": sheet.path,
        "read_history": f"{sheet.path}/history?limit=1",
        "read_revision": f"/v1/revisions/{longer[:8]}",
        "read_document": f"/v1/revisions/{longer}/document",
        "read_changes": f"/v1/revisions/{longer}/changes?since={sheet.id}",
        "list_peers": "/v1/peers",
        "list_tables": "/v1/export",
        "export_table": "/v1/export/changes?format=csv",
        "read_front": f"/v1/revisions/{longer}/front?{travels}",
        "read_rear": f"/v1/revisions/{longer}/rear?low_in=-3&high_in=0&step_in=1.5&roll_low_deg=0&roll_step_deg=3",
        "read_joints": f"/v1/revisions/{longer}/joints?side_lb=950&on=rf&{travels}",
        "read_work": f"/v1/revisions/{longer}/work?since={sheet.id}&crew=3&minutes=40",
        "read_effects": f"/v1/revisions/{longer}/effects?since={sheet.id}&{travels}",
        "live": "/livez",
        "ready": "/readyz",
        "measure": "/metrics",
        "describe": "/openapi.json",
        "show_page": "/docs",
        "show_file": "/docs/swagger-ui.css",
    }.items():
        seen[name] = await client.get(path)
    seen |= await decisions(client, sheet.path)
    seen |= await records(client)
    seen["sync_peer"] = await client.post(f"/v1/peers/{peer}/sync")
    hello = Writer()
    hello.add(Head(v=VERSION))
    seen["exchange_entries"] = await client.post(
        "/v1/exchange", content=hello.finish(), headers={"content-type": MEDIA_TYPE}
    )
    wanted = {
        "revision": longer[:8],
        "edits": [STUD | {"value": 1.3}],
        "travels": {"low_in": -1, "high_in": 1, "step_in": 1},
    }
    seen["try_edits"] = await client.post("/v1/what-if", json=wanted)
    at_an_attitude = {"revision": longer[:8], "heave_in": -1.5, "roll_deg": 2.5, "pitch_deg": 0.5}
    seen["try_attitude"] = await client.post("/v1/attitude", json=at_an_attitude | {"edits": [STUD | {"value": 1.3}]})
    unsprung = [{"path": f"setup.front.{name}.unsprung_lb", "value": 72} for name in ("lf", "rf")]
    turning = {"revision": longer[:8], "speed_mph": 50, "radius_ft": 300, "banking_deg": 6, "edits": unsprung}
    seen["try_cornering"] = await client.post("/v1/cornering", json=turning)
    crossed = {"revision": longer[:8], "cross_percent": 51, "perches": ["lr", "rr"], "step_turns": 0.5}
    seen |= await around_scales(client, longer)
    seen["search_perches"] = await client.post("/v1/searches/perches", json=crossed)
    at_hand = {"studs": [{"joint": "upper", "length_in": 1.7}], "shims_within_in": 0.0625, "keep_count": 1}
    target = {"revision": await from_the_trailer(sheet), "corner": "rf", "camber_target": [[-2, -1.6], [2, -7.8]]}
    book = {"inventory": "trailer", "shims_within_in": 0.0625, "keep_count": 1}
    seen["search_studs"] = await client.post("/v1/searches/studs", json=target | book)
    like = {"source": longer[:8], "revision": sheet.id, "travel_in": [-2, 0, 2]}
    seen["search_carry_over"] = await client.post("/v1/searches/carry-over", json=like | at_hand)
    other = await split.add(sheet.id, by="robin", note="what the other laptop brought", upper=1.4)
    seen["read_sheet.split"] = await client.get(sheet.path)
    seen["problem_conflicts"] = await split.accept(seen["read_sheet.split"].json()["tag"])
    sides = [longer, other]
    choice = {"document": sheet.document, "parents": sides, "note": "the old one after all", "at": AT}
    settled = await sheet.push(choice, tag=tips_tag(sides))
    base = settled.json()["revision"]["id"]
    split.bodies[base] = sheet.document
    for values in ({"upper": 1.6}, {"lower": 1.1}):
        await split.add(base, **values)
    seen["accept_merge"] = await split.accept((await client.get(sheet.path)).headers["etag"].strip('"'))
    for row in OPERATIONS:
        if row.name not in seen:  # nothing more is to be said than its row says
            path = row.path.format(car="7", sheet="baseline", ref=longer)
            seen[row.name] = await client.request(row.method, path, json=row.example)
    return seen


async def records(client: httpx2.AsyncClient) -> dict[str, httpx2.Response]:
    """Make one exchange of each operation about records beside setups."""
    seen: dict[str, httpx2.Response] = {}
    for kind in KINDS.values():
        of = RECORD_OPERATIONS[kind.name]
        name, document = kind.example
        document = {field: value for field, value in document.items() if field != "revision"}
        one = f"{kind.path}/{name}"
        seen[of.adding.name] = await client.post(kind.path, json={"name": name, "document": document, "at": AT})
        note = {"edits": [{"path": "notes", "value": "as told"}], "note": "on Monday", "at": AT}
        change = (
            note if "notes" in kind.body.__struct_fields__ else note | {"edits": [{"path": "words", "value": "loose"}]}
        )
        tag = {"if-match": seen[of.adding.name].headers["etag"]}
        seen[of.changing.name] = await client.patch(one, json=change, headers=tag)
        seen[of.listing.name] = await client.get(kind.path)
        seen[of.reading.name] = await client.get(one)
        seen[of.history.name] = await client.get(f"{one}/history?limit=1")
    seen["read_shelf"] = await client.get("/v1/shelf")
    seen["report_season"] = await client.get("/v1/reports/season?from=2026-05-01&to=2026-05-31")
    night = {"name": "2026-05-02-north/7/heat-2", "document": {"laps": 3, "lap_times_s": [17.4, -2]}}
    seen["problem_bad_record"] = await client.post("/v1/outings", json=night)
    return seen


async def around_scales(client: httpx2.AsyncClient, ref: str) -> dict[str, httpx2.Response]:
    """Make one exchange of each operation around the scales, after the records they speak of."""
    read = {"front": {"rf": {"alignment": {"camber_deg": -4.6}}}, "scales": {"rf_lb": 515}}
    wanted = {"car": "7", "document": {"revision": ref, "measured": read}}
    tag = (await client.get("/v1/checks/7/2026-05-04-0930")).headers["etag"]
    edit = {"edits": [{"path": "revision", "value": ref}], "at": AT}
    await client.patch("/v1/checks/7/2026-05-04-0930", json=edit, headers={"if-match": tag})
    race = {"revision": ref[:8], "fuel_burned_lb": 40, "rules": "late-models"}
    return {
        "read_sensitivity": await client.get(f"/v1/revisions/{ref}/sensitivity"),
        "try_race": await client.post("/v1/after-race", json=race),
        "try_check": await client.post("/v1/returned", json=wanted),
        "read_check_findings": await client.get("/v1/checks/7/2026-05-04-0930/findings"),
        "read_session_weights": await client.get("/v1/scale-sessions/7/2026-05-01-1810/weights"),
    }


async def decisions(client: httpx2.AsyncClient, sheet: str) -> dict[str, httpx2.Response]:
    """Make one exchange of each operation about access."""
    seen = {"add_member": await client.post("/v1/members", json={"name": "Robin", "role": "crew"})}
    robin = seen["add_member"].json()["id"]
    for_robin = {"label": "the laptop in the trailer", "member": robin, "days": 365}
    seen["make_token"] = await client.post("/v1/tokens", json=for_robin)
    until = dt.datetime.now(dt.UTC).replace(microsecond=0) + dt.timedelta(days=200)
    shared = {"car": "7", "sheet": "baseline", "label": "Lee's crew", "until": until.isoformat()}
    seen["make_share"] = await client.post("/v1/shares", json=shared)
    seen["protect_sheet"] = await client.put(f"{sheet}/protection")
    held = {"authorization": f"Bearer {seen['make_token'].json()['token']}"}
    held["if-match"] = (await client.get(sheet)).headers["etag"]
    edits = {"edits": [STUD | {"value": 1.9}]}
    seen["problem_protected"] = await client.post(f"{sheet}/revisions", json=edits, headers=held)
    seen["unprotect_sheet"] = await client.delete(f"{sheet}/protection")
    seen["change_member"] = await client.patch(f"/v1/members/{robin}", json={"role": "chief"})
    for name in ("members", "tokens", "shares"):
        seen[f"list_{name}"] = await client.get(f"/v1/{name}")
    seen["end_token"] = await client.delete(f"/v1/tokens/{seen['make_token'].json()['about']['id']}")
    seen["end_share"] = await client.delete(f"/v1/shares/{seen['make_share'].json()['share']['id']}")
    seen["read_audit"] = await client.get("/v1/audit?limit=3")
    return seen


def spelled(response: httpx2.Response) -> dict[str, Any]:
    """Write an exchange down; what is no JSON of ours, or is the description itself, is left out."""
    request = response.request
    sent = {name: value for name, value in request.headers.items() if name in {"if-match", "idempotency-key"}}
    given_ = {
        name: value
        for name, value in response.headers.items()
        if name in {"etag", "location", "link", "studbook-cursor"}
    }
    told: dict[str, Any] = {
        "request": {"method": request.method, "path": request.url.raw_path.decode(), "headers": sent},
        "response": {
            "status": response.status_code,
            "headers": {"content-type": response.headers["content-type"], **given_},
        },
    }
    if "json" in request.headers.get("content-type", ""):
        told["request"]["body"] = msgspec.json.decode(request.content)
    if "json" in response.headers["content-type"] and request.url.path != "/openapi.json":
        told["response"]["body"] = response.json()
        if request.url.path == "/v1/export":  # its columns are the catalog's: the first tables will do
            del told["response"]["body"]["items"][2:]
        if "token" in told["response"]["body"]:
            # No token stands in an example, not even a dead one: scanners for leaked ones would find it.
            told["response"]["body"]["token"] = "sbk_..."  # noqa: S105 - no password
    return told


def check_fits(name: str, example: dict[str, Any]) -> None:
    """Hold an example against the schemas of its operation."""
    operations = (each for path in DESCRIPTION["paths"].values() for each in path.values())
    operation = next((each for each in operations if each["operationId"] == name.partition(".")[0]), None)
    problem = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    status, body = str(example["response"]["status"]), example["response"].get("body")
    content = operation["responses"][status]["content"] if operation else problem
    schema = content.get(example["response"]["headers"]["content-type"], {}).get("schema")
    pairs = [(schema, body)] if body is not None else []
    if operation and "body" in example["request"]:
        sent = operation["requestBody"]["content"]["application/json"]
        pairs += [(sent["schema"], example["request"]["body"]), (sent["schema"], sent["example"])]
    for described, value in pairs:
        assert described is not None
        jsonschema.Draft202012Validator({**described, "components": DESCRIPTION["components"]}).validate(value)


async def test_examples_of_every_operation_fit_the_description(split: Any, peer: str) -> None:
    made = {name: spelled(response) for name, response in (await exchanges(split, peer)).items()}
    assert {operation.name for operation in OPERATIONS} <= made.keys()
    for name, example in made.items():
        assert (example["response"]["status"] < 400) is not name.startswith("problem"), example
        check_fits(name, example)
    wanted = os.environ.get("STUDBOOK_RECORD_EXAMPLES", "")
    for name in made if wanted == "1" else filter(None, wanted.split(",")):
        text = msgspec.json.format(msgspec.json.encode(made[name]), indent=1)
        (EXAMPLES / f"{name}.json").write_bytes(text + b"\n")
    committed = {path.stem: msgspec.json.decode(path.read_bytes()) for path in EXAMPLES.glob("*.json")}
    assert committed.keys() == made.keys()
    for name, example in committed.items():
        check_fits(name, example)
        if name.startswith("problem"):
            now, kept = made[name]["response"]["body"], example["response"]["body"]
            assert (kept["title"], kept["detail"]) == (now["title"], now["detail"]), f"record {name} again"
