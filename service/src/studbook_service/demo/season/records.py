"""Everything of the season as records, in the order in which they are entered."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from studbook.history.canonical import Tree
from studbook_service.demo.scenario import DemoStep, DemoTeam, moment, story, toml
from studbook_service.demo.season.demo_record import DemoCard, DemoRecord, written
from studbook_service.demo.season.outings import outing
from studbook_service.demo.season.parts import fitted, spares

Stories = Mapping[str, Sequence[DemoStep]]

NOT_OF_THE_RECORD: Final = {"part", "day", "time", "by", "run"}
SCORED: Final = dt.timedelta(minutes=12)
"""From the start of a run until it is written down."""


def season(team: DemoTeam, *, today: dt.date) -> list[DemoRecord]:
    """Give all records of the season, in order of time; what one names comes before it.

    Example:
        >>> from studbook_service.demo.scenario import team
        >>> season(team(), today=dt.date(2026, 6, 1))[0].kind
        'part'
    """
    stories = {car.slug: story(car, today=today) for car in team.cars}
    nights, shop = toml("season/nights.toml"), toml("season/shop.toml")
    names = {night["day"]: _name(night, today) for night in nights["night"]}
    records = (
        *fitted(stories),
        *spares(team.chief, today),
        *_nights(nights, team.chief, stories, today),
        *_done(shop["done"], names, today),
        *_weighed(shop["weighed"], stories, today),
        *_returned(shop["returned"], today),
        *_carded(shop["card"], stories, today),
    )
    return sorted(records, key=lambda each: each.at)


def _nights(season: Tree, chief: str, stories: Stories, today: dt.date) -> Iterator[DemoRecord]:
    for night in season["night"]:
        name, noon = _name(night, today), moment({**night, "time": dt.time(12)}, today)
        event = {"name": night["name"], "date": str(noon.date()), **season["tracks"][night["track"]]}
        yield DemoRecord("event", name, noon, chief, event)
        for run in night["runs"]:
            steps = [step for step in stories[run["car"]] if step.sheet == run["sheet"]]
            started = moment({**night, **run}, today)
            as_of = moment({"day": run["page_day"] - 1, "time": dt.time()}, today) if "page_day" in run else started
            raced = [step for step in steps if step.at < as_of][-1]
            after = None if "pace" in run else next(step for step in steps if step.at > started)
            document = outing(run, night, raced=raced, after=after, started=started)
            yield DemoRecord("outing", f"{name}/{run['car']}/{run['run']}", started + SCORED, "jules", document, raced)


def _done(rows: Sequence[Tree], nights: Mapping[int, str], today: dt.date) -> Iterator[DemoRecord]:
    for each in rows:
        at = moment(each, today)
        document = {key: value for key, value in each.items() if key not in NOT_OF_THE_RECORD} | _when(each, at)
        if "run" in each:
            document["outing"] = f"{nights[each['day']]}/{each['run']}"
        yield DemoRecord("shop_record", f"{each['part']}/{at.date()}-{each['what']}-1", at, each["by"], document)


def _weighed(rows: Sequence[Tree], stories: Stories, today: dt.date) -> Iterator[DemoRecord]:
    for each in rows:
        at = moment(each, today)
        raced = [step for step in stories[each["car"]] if step.sheet == each["sheet"] and step.at < at][-1]
        document = {"readings_lb": each["readings_lb"], "settled": each["settled"], **_when(each, at)}
        document["basis"] = raced.document["measured"]["basis"]
        yield DemoRecord("scale_session", f"{each['car']}/{at:%Y-%m-%d-%H%M}", at, each["by"], document, raced)


def _returned(rows: Sequence[Tree], today: dt.date) -> Iterator[DemoRecord]:
    for each in rows:
        at = moment(each, today)
        document = {"measured": each["measured"], "notes": each["notes"], **_when(each, at)}
        yield DemoRecord("check", f"{each['car']}/{at:%Y-%m-%d-%H%M}", at, each["by"], document)


def _carded(rows: Sequence[Tree], stories: Stories, today: dt.date) -> Iterator[DemoRecord]:
    for each in rows:
        at = moment(each, today)
        *_, since, raced = [step for step in stories[each["car"]] if step.sheet == each["sheet"] and step.at < at]
        yield DemoCard(
            "work",
            f"{each['car']}/{at:%Y-%m-%d-%H%M}",
            at,
            each["by"],
            {"crew": each["crew"], "available_min": each["available_min"]},
            raced,
            since=since,
            ticks=[_ticked(each | tick, today) for tick in each["ticks"]],
            signed=(moment(each | each["signed"], today), each["signed"]["by"]),
        )


def _ticked(row: Tree, today: dt.date) -> tuple[str, dt.datetime, str, Tree]:
    at = moment(row, today)
    found = {"inspected": row["inspected"]} if "inspected" in row else {}
    return row["job"], at, row["by"], {**_when(row, at), **found}


def _when(row: Tree, at: dt.datetime) -> Tree:
    return {"at": written(at), "by": row["by"].capitalize()}


def _name(night: Tree, today: dt.date) -> str:
    return f"{today - dt.timedelta(days=night['day'])}-{night['track']}"
