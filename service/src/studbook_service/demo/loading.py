"""Records the scenario through the public client, each step by the member who did it."""

import datetime as dt
from collections.abc import Mapping
from contextlib import AsyncExitStack
from typing import NamedTuple

from msgspec import UNSET

from studbook import AsyncStudbook
from studbook.history.leaves import dotted, leaves
from studbook.wire.work import WorkQuery
from studbook_service.demo.scenario import DemoCar, DemoStep, DemoTeam, story
from studbook_service.demo.season.demo_record import DemoCard, DemoRecord, written
from studbook_service.demo.season.records import season

Crew = Mapping[str, AsyncStudbook]


class DemoCounts(NamedTuple):
    """How much was recorded."""

    revisions: int
    records: int


class _Raced:
    """The revisions recorded so far, by what was done."""

    def __init__(self) -> None:
        self._ids: dict[tuple[str, str, dt.datetime], str] = {}

    def keep(self, step: DemoStep, id_: str) -> None:
        self._ids[step.car, step.sheet, step.at] = id_

    def of(self, step: DemoStep) -> str:
        return self._ids[step.car, step.sheet, step.at]

    def newest(self, sheet: str, before: dt.datetime) -> str | None:
        """Give a sheet's newest revision before a time; None before its first."""
        car, _, name = sheet.partition("/")
        found = [key for key in self._ids if key[:2] == (car, name) and key[2] < before]
        return self._ids[max(found, key=lambda key: key[2])] if found else None


async def record_scenario(team: DemoTeam, *, url: str, tokens: Mapping[str, str], today: dt.date) -> DemoCounts:
    """Record all cars, everything that was done to them, and their season.

    Args:
        team: who they are and what they race.
        url: the service's address.
        tokens: a token for each member id.
        today: the day before which the scenario ends.

    Raises:
        StudbookError: the service refused a step or does not answer.

    Example::

        loaded = await record_scenario(team(), url="http://127.0.0.1:8710", tokens=tokens, today=dt.date.today())
    """
    async with AsyncExitStack() as stack:
        crew = {member: await stack.enter_async_context(AsyncStudbook(url, token)) for member, token in tokens.items()}
        raced = _Raced()
        revisions = sum([await _load_car(car, crew, team.chief, today, raced) for car in team.cars])
        records = season(team, today=today)
        for each in records:
            await (_work(crew, each, raced) if isinstance(each, DemoCard) else _enter(crew[each.by], each, raced))
        return DemoCounts(revisions, len(records))


async def _load_car(car: DemoCar, crew: Crew, chief: str, today: dt.date, raced: _Raced) -> int:
    steps = story(car, today=today)
    await crew[chief].new_car(car.slug, name=car.name, number=car.number, at=steps[0].at)
    for step in steps:
        raced.keep(step, await _record(crew[step.by], step, raced))
    return len(steps)


async def _record(book: AsyncStudbook, step: DemoStep, raced: _Raced) -> str:
    """Record one step."""
    sheet = f"{step.car}/{step.sheet}"
    source = None
    if step.carried_from is not None:
        name = step.carried_from if "/" in step.carried_from else f"{step.car}/{step.carried_from}"
        source = raced.newest(name, step.at)
    if source is not None and step.fields:
        pushed = await book.carry(source, sheet, fields=step.fields, note=step.note, at=step.at)
    elif raced.newest(sheet, step.at) is None:
        pushed = await book.new_sheet(sheet, step.document, note=step.note, at=step.at, carried_from=source)
    else:
        edits = {dotted(each.path): each.after for each in step.changes if each.after is not UNSET}
        remove = [dotted(each.path) for each in step.changes if each.after is UNSET]
        pushed = await book.edit(sheet, edits, remove=remove, note=step.note, at=step.at)
    return pushed.revision.id


async def _enter(book: AsyncStudbook, record: DemoRecord, raced: _Raced) -> None:
    document = record.document
    if record.raced is not None:
        document = {**document, "revision": raced.of(record.raced)}
    await book.new_record(record.kind, record.name, document, at=record.at)


async def _work(crew: Crew, card: DemoCard, raced: _Raced) -> None:
    """Start a card with the jobs that the service plans, tick them off, each by who did it, and sign."""
    book, since, revision = crew[card.by], raced.of(card.since), raced.of(card.raced or card.since)
    wanted = WorkQuery(crew=card.document["crew"], minutes=card.document["available_min"])
    plan = await book.work(revision, since=since, wanted=wanted)
    planned = [job.id for job in plan.jobs if job.state == "planned"]
    document = {**card.document, "since": since, "revision": revision, "planned": planned}
    await book.new_record("work", card.name, document, at=card.at)
    for job, at, by, tick in card.ticks:
        edits = {dotted(("done", job, *path)): value for path, value in leaves(tick).items()}
        await crew[by].change_record("work", card.name, edits, at=at)
    at, by = card.signed
    signed = {"signed_off.at": written(at), "signed_off.by": by.capitalize()}
    await crew[by].change_record("work", card.name, signed, at=at)
