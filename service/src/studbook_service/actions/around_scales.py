"""Around the scales: a session's average, a car that came back, the scales after the race."""

import datetime as dt
from collections.abc import Mapping
from functools import partial
from typing import TypeVar
from uuid import UUID

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.around_scales import Race, Returned, ReturnedAnswer, SessionWeights
from studbook.wire.entries import Answer
from studbook.wire.operations import searches as operations
from studbook.wire.records import KINDS, Record, document_of, fitting, record_name, typed
from studbook.wire.shelf import ShelfQuery
from studbook.wire.shop import Check, ScaleSession, SeriesRules, Tolerances
from studbook_service.actions import documents
from studbook_service.actions.answers import about_tried, computed, known_id, lineage
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.facts import entered_ms, latest
from studbook_service.actions.lines import agreed, place
from studbook_service.actions.operations import carries_out
from studbook_service.actions.records import read_record
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.actions.shelf import read_shelf
from studbook_service.night.facts import group, text
from studbook_service.night.times import DAY_MS, began_ms, day_ms, day_of, latest_ms, ms_of
from studbook_service.store import Bearer, StoredEntry
from studbook_service.translate.as_returned import CheckReadings, LeftRevision, as_returned_answer
from studbook_service.translate.legality import race_answer
from studbook_service.translate.origins import origins, trees_of
from studbook_service.translate.scale_session import session_weights

F = TypeVar("F", bound=msgspec.Struct)

_JOINT_OF = {"upper_stud": "upper_joint", "lower_stud": "lower_joint"}
"""By the slot of a stud, the joint whose play is its own; other slots are called as their joints."""


@carries_out(operations.TRY_RACE)
async def try_race(context: Context, bearer: Bearer, request: Race) -> Answer:
    """Answer what a revision's car weighs after the race, with edits tried on it; nothing is stored.

    Raises:
        Refusal: `not_found` for the revision or the rules.
    """
    rules, source = None, "the limits in the setup"
    if isinstance(request.rules, str):
        rules, source = await _rules(context, bearer, request.rules)
    return await about_tried(
        context, bearer, request, partial(race_answer, request=request, rules=rules, source=source)
    )


@carries_out(operations.READ_SESSION_WEIGHTS)
async def read_session_weights(context: Context, bearer: Bearer, car: str, session: str) -> SessionWeights:
    """Answer what a scale session comes to.

    Raises:
        Refusal: `fields_missing`, there are no two readings in it.
    """
    name = f"{car}/{session}"
    found: ScaleSession = typed(_whole(await read_record(context, bearer, KINDS["scale_session"], name)))
    readings = found.readings_lb or []
    if len(readings) < 2:
        raise Refusal("fields_missing", f"{name} holds {len(readings)} readings, two or more are settled")
    own = await _own(context, bearer)
    return await computed(context, lambda: session_weights(readings, own))


@carries_out(operations.TRY_CHECK)
async def try_check(context: Context, bearer: Bearer, request: Returned) -> ReturnedAnswer:
    """Hold the readings of a car that came back against the book; nothing is stored.

    Raises:
        Refusal: `not_found` for the car, the revision left, or a car that raced nothing.
    """
    tree = documents.whole(request.document, Check)
    if not request.allow_unknown:
        documents.refuse_unknown(tree, parents=(), of=Check)
    now_ms = ms_of(dt.datetime.now(dt.UTC))
    return await _findings(context, bearer, request.car, tree, before_ms=latest_ms(tree.get("at")) or now_ms)


@carries_out(operations.READ_CHECK_FINDINGS)
async def read_check_findings(context: Context, bearer: Bearer, car: str, check: str) -> ReturnedAnswer:
    """Hold a check that was recorded against the book; without a revision, against what the car had raced last then."""
    tree = document_of(_whole(await read_record(context, bearer, KINDS["check"], f"{car}/{check}")))
    day = day_of(check)
    end_ms = 0 if day is None else day_ms(day) + DAY_MS
    return await _findings(context, bearer, car, tree, before_ms=latest_ms(tree.get("at")) or end_ms)


async def _findings(context: Context, bearer: Bearer, car: str, tree: Tree, *, before_ms: int) -> ReturnedAnswer:
    left = await _left(context, bearer.team, car, text(tree, "revision"), before_ms)
    chain = await lineage(context, bearer.team, bytes.fromhex(left.revision))
    given = CheckReadings(group(tree, "measured"), await _own(context, bearer), await _limits(context, bearer, car))

    def answer() -> ReturnedAnswer:
        trees = trees_of(chain)
        return as_returned_answer(trees[0], origins=origins(trees), left=left, given=given)

    return await computed(context, answer)


async def _left(context: Context, team: UUID, car: str, named: str, before_ms: int) -> LeftRevision:
    """Find what was left: the revision named, else what the car raced last before."""
    if not await context.book.tips(team, f"car/{car}"):
        raise Refusal("not_found", f"there is no car {car}")
    if named:
        id_ = await known_id(context, team, named)
        if place((await context.entry(team, id_)).line).car != car:
            raise unfit("/document/revision", f"{named[:12]} is no setup of car {car}", value=named)
        return LeftRevision(id_.hex(), "named in the check")
    outings = [
        tip for tip in await context.book.head_entries(team, "outing/", "outing") if tip.line.split("/")[2] == car
    ]
    raced = [tip for tip in outings if text(tree_of(tip.body), "revision")]
    entered = await entered_ms(context, team, ((tip.line, tree_of(tip.body)) for tip in raced))
    ran = {tip.id: _ran_ms(tip, entered) for tip in raced}
    raced = [tip for tip in raced if min(ran[tip.id], entered.get(tip.line, ran[tip.id])) <= before_ms]
    if not raced:
        raise Refusal("not_found", f"the book has no outing of car {car} before that: name the revision that was left")
    night = max(raced, key=lambda tip: ran[tip.id]).line.split("/")[1]
    runs = [tip for tip in raced if tip.line.split("/")[1] == night]
    guessed = len(runs) > 1 and any(tip.line in entered for tip in runs)
    order = await context.book.first_recorded(team, [tip.line for tip in runs]) if guessed else {}
    last = max(runs, key=lambda tip: (order.get(tip.line, ran[tip.id]), tip.at_ms, tip.id))
    id_ = await known_id(context, team, text(tree_of(last.body), "revision"))
    how = "; a time is missing that night, so taken from when each was entered" if guessed else ""
    return LeftRevision(id_.hex(), f"raced last, in {record_name(last.line)}{how}")


def _ran_ms(tip: StoredEntry, entered: Mapping[str, int]) -> int:
    """Give when an outing began; long ago where nobody can tell."""
    event, started = tip.line.split("/")[1], tree_of(tip.body).get("started_at")
    return began_ms(event, started, entered_ms=entered.get(tip.line)) or 0


async def _limits(context: Context, bearer: Bearer, car: str) -> dict[tuple[str, str], float]:
    """Read the play limits of the parts on a car, by corner and joint; the tightest where there are two."""
    limits: dict[tuple[str, str], float] = {}
    for state in (await read_shelf(context, bearer, ShelfQuery(car=car))).items:
        limit = state.document.play_limit_in
        for at in state.places:
            if limit is not UNSET and at.car == car and isinstance(at.corner, str) and isinstance(at.slot, str):
                key = at.corner, _JOINT_OF.get(at.slot, at.slot)
                limits[key] = min(limit, limits.get(key, limit))
    return limits


async def _own(context: Context, bearer: Bearer) -> Tolerances:
    tips = await context.book.tip_entries(bearer.team, KINDS["tolerances"].line("tolerances"))
    return _latest(tips, Tolerances)


async def _rules(context: Context, bearer: Bearer, name: str) -> tuple[SeriesRules, str]:
    tips = await context.book.tip_entries(bearer.team, KINDS["rules"].line(name))
    if not tips:
        raise Refusal("not_found", f"there are no rules {name}")
    split = "" if agreed(tips) else f", the newest of {len(tips)} sides of a split"
    return _latest(tips, SeriesRules), f"rules {name}{split}"


def _latest(tips: list[StoredEntry], form: type[F]) -> F:
    return fitting(tree_of(latest(tips).body), form) if tips else form()


def _whole(record: Record) -> Record:
    if record.erased:
        raise Refusal("erased", f"the content of {record.name} was erased")
    return record
