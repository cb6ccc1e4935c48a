"""A real service, tokens in right and wrong places, then a search for them wherever one could have been kept."""

import base64
import json
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import asyncpg
import httpx2
import pytest

from nodes.crashing import Node
from security.hostile.frames import frame, head, packed
from security.teams import DOCUMENT
from studbook.wire.exchange import MEDIA_TYPE, VERSION
from studbook_service.commands.server import HEAD_MOST_BYTES

SHEET = "/v1/cars/7/sheets/baseline"


@pytest.fixture(scope="module")
def node(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Node]:
    """A service with its own PostgreSQL, which logs every statement."""
    node = Node("shop", tmp_path_factory.mktemp("secrecy"))
    try:
        node.serve()
        yield node
    finally:
        node.stop()


@pytest.fixture
def node_client(node: Node) -> Iterator[httpx2.Client]:
    """A bare client of it."""
    with httpx2.Client(base_url=node.address.url, trust_env=False) as client:
        yield client


def spellings(token: str) -> set[bytes]:
    """How a token may be written: whole, without its prefix, its first half, in base64, in hexadecimal."""
    raw = token.encode()
    return {raw, raw[4:], raw[:20], base64.b64encode(raw)[:40], raw.hex().encode()}


def everywhere(token: str, document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Requests that show a token where it belongs, and where it does not."""
    bearer = {"authorization": f"Bearer {token}"}
    body = {"note": f"with {token}", "document": document}
    yield {"url": "/v1/me", "headers": bearer}
    yield {"url": "/v1/me", "headers": {"authorization": f"Bearer {token}x"}}
    yield {"url": "/v1/me", "headers": {"authorization": f"Bearer {token} {token}"}}
    yield {"url": "/v1/me", "headers": {"authorization": f"Basic {base64.b64encode(f'ada:{token}'.encode()).decode()}"}}
    yield {"url": "/v1/me", "headers": {"authorization": token}}
    yield {"url": "/v1/me", "headers": {"cookie": f"token={token}", "x-token": token, "user-agent": token}}
    yield {"url": "/v1/me", "headers": {"x-forwarded-for": token, "referer": f"http://x/{token}"}}
    for place in (f"/{token}", f"/v1/cars/{token}", f"/v1/revisions/{token}/document", f"/v1/tokens/{token}"):
        yield {"url": place, "headers": bearer}
        yield {"url": f"{place}?token={token}"}
        yield {"url": place, "method": "DELETE", "headers": bearer}
    yield {"url": f"/v1/cars?access_token={token}&limit={token}", "headers": bearer}
    yield {"url": f"/v1/cars?{token}={token}", "headers": bearer}
    yield {"url": f"{SHEET}/history?cursor={token}", "headers": bearer}
    yield {"url": f"/v1/revisions/abcdef/effects?since={token}", "headers": bearer}
    yield {"url": f"/docs/{token}"}
    post = {"method": "POST", "headers": bearer | {"if-none-match": "*"}}
    yield {**post, "url": f"{SHEET}/revisions", "json": body}
    yield {**post, "url": f"{SHEET}/revisions", "json": {"document": {token: 1}}}
    yield {**post, "url": f"{SHEET}/revisions", "content": f'{{"note":"{token}'.encode()}
    yield {**post, "url": f"{SHEET}/revisions", "json": {"edits": [{"path": token, "value": token}]}}
    yield {**post, "url": "/v1/cars", "json": {"car": "7", "name": token}}
    yield {**post, "url": "/v1/members", "json": {"name": token}}
    yield {**post, "url": "/v1/tokens", "json": {"label": token}}
    yield {**post, "url": "/v1/what-if", "json": {"revision": token, "edits": []}}
    for name in ("idempotency-key", "if-match", "if-none-match", "content-type", "content-encoding", "accept"):
        headers = bearer | {name: f'"{token}"' if name.startswith("if-") else token}
        yield {"url": f"{SHEET}/revisions", "method": "POST", "headers": headers, "json": {"document": {"notes": "x"}}}
    frames = packed(head(""), frame({"authors": [token], "names": {token: token}, "rows": []}))
    exchange = {"url": "/v1/exchange", "method": "POST", "headers": bearer | {"content-type": MEDIA_TYPE}}
    yield {**exchange, "content": frames}
    yield {**exchange, "content": token.encode()}
    yield {**exchange, "content": packed(frame({"v": VERSION, "book": token}))}


def test_tokens_are_kept_nowhere(node: Node, node_client: httpx2.Client) -> None:
    chief = node.address.token
    mine = {"authorization": f"Bearer {chief}"}
    assert node_client.post("/v1/cars", json={"car": "7", "name": "Blue"}, headers=mine).status_code == 201
    made = node_client.post("/v1/tokens", json={"label": "laptop"}, headers=mine)
    share = {"car": "7", "label": "friend", "until": "2027-06-01T00:00:00Z"}
    shared = node_client.post("/v1/shares", json=share, headers=mine)
    tokens = [chief, made.json()["token"], shared.json()["token"]]
    ended = node_client.post("/v1/tokens", json={"label": "lost"}, headers=mine).json()
    assert node_client.delete(f"/v1/tokens/{ended['about']['id']}", headers=mine).is_success
    tokens.append(ended["token"])

    answers: list[bytes] = []
    statuses: set[int] = set()
    for token in tokens:
        for asked in everywhere(token, DOCUMENT):
            answer = node_client.request(asked.pop("method", "GET"), **asked)
            statuses.add(answer.status_code)
            answers += [answer.content, str(answer.headers).encode(), str(answer.url.fragment).encode()]
    assert {200, 400, 401, 404, 415} <= statuses
    assert not statuses & {500, 502, 503}
    seen = b"\n".join(answers)
    processes = subprocess.run(["ps", "-eo", "args"], capture_output=True, check=True).stdout
    kept = {
        "answers": seen,
        "log": (node.folder / "shop.log").read_bytes(),
        "processes": processes,
        "metrics": node_client.get("/metrics").content,
        "description": node_client.get("/openapi.json").content,
    }
    kept |= {str(file): file.read_bytes() for file in node.data.rglob("*") if file.is_file() and not meant(file)}
    for token in tokens:
        found = [name for name, held in kept.items() if any(spelled in held for spelled in spellings(token))]
        assert found == []
    assert b"denied: token_refused, token " in kept["log"]


def meant(file: Path) -> bool:
    """Whether a token is meant to be in a file: the first one, for its owner."""
    return file.name == "first-token"


async def test_no_table_holds_a_token(node: Node) -> None:
    """As text and as bytes, in every table there is, after all that the test before did."""
    connection = await asyncpg.connect(f"postgresql://studbook_owner@/studbook?host={quote(str(node.data / 'run'))}")
    tables = await connection.fetch(
        "SELECT schemaname || '.' || tablename AS name FROM pg_tables "
        "WHERE schemaname NOT IN ('pg_catalog', 'information_schema')"
    )
    rows = [
        str(row["text"]).encode()
        for table in tables
        for row in await connection.fetch(f"SELECT t::text AS text FROM {table['name']} t")  # noqa: S608 - our tables
    ]
    await connection.close()
    assert len(rows) > 10
    token = node.address.token
    assert not [row for row in rows if any(spelled in row for spelled in spellings(token))]


# What the server answers before the application is asked


def raw(node: Node, *lines: str, wait_s: float = 10) -> bytes:
    """Send a head as it is and give the answer's first line."""
    with socket.create_connection(("127.0.0.1", node.port), timeout=wait_s) as connection:
        connection.sendall("\r\n".join([*lines, "", ""]).encode("latin-1"))
        return connection.recv(65536).partition(b"\r\n")[0]


def test_heads_are_bounded(node: Node) -> None:
    fine = "Host: studbook"
    assert raw(node, "GET /livez HTTP/1.1", fine, "Connection: close") == b"HTTP/1.1 200 OK"
    assert raw(node, "GET /livez HTTP/1.1", fine, f"X-A: {'a' * 2 * HEAD_MOST_BYTES}").split()[1] == b"431"
    assert raw(node, "GET /livez HTTP/1.1", fine, *(f"X-{n}: a" for n in range(500))).split()[1] == b"431"
    assert raw(node, f"GET /{'a' * 9000} HTTP/1.1", fine).split()[1] == b"413"
    assert raw(node, f"GET /{'a' * 2 * HEAD_MOST_BYTES} HTTP/1.1", fine).split()[1] in {b"414", b"431"}
    assert raw(node, "GET /livez\x01 HTTP/1.1", fine).split()[1] == b"400"
    assert raw(node, "GET /livez HTTP/1.1", fine, "Content-Length: 1", "Content-Length: 2").split()[1] == b"400"
    assert raw(node, "PRI * HTTP/2.0", "").split()[:2] != [b"HTTP/1.1", b"200"]


def test_idle_connections_keep_nobody_out(node: Node) -> None:
    """Three hundred that say nothing, and as many that begin a head and never end it."""
    idle = [socket.create_connection(("127.0.0.1", node.port)) for _ in range(600)]
    for connection in idle[::2]:
        connection.sendall(b"GET /livez HTTP/1.1\r\nHost: stud")
    assert httpx2.get(f"{node.address.url}/readyz", trust_env=False).status_code == 200
    for connection in idle:
        connection.close()


def test_addresses_are_taken_from_the_proxy_on_this_machine(node: Node) -> None:
    """And the page of counts is not for those who come through it."""
    through = {"x-forwarded-for": "203.0.113.9"}
    url = node.address.url
    assert httpx2.get(f"{url}/metrics", trust_env=False).status_code == 200
    for path in ("/metrics", "/metrics/", "//metrics", "/%6detrics"):
        assert httpx2.get(url + path, headers=through, trust_env=False).status_code == 404
    limited = httpx2.get(f"{url}/livez", headers=through, trust_env=False).headers["ratelimit"]
    again = httpx2.get(f"{url}/livez", headers={"x-forwarded-for": "203.0.113.10"}, trust_env=False).headers[
        "ratelimit"
    ]
    assert json.loads(limited.split(";")[0]) == "address"
    assert limited == again  # buckets of their own, both one short of full
