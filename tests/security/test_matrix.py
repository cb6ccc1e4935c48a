"""Every route by every method for every kind of bearer: what is answered is written down here, or the test fails.

What another team has, or lies outside a share, is answered as what does not exist: the answers are compared.
"""

import re
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from security.asking import AT_HAND, EDIT, Wanted, bring_records, operations, put, ref_of, routes, wanted
from security.expected import table
from security.teams import KINDS, Answer, Json, Team, ask, full_team, in_days, node_of, running
from studbook_service.actions.known_peers import PeerTokens
from studbook_service.app import create_app

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW")
TABLE = table()
CODES = {403: "not_allowed", 404: "not_found", 409: "exists", 422: "bad_document"}
SERVED = routes(create_app(dsn="postgresql://nowhere"))


@pytest.fixture(scope="module")
def peers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the tokens of other nodes are kept."""
    return tmp_path_factory.mktemp("peers")


@pytest.fixture(scope="module")
async def app(shared_database: Any, peers: Path) -> AsyncIterator[Any]:
    async with running(create_app(dsn=shared_database.serving_dsn, peers=peers, rate=0)) as app:
        yield app


@pytest.fixture(scope="module")
async def team(app: Any, shared_database: Any, peers: Path) -> AsyncIterator[Team]:
    """The team whose things are asked for, and another node with its book."""
    team = await full_team(app, shared_database.owner_dsn)
    other = await Team.founded_in(app, shared_database.owner_dsn, "Others")
    team.tokens["stranger"] = other.tokens["chief"]
    await team.share(sheet="baseline", kind="sheet share")
    await bring_records(team)
    async with node_of(team) as address:
        PeerTokens(peers).keep(team.founded.team, address.name, address.token)
        yield team


async def state(team: Team) -> tuple[int, int]:
    """Count the team's entries and what was recorded of access."""
    context = team.context
    head = await context.book.team_head(team.founded.team)
    return head.seq, len(await context.book.access.audit(team.founded.team, after=0, limit=10_000))


def test_every_operation_served_has_its_expectations() -> None:
    assert sorted(TABLE) == sorted(operations(create_app(dsn="postgresql://nowhere")))


@pytest.mark.parametrize("operation", TABLE)
async def test_each_kind_of_bearer_gets_what_is_written_down(
    app: Any, team: Team, shared_database: Any, operation: str
) -> None:
    """A refused request changes nothing, and HEAD is told what GET is. The stranger's book is empty."""
    method, path = operation.split()
    team.tokens["stranger"] = (await Team.founded_in(app, shared_database.owner_dsn)).tokens["chief"]
    for kind, status in TABLE[operation].items():
        asking = await wanted(team, operation)
        before = await state(team)
        answer = await put(team, kind, method, path, asking)
        assert answer.status == status, (kind, answer.text)
        if status >= 400:
            assert await state(team) == before, kind
            unknown = "token_needed" if kind == "none" else "token_refused"
            assert answer.code == (unknown if status == 401 else CODES[status])
        if method == "GET" and path != "/metrics":
            head = await put(team, kind, "HEAD", path, asking)
            assert (head.status, head.body) == (status, b"")
            assert told(head, but_for={"x-request-id"}) == told(answer, but_for={"x-request-id"})


@pytest.mark.parametrize("path", SERVED)
async def test_no_other_method_is_served_to_anybody(team: Team, path: str) -> None:
    methods = SERVED[path] | ({"HEAD"} if "GET" in SERVED[path] else set())
    asking = Wanted(dict.fromkeys(re.findall(r"{(\w+)}", path), "7"))
    before = await state(team)
    for kind in KINDS:
        for method in METHODS:
            if method in methods - {"OPTIONS"}:
                continue
            answer = await put(team, kind, method, path, asking)
            assert answer.status == (204 if method == "OPTIONS" else 405), (kind, method, answer.text)
            assert set(re.findall(r"[A-Z]+", answer.headers["allow"])) <= methods | {"OPTIONS"}
    assert await state(team) == before


@pytest.mark.parametrize("kind", KINDS)
async def test_an_address_that_is_none_is_not_found_by_anybody(team: Team, kind: str) -> None:
    for target in ("/", "/v1", "/v1/", "/v1/carts", "/v2/cars", "/v1/cars/7/sheets/baseline/secrets", "/admin"):
        answer = await team.ask(kind, "GET", target)
        assert (answer.status, answer.code) == (404, "not_found"), target


def told(answer: Answer, but_for: set[str]) -> list[tuple[str, str]]:
    return sorted(pair for pair in answer.pairs if pair[0] not in but_for)


def shape(answer: Answer, names: dict[str, str]) -> Any:
    """Give all of an answer but its request id, the names that were asked for spelled alike."""
    body = re.sub(r'"request_id":"[0-9a-f]+"', "", answer.text)
    for what, name in names.items():
        # As whole words: a car's name may be one digit. A revision is told by the beginning of its id.
        body = re.sub(rf"\b{re.escape(name[:12])}\b", what, re.sub(rf"\b{re.escape(name)}\b", what, body))
    return answer.status, told(answer, but_for={"x-request-id"}), body


def absent(name: str) -> str:
    """Make a name of the same form and length that nothing has."""
    if re.fullmatch("[0-9a-f]{12,64}", name):
        return "".join(f"{15 - int(digit, 16):x}" for digit in name)
    return name[:-1] + ("9" if name[-1].isdecimal() else "q")


ONE_ONLY = ("{file}", "{times}", "{tolerances}", "{table}")
NAMING = [each for each in TABLE if "{" in each and not any(one in each for one in ONE_ONLY)]
"""What names a thing of which there may be several."""


async def compare(team: Team, kind: str, operation: str, names: dict[str, str], status: int = 404) -> None:
    """Ask for what is there for others, and for what is nowhere; in the path, the query and the body."""
    method, path = operation.split()
    asking = await wanted(team, operation)
    asking.names |= {what: name for what, name in names.items() if what in asking.names}
    concerned = {what: str(name) for what, name in asking.names.items() if f"{{{what}}}" in path}
    there = shape(await put(team, kind, method, path, asking), concerned)
    assert there[0] == status, there
    for changed, name in concerned.items():
        others = concerned | {changed: absent(name)}
        asking.names |= others
        assert shape(await put(team, kind, method, path, asking), others) == there, changed


@pytest.mark.parametrize("operation", NAMING)
async def test_what_another_team_has_is_as_what_does_not_exist(team: Team, operation: str) -> None:
    ref = ref_of(team)
    for name in (ref, ref[:12]):
        await team.ask("chief", "GET", f"/v1/revisions/{name}/document")  # in memory by now
        await compare(team, "stranger", operation, {"ref": name})


@pytest.mark.parametrize("operation", [each for each in NAMING if TABLE[each]["share"] == 200])
async def test_what_lies_outside_a_share_is_as_what_does_not_exist(team: Team, operation: str) -> None:
    """Another car for the holder of a car's share; another sheet, and the car itself, for the holder of a sheet's."""
    other_car, other_sheet = (team.refs[f"/v1/cars/{path}"][0] for path in ("12/sheets/baseline", "7/sheets/tacky"))
    for kind, names in (
        ("share", {"car": "12", "ref": other_car}),
        ("share", {"car": "12", "ref": other_car[:12]}),
        ("sheet share", {"car": "12", "ref": other_car}),
        ("sheet share", {"sheet": "tacky", "ref": other_sheet}),
        ("sheet share", {"sheet": "tacky", "ref": other_sheet[:12]}),
    ):
        if "{ref}" in operation or "car" in names or "{sheet}" in operation:
            await compare(team, kind, operation, names)
    if operation == "GET /v1/cars/{car}":
        await compare(team, "sheet share", operation, {})


@pytest.mark.parametrize("kind", ["viewer", "node"])
async def test_what_is_another_members_is_as_what_does_not_exist(team: Team, kind: str) -> None:
    await compare(team, kind, "DELETE /v1/tokens/{token}", {})


@pytest.mark.parametrize("operation", [each for each in NAMING if TABLE[each]["viewer"] == 403])
async def test_who_may_not_is_told_the_same_of_what_does_not_exist(team: Team, operation: str) -> None:
    """A refusal for want of rights tells nothing of what there is."""
    for kind in ("viewer", "share"):
        await compare(team, kind, operation, {}, status=403)


NAMED_ELSEWHERE: dict[str, Json] = {
    "GET /v1/revisions/{own}/changes?since={ref}": {},
    "GET /v1/revisions/{own}/effects?since={ref}": {},
    "GET /v1/revisions/{own}/work?since={ref}": {},
    "POST /v1/what-if": {"revision": "{ref}", "edits": [EDIT]},
    "POST /v1/cornering": {"revision": "{ref}", "speed_mph": 50, "radius_ft": 300},
    "POST /v1/attitude": {"revision": "{ref}", "heave_in": -1},
    "POST /v1/after-race": {"revision": "{ref}", "fuel_burned_lb": 40},
    "POST /v1/returned": {"car": "own", "document": {"revision": "{ref}"}},
    "POST /v1/searches/studs": {"revision": "{ref}", "corner": "rf", "camber_target": [[0, -4]], **AT_HAND},
    "POST /v1/searches/perches": {"revision": "{ref}", "cross_percent": 51, "perches": ["lr", "rr"]},
    "POST /v1/searches/carry-over?source": {"source": "{ref}", "revision": "{own}", **AT_HAND},
    "POST /v1/searches/carry-over?revision": {"source": "{own}", "revision": "{ref}", **AT_HAND},
    "POST /v1/cars/own/sheets/baseline/revisions": {"edits": [EDIT], "carried_from": "{ref}"},
    "POST /v1/cars/own/sheets/baseline/revisions?parents": {"edits": [EDIT], "parents": ["{ref}"]},
    "POST /v1/tokens": {"member": "{member}", "label": "mine now"},
    "POST /v1/shares": {"car": "7", "label": "friends", "until": in_days(30)},
    "POST /v1/shares?sheet": {"car": "own", "sheet": "tacky", "label": "friends", "until": in_days(30)},
}
"""Where else than in its path a request names a thing."""


@pytest.mark.parametrize("what", NAMED_ELSEWHERE)
async def test_what_another_team_has_stays_unknown_in_bodies_and_queries(
    app: Any, team: Team, shared_database: Any, what: str
) -> None:
    other = await Team.founded_in(app, shared_database.owner_dsn, "Curious")
    await other.add_car("own")
    own = await other.push("/v1/cars/own/sheets/baseline", document={"notes": "own"})
    ref, member = ref_of(team), team.members["crew"]
    shapes = []
    for names in (
        {"ref": ref, "member": member, "7": "7", "tacky": "tacky"},
        {"ref": absent(ref), "member": absent(member), "7": "q", "tacky": "99999"},
    ):
        method, target = filled(what, names | {"own": own}).split()
        body = filled(NAMED_ELSEWHERE[what], names | {"own": own})
        seen = {"if-match": f'"{other.tags["/v1/cars/own/sheets/baseline"]}"'} if "revisions" in target else {}
        path = target if "since" in target else target.partition("?")[0]
        answer = await ask(app, method, path, token=other.tokens["chief"], body=body or None, headers=seen)
        shapes.append(shape(answer, names))
        assert 400 <= answer.status < 500
    assert shapes[0] == shapes[1]


def filled(template: Any, names: dict[str, str]) -> Any:
    """Put names into a template."""
    if isinstance(template, dict):
        return {key: filled(value, names) for key, value in template.items()}
    if isinstance(template, list):
        return [filled(value, names) for value in template]
    if not isinstance(template, str):
        return template
    return names.get(template) or re.sub(r"\{(\w+)\}", lambda found: names[found[1]], template)
