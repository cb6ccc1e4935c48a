"""The season's report: what was run and changed each night and what came of it, as far as the numbers carry it.

Nothing in it is advice. A difference is stated only where an interval shows it, after adjustment for how many
comparisons were made; everywhere else there are counts, and the verdict that it may be noise.
"""

import datetime as dt
from typing import Annotated, Any, Literal

from msgspec import UNSET, field

from studbook.wire.entries import Answer, Author, LeafChange, Request, Slug
from studbook.wire.night import Date, TrackState, Words
from studbook.wire.parts import PartKind
from studbook.wire.shelf import PreloadRead, SplitRead
from studbook.wire.units import Opt, within

Count = Annotated[int, within("count", 0)]
Places = Annotated[float, within("count")]
Seconds = Annotated[float, within("s")]
Minutes = Annotated[float, within("min", 0)]
Dollars = Annotated[float, within("usd")]
Chance = Annotated[float, within("ratio", 0, 1)]

Verdict = Literal["faster", "slower", "noise", "too_few", "one_way", "confounded", "unlike", "held"]
"""`faster` and `slower`: the adjusted chance is below 0.05. `noise`: it is not. `too_few`: less than the stated
minimum. `one_way`: it may be how the track moved through the nights. `confounded`: two factors changed
at once, neither is credited. `unlike`: not the same night, track state and tires, or a time is missing. `held`: nothing
was changed on the car, and such pairs show the noise."""

Descent = Literal["same", "follows", "back", "side", "sheet", "car"]
"""How the revision raced stands to the one raced before. `same`: it is that one. `follows`: it descends from it.
`back`: that one descends from it. `side`: neither, the sheet was split. `sheet`, `car`: it is of another one."""


class SeasonQuery(Request):
    """Which part of a season; all of the book unless narrowed.

    Attributes:
        since: first day of the events.
        to: last day of the events.
    """

    car: Opt[Slug] = UNSET
    since: Opt[Date] = field(default=UNSET, name="from")
    to: Opt[Date] = UNSET


class Interval(Answer):
    """Where the true difference lies, 95 times of 100, as far as the stated assumptions hold.

    Attributes:
        others: what it was held against: outings or pairs with nothing changed.
        chance: of such a difference where there is none.
        chance_holm: adjusted for how many comparisons this report makes.
    """

    low_s: Seconds
    high_s: Seconds
    others: Count
    chance: Chance
    chance_holm: Chance


class Against(Answer):
    """An outing beside the one before it.

    Attributes:
        outing: the one before.
        best_s, median_s: this one less the one before; below zero is faster.
        drift_s: what it was on average between such outings with nothing changed.
        interval: of the change's own part of `median_s`, the drift taken off.
    """

    outing: str
    verdict: Verdict
    detail: str
    best_s: Opt[Seconds] = UNSET
    median_s: Opt[Seconds] = UNSET
    drift_s: Opt[Seconds] = UNSET
    interval: Opt[Interval] = UNSET


class RevisionNote(Answer):
    """A revision on the way to the one raced, and why it was recorded.

    Attributes:
        at: by its author's clock.
        carried_from: the revision that content was carried from.
        erased: its note and document were erased.
    """

    revision: str
    author: Author
    at: dt.datetime
    note: str = ""
    carried_from: Opt[str] = UNSET
    erased: bool = False


class LogNote(Answer):
    """What was logged and in no revision that led to the one raced: the car had it, or something of it.

    Attributes:
        at: the beginning of its day where no time is recorded.
        changes: as they were noted down, in order.
        taken_into: the revision that it became afterward.
    """

    log: str
    at: dt.datetime
    changes: list[str]
    by: Opt[str] = UNSET
    words: Opt[str] = UNSET
    taken_into: Opt[str] = UNSET


class OutingReport(Answer):
    """One outing.

    Attributes:
        revision: as raced: nothing recorded later changes what it was.
        note: of that revision.
        since: the car's last outing before, in these days or earlier, whose revision can be read: what follows is since
            then. Absent where there is none.
        factors: what was changed on the car since then, such as a spring or the shims of a corner.
        changes: every field that differs between the two revisions raced, readings and notes too.
        descent: how the revision raced stands to that of `since`; `descent_detail` where it does not follow it.
        revisions: what was recorded on the sheet on the way from one to the other, oldest first, the one raced last;
            on another sheet, since the car last raced that sheet.
        logs: what was logged since, and was in no revision that led to the one raced; also of the same day where one
            of the two has no time, so that nobody can say which came first: `left_out` says so.
        clean_laps: those that `median_s` is of.
        gained: places, start less finish.
        tire_laps: run before on each corner's tire, where its tag is known.
        flags: what about the record cannot be; such an outing is held against nothing.
        left_out: why else it is held against nothing.
    """

    outing: str
    run: str
    revision: Opt[str] = UNSET
    kind: Opt[str] = UNSET
    note: Opt[str] = UNSET
    track_state: Opt[TrackState] = UNSET
    laps: Opt[Count] = UNSET
    best_s: Opt[Seconds] = UNSET
    median_s: Opt[Seconds] = UNSET
    clean_laps: Count = 0
    start_place: Opt[Count] = UNSET
    finish_place: Opt[Count] = UNSET
    gained: Opt[Annotated[int, within("count")]] = UNSET
    words: Opt[Words] = UNSET
    tire_laps: Annotated[dict[str, int], within("count")] = {}
    since: Opt[str] = UNSET
    factors: list[str] = []
    changes: list[LeafChange] = []
    descent: Opt[Descent] = UNSET
    descent_detail: Opt[str] = UNSET
    revisions: list[RevisionNote] = []
    logs: list[LogNote] = []
    against: Opt[Against] = UNSET
    flags: list[str] = []
    left_out: Opt[str] = UNSET


class Night(Answer):
    """A car's night: its outings in order."""

    event: str
    track: str
    outings: list[OutingReport]
    place: Opt[str] = UNSET
    surface: Opt[str] = UNSET


class Mark(Answer):
    """An outing that stands out, and what the car was then.

    Attributes:
        not_as_written: what was turned on the car, or may have been by then, that the revision does not have.
    """

    outing: str
    time_s: Seconds
    revision: Opt[str] = UNSET
    not_as_written: Opt[str] = UNSET


class TrackRecord(Answer):
    """A car at one track in one state: no more than what was; nights there differ in more than the setup.

    Attributes:
        best_lap: the fastest lap.
        best, worst: the outings with the least and the greatest median of clean laps.
        night_median_s: mean over nights of each night's middle outing; `low_s` to `high_s` its interval, from three
            nights on.
        gained: places gained on average, over `placed` outings.
    """

    track: str
    track_state: TrackState
    nights: Count
    outings: Count
    best_lap: Opt[Mark] = UNSET
    best: Opt[Mark] = UNSET
    worst: Opt[Mark] = UNSET
    night_median_s: Opt[Seconds] = UNSET
    low_s: Opt[Seconds] = UNSET
    high_s: Opt[Seconds] = UNSET
    gained: Opt[Places] = UNSET
    placed: Count = 0


class Comparison(Answer):
    """What one factor did to the median of clean laps in one track state, where nothing else on the car differed.

    Attributes:
        path: the field of the factor's setting; `beside`: fields of the same factor that moved with it.
        cars: whose outings.
        least, most: the settings compared: numbers, or one against the other; absent where it never differed alone.
        per: the step that `effect_s` is of: a usual one.
        outings: in which nothing else differed, on so many `nights`.
        effect_s: of `per` more of it, or of `most` against `least`; below zero is faster.
        drift_s: the track and tires, from one outing to the next.
        interval: of `effect_s`; its `others` are outings with this factor unchanged, which show the drift.
    """

    path: str
    factor: str
    track_state: TrackState
    cars: list[str]
    outings: Count
    nights: Count
    verdict: Verdict
    detail: str
    least: Opt[Any] = UNSET
    most: Opt[Any] = UNSET
    unit: Opt[str] = UNSET
    beside: list[str] = []
    per: Opt[Annotated[float, within("ratio", text="in `unit`")]] = UNSET
    effect_s: Opt[Seconds] = UNSET
    drift_s: Opt[Seconds] = UNSET
    interval: Opt[Interval] = UNSET


class PartLife(Answer):
    """What a part ran in the season.

    Attributes:
        laps_ever: over all the book.
        preloads: read in the season.
        alerts: codes of what wants doing now.
    """

    part: str
    laps: Count
    outings: Count
    nights: Count
    laps_ever: Count
    kind: Opt[PartKind] = UNSET
    about: Opt[str] = UNSET
    price_usd: Opt[Dollars] = UNSET
    scrapped: bool = False
    preloads: list[PreloadRead] = []
    alerts: list[str] = []


class Spent(Answer):
    """One part that was paid for: listed once, when it first went on a car, was scrapped, or had work done on it."""

    part: str
    what: Literal["fitted", "scrapped", "work"]
    at: dt.datetime
    record: str
    price_usd: Opt[Dollars] = UNSET


class Money(Answer):
    """What the season cost in parts, by the prices recorded.

    Attributes:
        fitted_usd: parts that went on a car for the first time.
        scrapped_usd: what those scrapped had cost: of it nothing is left.
        work_usd: what was paid for work on parts.
        unpriced: parts fitted or scrapped whose price nobody recorded.
    """

    fitted_usd: Dollars = 0
    scrapped_usd: Dollars = 0
    work_usd: Dollars = 0
    unpriced: Count = 0
    items: list[Spent] = []


class WorkTime(Answer):
    """Work done, by what each job takes: the team's own times, else the defaults; nobody held a watch.

    Attributes:
        done_min: minutes of the jobs done; `people_min` times the people each takes.
        unknown: jobs ticked off that no card between those revisions has.
    """

    cards: Count = 0
    jobs: Count = 0
    done_min: Minutes = 0
    people_min: Minutes = 0
    unknown: Count = 0


class Totals(Answer):
    """A season in counts."""

    nights: Count = 0
    outings: Count = 0
    laps: Count = 0
    gained: Opt[Places] = UNSET
    placed: Count = 0


class CarSeason(Answer):
    """One car's season."""

    car: str
    name: str
    totals: Totals
    nights: list[Night]
    tracks: list[TrackRecord]
    comparisons: list[Comparison]
    parts: list[PartLife]
    money: Money
    work: WorkTime


class TeamSeason(Answer):
    """All cars together.

    Attributes:
        comparisons: over two cars and more.
        parts: all that ran, or whose preload was read.
    """

    totals: Totals
    comparisons: list[Comparison]
    parts: list[PartLife]
    money: Money
    work: WorkTime


class SeasonReport(Answer):
    """A season.

    Attributes:
        team: absent in the report of one car.
        steps_judged, compared: how many questions the chances of `against` and of `comparisons` are adjusted for.
        rules: what was held against what, and from how many on.
        splits: split lines among what was read, and which tip was used.
    """

    cars: list[CarSeason]
    steps_judged: Count
    compared: Count
    rules: list[str]
    since: Opt[str] = field(default=UNSET, name="from")
    to: Opt[str] = UNSET
    team: Opt[TeamSeason] = UNSET
    splits: list[SplitRead] = []
