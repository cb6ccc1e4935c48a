"""Reading: conditional requests (RFC 9110, 13), pages (RFC 8288), short ids, problems (RFC 9457), other teams."""

import re
from typing import Any

import pytest

from studbook_service.store import NewEntry


async def test_everything_read_is_not_sent_twice(sheet: Any) -> None:
    longer = (await sheet.edit(1.7)).json()["revision"]["id"]
    paths = [
        "/v1/cars",
        "/v1/cars/7",
        "/v1/cars/7/sheets",
        sheet.path,
        f"{sheet.path}/history",
        f"/v1/revisions/{sheet.id}",
        f"/v1/revisions/{sheet.id}/document",
        f"/v1/revisions/{longer}/changes?since={sheet.id}",
        f"/v1/revisions/{longer}/front",
        f"/v1/revisions/{longer}/effects?since={sheet.id}",
        "/openapi.json",
        "/docs",
    ]
    for path in paths:
        first = await sheet.client.get(path)
        assert first.status_code == 200, first.text
        tag = first.headers["etag"]
        assert re.fullmatch(r'"[0-9a-f.]+"', tag)
        assert first.headers["x-request-id"]
        for sent in (tag, f'W/{tag}, "other"', "*"):
            again = await sheet.client.get(path, headers={"if-none-match": sent})
            assert (again.status_code, again.content) == (304, b""), path
            assert again.headers["etag"] == tag
        changed = await sheet.client.get(path, headers={"if-none-match": '"other"'})
        assert changed.content == first.content


async def test_only_a_document_by_its_full_id_is_immutable(sheet: Any) -> None:
    full = await sheet.client.get(f"/v1/revisions/{sheet.id}/document")
    assert full.headers["cache-control"] == "private, immutable, max-age=31536000"
    assert full.json() == sheet.document
    short = await sheet.client.get(f"/v1/revisions/{sheet.id[:12]}/document")
    assert short.headers["cache-control"] == "private, no-cache"
    assert short.content == full.content
    assert (await sheet.client.get(f"/v1/revisions/{sheet.id}/front")).headers["cache-control"] == "private, no-cache"


async def test_references(sheet: Any) -> None:
    for reference, status, code in [
        ("abc", 400, "bad_reference"),
        (sheet.id.upper(), 400, "bad_reference"),
        ("0" * 64, 404, "not_found"),
        ("0" * 63, 404, "not_found"),
    ]:
        refused = await sheet.client.get(f"/v1/revisions/{reference}")
        assert (refused.status_code, refused.json()["code"]) == (status, code)
    found = await sheet.client.get(f"/v1/revisions/{sheet.id[:6]}")
    assert found.json()["id"] == sheet.id


async def test_an_ambiguous_reference_lists_the_candidates(sheet: Any, book: Any, team: Any) -> None:
    ids = [bytes.fromhex("abcdef" + f"{n:058x}") for n in (1, 2)]
    common: dict[str, Any] = {"kind": "sheet", "line": "car/7/sheet/alike", "content": b"c" * 32, "note": ""}
    common |= {"body": b'{"notes":"x"}', "author": "chief", "at_ms": 0}
    alike = [NewEntry(id=id_, parents=parents, **common) for id_, parents in zip(ids, [(), (ids[0],)], strict=True)]
    await book.append(team.team, alike)
    refused = await sheet.client.get("/v1/revisions/abcdef/document")
    assert (refused.status_code, refused.json()["code"]) == (409, "ambiguous")
    assert refused.json()["candidates"] == [id_.hex() for id_ in ids]


async def test_changes_between_any_two(sheet: Any) -> None:
    longer = (await sheet.edit(1.7)).json()["revision"]["id"]
    found = (await sheet.client.get(f"/v1/revisions/{longer}/changes?since={sheet.id}")).json()
    assert found["changes"] == [
        {"path": "setup.front.rf.upper_stud.length_in", "before": 1.2, "after": 1.7, "unit": "in"}
    ]
    car = (await sheet.client.get("/v1/cars/7")).json()["revision"]["id"]
    across = (await sheet.client.get(f"/v1/revisions/{longer}/changes?since={car}")).json()
    assert {"path": "name", "before": "Old blue"} in across["changes"]


async def test_history_pages_meet_end_to_end(sheet: Any) -> None:
    ids, tag = [sheet.id], sheet.tag
    for n in range(6):
        pushed = (await sheet.edit(1.3 + n / 10, tag=tag)).json()
        tag = pushed["tag"]
        ids.append(pushed["revision"]["id"])
    seen, path = [], f"{sheet.path}/history?limit=3"
    while path:
        page = await sheet.client.get(path)
        seen += [item["id"] for item in page.json()["items"]]
        link = re.fullmatch(r'<(.*)>; rel="next"', page.headers.get("link", ""))
        assert (link is not None) is ("next" in page.json())
        path = link[1] if link else ""
    assert seen == ids[::-1]


async def test_a_cursor_belongs_to_its_sheet(sheet: Any) -> None:
    await sheet.edit(1.7)
    cursor = (await sheet.client.get(f"{sheet.path}/history?limit=1")).json()["next"]
    await sheet.client.post("/v1/cars/7/sheets/other/revisions", json={"document": {}}, headers={"if-none-match": "*"})
    for path in (
        f"/v1/cars/7/sheets/other/history?cursor={cursor}",
        f"{sheet.path}/history?cursor=zzz",
        f"{sheet.path}/history?cursor={cursor[:-1]}",
        f"{sheet.path}/history?cursor=%C3%A9",
        f"{sheet.path}/history?limit=0",
        f"{sheet.path}/history?limit=201",
        f"{sheet.path}/history?limit=ten",
        f"{sheet.path}/history?limit=1&limit=2",
        f"{sheet.path}/history?page=2",
    ):
        refused = await sheet.client.get(path)
        assert (refused.status_code, refused.json()["code"]) == (400, "bad_request"), path
    assert "limit" in (await sheet.client.get(f"{sheet.path}/history?limit=0")).json()["detail"]


@pytest.mark.parametrize(
    ("method", "path", "status", "code"),
    [
        ("GET", "/v1/nothing", 404, "not_found"),
        ("GET", "/", 404, "not_found"),
        ("GET", "/docs/../settings.py", 404, "not_found"),
        ("GET", "/docs/pages", 404, "not_found"),
        ("GET", "/v1/cars/99", 404, "not_found"),
        ("GET", "/v1/cars/99/sheets", 404, "not_found"),
        ("GET", "/v1/cars/7/sheets/none", 404, "not_found"),
        ("GET", "/v1/cars/7/sheets/none/history", 404, "not_found"),
        ("GET", "/v1/cars/No.7", 400, "bad_reference"),
        ("DELETE", "/v1/cars", 405, "method_not_allowed"),
        ("PUT", "/v1/cars/7", 405, "method_not_allowed"),
    ],
)
async def test_every_refusal_is_a_problem(sheet: Any, method: str, path: str, status: int, code: str) -> None:
    refused = await sheet.client.request(method, path)
    assert refused.headers["content-type"] == "application/problem+json"
    told = refused.json()
    assert (refused.status_code, told["status"], told["code"]) == (status, status, code)
    assert told["type"] == f"urn:studbook:problem:{code}"
    assert told["title"]
    assert told["request_id"] == refused.headers["x-request-id"]
    assert ("allow" in refused.headers) is (status == 405)


async def test_head_is_get_without_the_body(sheet: Any) -> None:
    got, headed = await sheet.client.get(sheet.path), await sheet.client.head(sheet.path)
    assert (headed.status_code, headed.content) == (200, b"")
    assert headed.headers["etag"] == got.headers["etag"]
    assert headed.headers["content-length"] == got.headers["content-length"]


async def test_another_teams_things_are_not_there(sheet: Any, stranger: Any) -> None:
    await sheet.client.get(f"/v1/revisions/{sheet.id}/document")  # now in the memory that both teams share
    await sheet.client.get(f"/v1/revisions/{sheet.id}/front")
    tag = (await sheet.client.get(f"/v1/revisions/{sheet.id}/front")).headers["etag"]
    for path in (
        "/v1/cars/7",
        "/v1/cars/7/sheets",
        sheet.path,
        f"{sheet.path}/history",
        f"/v1/revisions/{sheet.id}",
        f"/v1/revisions/{sheet.id[:8]}",
        f"/v1/revisions/{sheet.id}/document",
        f"/v1/revisions/{sheet.id}/changes?since={sheet.id}",
        f"/v1/revisions/{sheet.id}/front",
        f"/v1/revisions/{sheet.id}/effects?since={sheet.id}",
    ):
        refused = await stranger.get(path, headers={"if-none-match": tag})
        assert (refused.status_code, refused.json()["code"]) == (404, "not_found"), path
    assert (await stranger.get("/v1/cars")).json() == {"items": []}
    pushed = await stranger.post(f"{sheet.path}/revisions", json={"edits": []}, headers={"if-match": f'"{sheet.tag}"'})
    assert pushed.status_code == 404
    tried = await stranger.post("/v1/what-if", json={"revision": sheet.id, "edits": [{"path": "notes", "value": "x"}]})
    assert tried.status_code == 404


async def test_the_page_needs_nothing_from_elsewhere(client: Any) -> None:
    page = await client.get("/docs")
    assert page.headers["content-type"].startswith("text/html")
    wanted = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert len(wanted) == 4
    for path in wanted:
        assert path.startswith("/docs/")
        assert (await client.get(path)).status_code == 200
    script = (await client.get("/docs/page.js")).text
    assert re.findall(r'url: "([^"]+)"', script) == ["/openapi.json"]
    for text in (page.text, script, (await client.get("/docs/swagger-ui.css")).text):
        assert not re.search(r"url\(['\"]?(https?:)?//|src=['\"]?(https?:)?//|@import", text)
    assert "default-src 'self'" in page.headers["content-security-policy"]
