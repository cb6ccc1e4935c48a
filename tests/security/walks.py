"""Walks through the API from answer to answer, by its own description (schemathesis, stateful).

Ids and tags flow from one answer into the next request by the description's links. What a schema cannot say, such as
that a revision has edits or a document but not both, or which cars there are, is put right in most requests; the rest
go out as they were made up.
"""

import asyncio
import random
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import count
from typing import Any

import requests
import schemathesis
from hypothesis import HealthCheck, Phase, seed, settings
from schemathesis import GenerationMode
from schemathesis.core.transport import Response
from schemathesis.specs.openapi import checks

from security.teams import UPPER_STUD, Answer, Team, ask, in_days
from studbook_service.http.openapi import describe

CHECKS = [
    schemathesis.checks.not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
    checks.ensure_resource_availability,
]
ROUND = settings(
    max_examples=3,
    stateful_step_count=50,
    phases=[Phase.generate],
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
AS_MADE_UP = 0.1  # so many requests go out as they are


@dataclass
class Walked:
    """What was asked and answered.

    Attributes:
        statuses: of all answers.
        operations: of answers by operation.
        followed: requests that took something from an answer before.
    """

    statuses: Counter[int] = field(default_factory=Counter)
    operations: dict[str, Counter[int]] = field(default_factory=dict)
    followed: int = 0

    @property
    def good(self) -> float:
        """The share of successes."""
        return sum(count for status, count in self.statuses.items() if 200 <= status < 300) / self.statuses.total()


def walk(team: Team, loop: asyncio.AbstractEventLoop, cases: int) -> Walked:
    """Walk as a team's chief until so many requests were answered; a check that fails ends it.

    Args:
        team: with cars 7 and 12, their sheets, and people of all roles.
        loop: where the application lives.
        cases: requests at least.
    """
    walked = Walked()
    schema = schemathesis.openapi.from_dict(describe())
    schema.config.generation.update(modes=[GenerationMode.POSITIVE])

    class Walk(schema.as_state_machine()):  # type: ignore[misc] # made at run time
        """One walk."""

        def step(self, input: Any) -> Any:  # noqa: A002 - the library's own word
            walked.followed += input.transition is not None and input.is_applied
            return super().step(input)

        def before_call(self, case: Any) -> None:
            loop.run_until_complete(put_right(case, team, random.Random(case.id)))  # noqa: S311 - no secret

        def call(self, case: Any, **_: Any) -> Response:
            sent = spelled(case)
            answer = loop.run_until_complete(put(sent, team))
            headers = {name: [value] for name, value in answer.pairs}
            return Response(answer.status, headers, answer.body, sent, elapsed=0.0, verify=False)

        def after_call(self, response: Any, case: Any) -> None:
            super().after_call(response, case)
            walked.statuses[response.status_code] += 1
            walked.operations.setdefault(name_of(case), Counter())[response.status_code] += 1

        def validate_response(self, response: Any, case: Any, **_: Any) -> None:
            case.validate_response(response, checks=CHECKS, recorder=self.recorder)

    for number in count(1):
        if walked.statuses.total() >= cases:
            break
        seed(number)(Walk).run(settings=ROUND)
    return walked


def name_of(case: Any) -> str:
    return str(case.operation.definition.raw["operationId"])


def spelled(case: Any) -> requests.PreparedRequest:
    """Spell a request as it was made up."""
    made = case.as_transport_kwargs(base_url="http://studbook.test")
    names = ("method", "url", "headers", "params", "json", "data", "cookies")
    return requests.Request(**{name: made[name] for name in names if name in made}).prepare()


async def put(sent: requests.PreparedRequest, team: Team) -> Answer:
    """Put it to the application, with the chief's token for whatever was made up."""
    made_up = {"content-length", "authorization"}
    headers = {
        name.lower(): value if isinstance(value, str) else value.decode("latin-1")
        for name, value in sent.headers.items()
        if name.lower() not in made_up
    }
    body = sent.body.encode() if isinstance(sent.body, str) else sent.body
    return await ask(
        team.app, str(sent.method), str(sent.path_url), token=team.tokens["chief"], body=body, headers=headers
    )


async def put_right(case: Any, team: Team, chance: random.Random) -> None:
    """Put right what the schema cannot say; nobody locks the walker out of the book."""
    name, path = name_of(case), case.path_parameters
    if name == "change_member":
        path["member"] = team.members["crew"]
    if path.get("token") == team.token_id("chief"):
        path["token"] = team.token_id("viewer")
    if chance.random() < AS_MADE_UP:
        return
    case.headers.pop("If-None-Match", None)
    if "Idempotency-Key" in case.headers:
        case.headers["Idempotency-Key"] = case.id
    case.query.pop("cursor", None)
    if name in BODIES:
        case.body = BODIES[name](case.body, chance)
    if "sheet" in path and (path["car"], path["sheet"]) not in SHEETS:
        path["car"], path["sheet"] = chance.choice(SHEETS)
    if name == "accept_merge":
        path["sheet"] = f"split-{case.id.lower()}"
        tag = await team.split(f"/v1/cars/{path['car']}/sheets/{path['sheet']}")
        case.headers["If-Match"] = f'"{tag}"'
    elif name in {"push_revision", "change_car"} and not TAG.fullmatch(case.headers.get("If-Match", "")):
        await _see(case, team)


async def _see(case: Any, team: Team) -> None:
    """Look at what is to be changed, where no link did."""
    shown = await team.ask("chief", "GET", case.formatted_path.removesuffix("/revisions"))
    if "etag" in shown.headers:
        case.headers["If-Match"] = shown.headers["etag"]


def _edits(body: Any, chance: random.Random) -> Any:
    edit = {"path": chance.choice(LEAVES), "value": round(chance.uniform(1, 2), 3)}
    return {"note": body.get("note", ""), "edits": [edit]}


def _share(body: Any, chance: random.Random) -> Any:
    return {"car": "7", "label": body["label"], "until": in_days(chance.randint(1, 700))}


def _token(body: Any, chance: random.Random) -> Any:
    return {"label": body["label"], "role": chance.choice(["viewer", "crew", "chief"]), "days": chance.randint(1, 99)}


def _without(*names: str) -> Callable[[Any, random.Random], Any]:
    return lambda body, _: {name: value for name, value in body.items() if name not in names}


def _about(**asked: Any) -> Callable[[Any, random.Random], Any]:
    """Ask a computation what can be computed, about the revision that the link named."""
    return lambda body, _: {**asked, **{name: body[name] for name in ("revision", "source") if name in body}}


TAG = re.compile(r'"[0-9a-f]{32}(\.[0-9a-f]+)?"')
SHEETS = (("7", "baseline"), ("7", "tacky"), ("12", "baseline"))
LEAVES = (UPPER_STUD, "setup.front.rf.lower_stud.length_in", "setup.front.lf.upper_stud.length_in")
AT_HAND = {"inventory": "anywhere", "studs": [{"joint": "upper", "length_in": 1.7}], "keep_count": 1, "time_s": 0.5}
UNSPRUNG = [{"path": f"setup.front.{corner}.unsprung_lb", "value": 72} for corner in ("lf", "rf")]
BODIES: Mapping[str, Callable[[Any, random.Random], Any]] = {
    "add_car": _without("at"),
    "push_revision": _edits,
    "make_share": _share,
    "make_token": _token,
    "add_member": _without("id"),
    "change_member": _without("role"),
    "try_edits": _about(edits=[{"path": UPPER_STUD, "value": 1.3}]),
    "try_attitude": _about(heave_in=-1.5, roll_deg=2.5, pitch_deg=0.5),
    "try_cornering": _about(speed_mph=50, radius_ft=300, edits=UNSPRUNG),
    "try_race": _about(fuel_burned_lb=40),
    "try_check": lambda _, __: {"car": "7", "document": {"measured": {"scales": {"rf_lb": 503}}}},
    "search_studs": _about(corner="rf", camber_target=[[-2, -1.5], [0, -4], [2, -7.2]], **AT_HAND),
    "search_carry_over": _about(**AT_HAND),
    "search_perches": _about(cross_percent=51, perches=["lr", "rr"], step_turns=0.5),
}
"""What of a body its schema cannot say: which cars there are, what is past, what goes together."""
