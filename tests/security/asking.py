"""How to ask each operation rightly about the things of a team, whoever asks: the matrix and the crowd ask so."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from litestar.routes import HTTPRoute

from exchange.making import entry
from security.teams import OF_FRAMES, UPPER_STUD, Answer, Json, Team, framework, hello, in_days, stored
from studbook.wire.operations import OPERATIONS
from studbook.wire.records import KINDS as RECORDS
from studbook.wire.records import RecordKind


def routes(app: Any) -> dict[str, set[str]]:
    """Give the methods served by path; the framework answers OPTIONS itself."""
    served: dict[str, set[str]] = {}
    for route in framework(app).routes:
        assert isinstance(route, HTTPRoute), route
        served.setdefault(route.path_format, set()).update(
            method for handler in route.route_handlers for method in handler.http_methods
        )
    return served


def operations(app: Any) -> list[str]:
    """Give every operation served, as method and path."""
    return [f"{method} {path}" for path, methods in routes(app).items() for method in sorted(methods - {"OPTIONS"})]


@dataclass
class Wanted:
    """A request that is right in all but, perhaps, who asks."""

    names: Json = field(default_factory=dict)
    query: str = ""
    body: Any = None
    headers: Json = field(default_factory=dict)


Asking = Callable[[Team], Awaitable[Wanted]]
"""Makes a request about a team's things that may succeed once."""

_numbers = count(1)
EDIT = {"path": UPPER_STUD, "value": 1.5}
SMALL = "low_in=-1&high_in=1&step_in=1"


def ref_of(team: Team) -> str:
    return team.refs["/v1/cars/7/sheets/baseline"][0]


async def change_car(team: Team) -> Wanted:
    tag = (await team.made("GET", "/v1/cars/7"))["tag"]
    return Wanted(body={"name": f"Blue {next(_numbers)}"}, headers={"if_match": f'"{tag}"'})


async def push_revision(team: Team) -> Wanted:
    tag = (await team.made("GET", "/v1/cars/7/sheets/baseline"))["tag"]
    edit = {"path": UPPER_STUD, "value": 1 + next(_numbers) / 1000}
    return Wanted(body={"edits": [edit]}, headers={"if_match": f'"{tag}"'})


async def accept_merge(team: Team) -> Wanted:
    sheet = f"split-{next(_numbers)}"
    tag = await team.split(f"/v1/cars/7/sheets/{sheet}")
    return Wanted({"sheet": sheet}, headers={"if_match": f'"{tag}"'})


async def make_token(team: Team) -> Wanted:
    return Wanted(body={"member": team.members["crew"], "label": "garage"})


async def end_token(team: Team) -> Wanted:
    made = await team.made("POST", "/v1/tokens", {"member": team.members["crew"], "label": "phone"})
    return Wanted({"token": made["about"]["id"]})


async def end_share(team: Team) -> Wanted:
    return Wanted({"share": await team.share(kind="another")})


def sent(body: Callable[[], Any] = lambda: None, *, query: str = "", **names: str) -> Asking:
    """Ask what is asked of every team alike."""

    async def wanted(_: Team) -> Wanted:
        return Wanted(names, query, body())

    return wanted


def about(**body: Any) -> Asking:
    """Ask a computation about a team's revision."""

    async def wanted(team: Team) -> Wanted:
        return Wanted(body={name: ref_of(team) if value == "REF" else value for name, value in body.items()})

    return wanted


AT_HAND = {"inventory": "anywhere", "studs": [{"joint": "upper", "length_in": 1.7}], "keep_count": 1}
REQUESTS: dict[str, Asking] = {
    "POST /v1/members": sent(lambda: {"name": "Sam", "role": "crew"}),
    "PATCH /v1/members/{member}": sent(lambda: {"name": f"Robin {next(_numbers)}"}),
    "POST /v1/tokens": make_token,
    "DELETE /v1/tokens/{token}": end_token,
    "POST /v1/shares": sent(lambda: {"car": "7", "label": "friends", "until": in_days(30)}),
    "DELETE /v1/shares/{share}": end_share,
    "PUT /v1/cars/{car}/sheets/{sheet}/protection": sent(sheet="tacky"),
    "DELETE /v1/cars/{car}/sheets/{sheet}/protection": sent(sheet="tacky"),
    "POST /v1/cars": sent(lambda: {"car": f"new-{next(_numbers)}"}),
    "PATCH /v1/cars/{car}": change_car,
    "POST /v1/cars/{car}/sheets/{sheet}/revisions": push_revision,
    "POST /v1/cars/{car}/sheets/{sheet}/merge": accept_merge,
    "GET /v1/revisions/{ref}/changes": sent(query="since={ref}"),
    "GET /v1/revisions/{ref}/front": sent(query=SMALL),
    "GET /v1/revisions/{ref}/rear": sent(query="low_in=-3&high_in=0&step_in=1.5&roll_low_deg=0&roll_step_deg=3"),
    "GET /v1/revisions/{ref}/joints": sent(query=f"side_lb=950&on=rf&{SMALL}"),
    "GET /v1/revisions/{ref}/effects": sent(query="since={ref}&" + SMALL),
    "GET /v1/revisions/{ref}/work": sent(query="since={ref}"),
    "POST /v1/what-if": about(revision="REF", edits=[EDIT], travels={"low_in": -1, "high_in": 1, "step_in": 1}),
    "POST /v1/cornering": about(
        revision="REF",
        speed_mph=50,
        radius_ft=300,
        edits=[{"path": f"setup.front.{name}.unsprung_lb", "value": 72} for name in ("lf", "rf")],
    ),
    "POST /v1/returned": sent(lambda: {"car": "7", "document": {"measured": {"scales": {"rf_lb": 503}}}}),
    "POST /v1/searches/studs": about(
        revision="REF", corner="rf", camber_target=[[-2, -1.5], [0, -4], [2, -7.2]], **AT_HAND
    ),
    "POST /v1/searches/carry-over": about(source="REF", revision="REF", travel_in=[-2, 0, 2], **AT_HAND),
    "POST /v1/searches/perches": about(revision="REF", cross_percent=51, perches=["lr", "rr"], step_turns=0.5),
    "POST /v1/exchange": sent(hello),
}
"""How to ask rightly, where path and example of the operation's row are not all there is to say."""


def of_kind(kind: RecordKind) -> dict[str, Asking]:
    """Enter a record that is there, and correct it."""
    name, words = kind.example[0], words_of(kind)

    async def added(team: Team) -> Wanted:
        return Wanted(body={"name": name, "document": example(team, kind) | {words: f"{next(_numbers)}"}})

    async def changed(team: Team) -> Wanted:
        tag = (await team.made("GET", f"{kind.path}/{name}"))["tag"]
        edit = {"path": words, "value": f"{next(_numbers)}"}
        return Wanted(body={"edits": [edit]}, headers={"if_match": f'"{tag}"'})

    one = "/".join([kind.path, *(f"{{{step}}}" for step in kind.steps)])
    return {f"POST {kind.path}": added, f"PATCH {one}": changed}


def words_of(kind: RecordKind) -> str:
    """Name the field for whatever else there is to say."""
    return "words" if kind.name == "log" else "notes"


def example(team: Team, kind: RecordKind) -> Json:
    """Give a record's document; an outing's revision is one of the team's."""
    document = kind.example[1]
    return document | ({"revision": team.refs["raced"][0]} if "revision" in document else {})


async def bring_records(team: Team) -> None:
    """Bring a record of each kind, and the revision that was raced."""
    author, at = team.members["chief"], 1_700_000_000_000
    raced = entry({"notes": "as raced"}, line="car/7/sheet/raced", author=author, at=at)
    team.refs["raced"] = [raced.id]
    made = [
        entry(example(team, kind), line=kind.line(kind.example[0]), kind=kind.name, author=author)
        for kind in RECORDS.values()
    ]
    await team.context.book.append(team.founded.team, [stored(each) for each in (raced, *made)])


for _kind in RECORDS.values():
    REQUESTS |= of_kind(_kind)
OF_RECORDS = {step: part for kind in RECORDS.values() for step, part in kind.parts(kind.example[0]).items()}


async def wanted(team: Team, operation: str) -> Wanted:
    """Make a request that may succeed once."""
    made = await REQUESTS[operation](team) if operation in REQUESTS else Wanted(body=example_of(operation, team))
    made.names = {
        **OF_RECORDS,
        "car": "7",
        "sheet": "baseline",
        "ref": ref_of(team),
        "member": team.members["crew"],
        "file": "page.js",
        "peer": "shop",
        "table": "changes",
    } | made.names
    return made


def example_of(operation: str, team: Team) -> Json | None:
    """Give the example on an operation's row, of a revision of the team's."""
    [row] = (row for row in OPERATIONS if operation == f"{row.method} {row.path}")
    return row.example and {name: ref_of(team) if name == "revision" else value for name, value in row.example.items()}


async def put(team: Team, kind: str, method: str, path: str, asking: Wanted) -> Answer:
    target = (path + (f"?{asking.query}" if asking.query else "")).format_map(asking.names)
    frames = OF_FRAMES if isinstance(asking.body, bytes) else {}
    return await team.ask(kind, method, target, asking.body, **frames, **asking.headers)
