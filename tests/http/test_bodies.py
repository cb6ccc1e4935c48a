"""Bodies that cannot be recorded: a clear 4xx that names the field, value, bound and unit, and a book unchanged."""

import json
from collections.abc import AsyncIterator
from typing import Any

import pytest

STUD = "setup.front.rf.upper_stud"


@pytest.fixture(autouse=True)
async def unchanged(sheet: Any, book: Any, team: Any) -> AsyncIterator[None]:
    """The book stands where it stood."""
    before = await book.team_head(team.team)
    yield
    assert await book.team_head(team.team) == before
    assert (await sheet.client.get("/livez")).status_code == 200


async def send(sheet: Any, content: Any, media_type: str = "application/json") -> Any:
    headers = {"if-match": f'"{sheet.tag}"', "content-type": media_type}
    response = await sheet.client.post(f"{sheet.path}/revisions", content=content, headers=headers)
    assert response.headers["content-type"] == "application/problem+json"
    assert response.json()["request_id"] == response.headers["x-request-id"]
    return response


async def test_too_big(sheet: Any) -> None:
    async def chunks() -> AsyncIterator[bytes]:
        for _ in range(17):
            yield b" " * 65536

    for content in (b" " * (1024 * 1024 + 1), chunks()):
        refused = await send(sheet, content)
        assert (refused.status_code, refused.json()["code"]) == (413, "too_large")
    large = {"document": {"extra": {f"n{n}": "x" * 4000 for n in range(70)}}, "allow_unknown": True}
    refused = await sheet.push(large)
    assert (refused.status_code, refused.json()["code"]) == (413, "too_large")
    assert "262144" in refused.json()["detail"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b'{"document": {"notes": "cut o', "not JSON"),
        (b"", "not JSON"),
        (b"\xff\xfe\xff", "not JSON"),
        (b'{"note": "a", "note": "b"}', "stands twice"),
        (b'{"document": {"setup": {"cg": {"height_in": 17, "height_in": 18}}}}', "stands twice"),
        (b'{"document": {"setup": {"cg": {"height_in": NaN}}}}', "NaN"),
        (b'{"document": {"setup": {"cg": {"height_in": -Infinity}}}}', "Infinity"),
        (b'{"document": ' + b'{"a":' * 100_000 + b"1" + b"}" * 100_000 + b"}", "nested deeper than 64"),
        (b'{"note": "\\ud800", "edits": []}', "surrogate"),
        (b'{"note": "\\u0000", "edits": []}', "NUL"),
        (b"[1]", "Expected `object`"),
        (b'{"edits": [{"path": 3}]}', "Expected `str`, got `int`"),
        (b'{"note": 3, "edits": []}', "Expected `str`, got `int`"),
        (b'{"edits": [], "color": "red"}', "color"),
    ],
)
async def test_what_cannot_be_read(sheet: Any, content: bytes, words: str) -> None:
    refused = await send(sheet, content)
    assert (refused.status_code, refused.json()["code"]) == (400, "bad_request")
    assert words in refused.json()["detail"]
    assert refused.json()["errors"]


@pytest.mark.parametrize(
    ("content", "pointer"),
    [
        (b'{"document": {"setup": {"cg": {"height_in": NaN}}}}', "/document/setup/cg/height_in"),
        (b'{"document": {"a": [1, {"b": 1}, [2, Infinity]]}}', "/document/a/2/1"),
        (b'{"document": {"setup": {"cg": {"height_in": 17, "height_in": 18}}}}', "/document/setup/cg/height_in"),
        (b'{"document": {"a": {"b": NaN, "b": 1}, "c": 3}}', "/document/a/b"),
        (b'{"a~/b": 1, "a~/b": 2}', "/a~0~1b"),
        (b'{"note": "x", "edits": [{"path": "notes", "value": "\\ud800"}]}', "/edits/0/value"),
        (b'{"edits": [{"path": 3}]}', "/edits/0/path"),
        (b'{"color": 1, "edits": []}', "/color"),
    ],
)
async def test_where_it_cannot_be_read(sheet: Any, content: bytes, pointer: str) -> None:
    """By JSON pointer (RFC 6901)."""
    refused = await send(sheet, content)
    assert refused.json()["errors"][0]["pointer"] == pointer


async def test_another_media_type(sheet: Any) -> None:
    for media_type in ("text/plain", "application/x-www-form-urlencoded", ""):
        refused = await send(sheet, b"{}", media_type)
        assert (refused.status_code, refused.json()["code"]) == (415, "media_type")


@pytest.mark.parametrize(
    ("path", "value", "fault"),
    [
        # Millimeters for inches: 1.7 in is 43.18 mm (NIST SP 811: 1 in = 25.4 mm).
        (f"{STUD}.length_in", 43.18, {"value": 43.18, "most": 3, "unit": "in"}),
        # Foot-pounds for inch-pounds: 60 ft·lb is 720 in·lb, and the other way round 5 is what 60 in·lb would be.
        (f"{STUD}.preload_target_in_lb", 720, {"value": 720, "most": 300, "unit": "in_lb"}),
        (f"{STUD}.nut_torque_ft_lb", 720, {"value": 720, "most": 120, "unit": "ft_lb"}),
        (f"{STUD}.nut_torque_ft_lb", 5, {"value": 5, "least": 25, "unit": "ft_lb"}),
        (f"{STUD}.length_in", "1.7", {"value": "1.7", "unit": "in"}),
        (f"{STUD}.length_in", True, {"unit": "in"}),
        (f"{STUD}.length_in", 1e999, {}),
        (f"{STUD}.length_in", None, {}),
        (f"{STUD}.nights", 2.5, {"value": 2.5, "unit": "count"}),
        ("setup.brakes.rf_valve", "half", {"value": "half"}),
        ("survey.front.rf.points.upper_ball_in", [1, 2], {}),
        ("survey.front.rf.points.upper_ball_in", [1, 2, 300], {"value": 300, "most": 60, "unit": "in"}),
        ("measured.scales.lf_lb", 5900, {"value": 5900, "most": 1500, "unit": "lb"}),
        ("setup.front", 3, {}),
    ],
)
async def test_a_value_that_cannot_be_meant(sheet: Any, path: str, value: Any, fault: dict[str, Any]) -> None:
    """Told alike whether it comes as an edit or in a whole document."""
    tree: Any = value
    for step in reversed(path.split(".")):
        tree = {step: tree}
    for body, pointer in [
        ({"edits": [{"path": path, "value": value}]}, "/edits/0/value"),
        ({"document": tree}, "/document/" + path.replace(".", "/")),
    ]:
        refused = await send(sheet, json.dumps(body).replace("Infinity", "1e999").encode())
        assert (refused.status_code, refused.json()["code"]) == (422, "bad_document")
        told = refused.json()["errors"][0]
        assert {name: told.get(name) for name in fault} == fault
        for bound in ("least", "most"):
            if bound in fault:
                assert f"{fault['value']:g} {fault['unit']}" in told["detail"]
                assert f"{fault[bound]:g} {fault['unit']}" in told["detail"]
        assert told["pointer"].startswith(pointer)


async def test_every_fault_is_told_at_once(sheet: Any) -> None:
    document = sheet.document | {"notes": 7}
    document["setup"]["front"]["rf"]["upper_stud"]["length_in"] = 43
    document["survey"]["front"]["lf"]["points"]["lower_ball_in"][2] = 170
    refused = await sheet.push({"document": document})
    assert {fault["pointer"] for fault in refused.json()["errors"]} == {
        "/document/notes",
        "/document/setup/front/rf/upper_stud/length_in",
        "/document/survey/front/lf/points/lower_ball_in/2",
    }


@pytest.mark.parametrize(
    ("edits", "words"),
    [
        ([{"path": "Setup.cg", "value": 1}], "no path"),
        ([{"path": "", "value": 1}], "no path"),
        ([{"path": "notes"}], "either a value or remove"),
        ([{"path": "notes", "value": "x", "remove": True}], "either a value or remove"),
        ([{"path": "notes", "value": "x"}, {"path": "notes", "value": "y"}], "stands twice"),
        ([{"path": "setup.cg", "value": {"height_in": 17}}], "one by one"),
        ([{"path": "setup.rules.series", "remove": True}], "there is no setup.rules.series to remove"),
        ([{"path": "notes.of.mine", "value": "x"}], "notes"),
    ],
)
async def test_edits_that_make_no_sense(sheet: Any, edits: Any, words: str) -> None:
    refused = await sheet.push({"edits": edits, "allow_unknown": True})
    assert (refused.status_code, refused.json()["code"]) == (422, "bad_document")
    assert words in refused.json()["detail"]
    assert refused.json()["errors"][0]["pointer"].startswith("/edits/")


async def test_a_document_too_deep(sheet: Any) -> None:
    deep: Any = 1
    for _ in range(70):
        deep = {"a": deep}
    refused = await sheet.push({"document": {"extra": deep}, "allow_unknown": True})
    assert (refused.status_code, refused.json()["code"]) == (422, "bad_document")
    assert "64" in refused.json()["detail"]


async def test_a_client_that_goes_away_while_sending(app: Any, sheet: Any) -> None:
    """The server's connection ends in the middle of a body: nothing is raised, nothing is recorded."""
    incoming: list[dict[str, Any]] = [
        {"type": "http.request", "body": b'{"edits": [', "more_body": True},
        {"type": "http.disconnect"},
    ]
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return incoming.pop(0)

    async def send_(message: dict[str, Any]) -> None:
        sent.append(message)

    headers = {**sheet.client.headers, "if-match": f'"{sheet.tag}"', "content-type": "application/json"}
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": f"{sheet.path}/revisions",
        "raw_path": b"",
        "query_string": b"",
        "headers": [(name.lower().encode(), value.encode()) for name, value in headers.items()],
        "state": {},
    }
    await app(scope, receive, send_)
    assert sent[0]["status"] == 400
