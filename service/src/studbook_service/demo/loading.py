"""The scenario recorded through the public client, each step by the member who did it."""

import datetime as dt
from collections.abc import Mapping
from contextlib import AsyncExitStack

from msgspec import UNSET

from studbook import AsyncStudbook
from studbook.history.leaves import dotted
from studbook_service.demo.scenario import Car, Step, Team, story


async def load(team: Team, *, url: str, tokens: Mapping[str, str], today: dt.date) -> int:
    """Record all cars and everything that was done to them.

    Args:
        team: who they are and what they race.
        url: the service's address.
        tokens: a token for each member id.
        today: the day before which the scenario ends.

    Returns:
        How many revisions were recorded.

    Raises:
        StudbookError: the service refused a step or does not answer.

    Example::

        count = await load(team(), url="http://127.0.0.1:8710", tokens=tokens, today=dt.date.today())
    """
    async with AsyncExitStack() as stack:
        crew = {member: await stack.enter_async_context(AsyncStudbook(url, token)) for member, token in tokens.items()}
        return sum([await _load_car(car, crew, team.chief, today) for car in team.cars])


async def _load_car(car: Car, crew: Mapping[str, AsyncStudbook], chief: str, today: dt.date) -> int:
    steps = story(car, today=today)
    await crew[chief].new_car(car.slug, name=car.name, number=car.number, at=steps[0].at)
    tips: dict[str, str] = {}
    for step in steps:
        tips[step.sheet] = await _record(crew[step.by], step, tips)
    return len(steps)


async def _record(book: AsyncStudbook, step: Step, tips: Mapping[str, str]) -> str:
    """Record one step; `tips` has the newest revision's id of each sheet begun."""
    sheet = f"{step.car}/{step.sheet}"
    if step.sheet not in tips:
        carried = None if step.carried_from is None else tips[step.carried_from]
        pushed = await book.new_sheet(sheet, step.document, note=step.note, at=step.at, carried_from=carried)
    else:
        edits = {dotted(each.path): each.after for each in step.changes if each.after is not UNSET}
        remove = [dotted(each.path) for each in step.changes if each.after is UNSET]
        pushed = await book.edit(sheet, edits, remove=remove, note=step.note, at=step.at)
    return pushed.revision.id
