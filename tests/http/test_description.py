"""The served API against its own description: generated requests (schemathesis) and real examples.

The examples in openapi/examples are a run of `exchanges` below; STUDBOOK_RECORD_EXAMPLES=1 writes them anew.
"""

import asyncio
import os
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

from studbook.history.ids import tips_tag
from studbook.wire.exchange import MEDIA_TYPE, Head
from studbook_service.exchange.frames import Writer
from studbook_service.http.openapi import describe
from studbook_service.http.operations import OPERATIONS

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


@schemathesis.serializer(MEDIA_TYPE)
def frames(_: Any, value: Any) -> Any:
    """Send frames as they are."""
    return value if isinstance(value, bytes) else str(value).encode()


@pytest.fixture
async def loop() -> asyncio.AbstractEventLoop:
    """The loop that the application lives in."""
    return asyncio.get_running_loop()


@pytest.mark.parametrize("name", [operation.name for operation in OPERATIONS])
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["fit", "unfit"])
def test_generated_requests_get_described_answers(
    name: str, mode: GenerationMode, sheet: Any, loop: asyncio.AbstractEventLoop
) -> None:
    """Requests that fit the description are made about things that are there, so that they get past the door."""
    operation = schemathesis.openapi.from_dict(DESCRIPTION).find_operation_by_id(name)
    if mode is GenerationMode.NEGATIVE and not (operation.path_parameters or operation.query or operation.body):
        return  # nothing about it could be wrong
    there = {"car": "7", "sheet": "baseline", "ref": sheet.id, "since": sheet.id, "file": "page.js"}

    @given(case=operation.as_strategy(generation_mode=mode))
    @settings(max_examples=12, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck))
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
    spelt = requests.Request(**{name: sent[name] for name in names if name in sent}).prepare()
    headers = [(name.encode("latin-1"), str(value).encode("latin-1")) for name, value in spelt.headers.items()]
    return client.build_request(str(spelt.method), str(spelt.url), headers=headers, content=spelt.body or b"")


async def exchanges(split: Any) -> dict[str, httpx2.Response]:
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
        "read_front": f"/v1/revisions/{longer}/front?{travels}",
        "read_rear": f"/v1/revisions/{longer}/rear?low_in=-3&high_in=0&step_in=1.5&roll_low_deg=0&roll_step_deg=3",
        "read_joints": f"/v1/revisions/{longer}/joints?side_lb=950&on=rf&{travels}",
        "read_damping": f"/v1/revisions/{longer}/damping",
        "read_loads": f"/v1/revisions/{longer}/loads",
        "read_effects": f"/v1/revisions/{longer}/effects?since={sheet.id}&{travels}",
        "live": "/livez",
        "ready": "/readyz",
        "describe": "/openapi.json",
        "show_page": "/docs",
        "show_file": "/docs/swagger-ui.css",
    }.items():
        seen[name] = await client.get(path)
    hello = Writer()
    hello.add(Head(v=1))
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
    seen["search_perches"] = await client.post("/v1/searches/perches", json=crossed)
    at_hand = {"studs": [{"joint": "upper", "length_in": 1.7}], "shims_within_in": 0.0625, "keep_count": 1}
    target = {"revision": longer[:8], "corner": "rf", "camber_target": [[-2, -1.5], [0, -4], [2, -7.2]]}
    seen["search_studs"] = await client.post("/v1/searches/studs", json=target | at_hand)
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
    return seen


def spelt(response: httpx2.Response) -> dict[str, Any]:
    """Write an exchange down; what is no JSON of ours, or is the description itself, is left out."""
    request = response.request
    sent = {name: value for name, value in request.headers.items() if name in {"if-match", "idempotency-key"}}
    given_ = {name: value for name, value in response.headers.items() if name in {"etag", "location", "link"}}
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


async def test_examples_of_every_operation_fit_the_description(split: Any) -> None:
    made = {name: spelt(response) for name, response in (await exchanges(split)).items()}
    assert {operation.name for operation in OPERATIONS} <= made.keys()
    for name, example in made.items():
        assert (example["response"]["status"] < 400) is not name.startswith("problem"), example
        check_fits(name, example)
    if os.environ.get("STUDBOOK_RECORD_EXAMPLES"):
        for name, example in made.items():
            text = msgspec.json.format(msgspec.json.encode(example), indent=1)
            (EXAMPLES / f"{name}.json").write_bytes(text + b"\n")
    committed = {path.stem: msgspec.json.decode(path.read_bytes()) for path in EXAMPLES.glob("*.json")}
    assert committed.keys() == made.keys()
    for name, example in committed.items():
        check_fits(name, example)
