"""What is recorded around the scales and the work: sessions, logs, checks, rules, finished cards, the team's times.

A log keeps turns as turns (`...thread_showing_in+=2 turns`): the pitch is the setup's, and there may be no time to look
at it. Names of logs, sessions, checks and cards have the time of day, so that two laptops seldom choose one for two
events; a shop record's has a number, so that one event entered twice meets as one.
"""

from typing import Annotated

from msgspec import UNSET, Meta

from studbook.history.canonical import SLUG
from studbook.wire.entries import Id
from studbook.wire.night import Moment
from studbook.wire.parts import Inspected
from studbook.wire.setup.common import Basis, FieldGroup, Name, Text
from studbook.wire.setup.measured import Measured
from studbook.wire.units import Opt, exactly, means, within

PadLoad = Annotated[float, within("lb", 100, 1500)]
Reading = Annotated[list[PadLoad], exactly(4, "LF, RF, LR, RR as the pads read", unit="lb")]
Assignment = Annotated[
    str,
    Meta(
        pattern=r"^[a-z0-9_-]+(\.[a-z0-9_-]+)*(=|\+=|-=)[^\n]{1,200}$",
        description="a field of the setup and its value, or how far it moved: setup.cg.height_in+=0.5; a thread's also "
        "in turns: setup.rear.rr.spring.perch.thread_showing_in+=2 turns",
    ),
]
Assignments = Annotated[list[Assignment], means("in order", most=200)]
JobId = Annotated[
    str,
    Meta(
        pattern=f"^{SLUG.pattern}$",
        description="a job by what it is and where, the same on every card: `stud-rf-upper`, `tie-rod-lf`, `scales`",
    ),
]
Jobs = Annotated[list[JobId], means("by their names on the card", most=500)]


class ScaleSession(FieldGroup):
    """One session on the scales. Its name in the book is `CAR/DATE-HHMM`; average and spread are computed of it."""

    revision: Opt[Id] = UNSET
    at: Opt[Moment] = UNSET
    by: Opt[Name] = UNSET
    basis: Opt[Basis] = UNSET
    readings_lb: Opt[Annotated[list[Reading], means("settled readings in order", unit="lb", most=40)]] = UNSET
    settled: Opt[Annotated[str, means("how it was settled before each reading", most=400)]] = UNSET
    notes: Opt[Text] = UNSET


class Log(FieldGroup):
    """What was turned and let out before there was time to write a revision. Its name in the book is `CAR/DATE-HHMM`.

    Attributes:
        taken_into: the revision it became.
    """

    at: Opt[Moment] = UNSET
    by: Opt[Name] = UNSET
    changes: Opt[Assignments] = UNSET
    words: Opt[Text] = UNSET
    taken_into: Opt[Id] = UNSET


class Check(FieldGroup):
    """What a car read when it came back, before anything was touched. Its name in the book is `CAR/DATE-HHMM`.

    Attributes:
        revision: what was left.
        measured: what was read.
    """

    revision: Opt[Id] = UNSET
    at: Opt[Moment] = UNSET
    by: Opt[Name] = UNSET
    measured: Opt[Measured] = UNSET
    notes: Opt[Text] = UNSET


class Tolerances(FieldGroup):
    """How far a reading may be from the book before the team asks why; theirs over the defaults.

    Attributes:
        play_in: by how much a joint may be looser than it was.
        spread_lb: between settled readings of one pad.
    """

    corner_lb: Opt[Annotated[float, within("lb", 0.5, 200)]] = UNSET
    total_lb: Opt[Annotated[float, within("lb", 0.5, 400)]] = UNSET
    cross_percent: Opt[Annotated[float, within("percent", 0.01, 10)]] = UNSET
    height_in: Opt[Annotated[float, within("in", 0.005, 2)]] = UNSET
    camber_deg: Opt[Annotated[float, within("deg", 0.01, 5)]] = UNSET
    caster_deg: Opt[Annotated[float, within("deg", 0.01, 5)]] = UNSET
    toe_in: Opt[Annotated[float, within("in", 0.002, 1, "over 26 in")]] = UNSET
    lead_in: Opt[Annotated[float, within("in", 0.005, 2)]] = UNSET
    play_in: Opt[Annotated[float, within("in", 0.0005, 0.06)]] = UNSET
    spread_lb: Opt[Annotated[float, within("lb", 0.5, 100)]] = UNSET
    notes: Opt[Text] = UNSET


class SeriesRules(FieldGroup):
    """A series' limits, as the team typed them. Its name in the book is theirs too."""

    name: Opt[Name] = UNSET
    min_total_lb: Opt[Annotated[float, within("lb", 1000, 6000)]] = UNSET
    max_left_percent: Opt[Annotated[float, within("percent", 30, 80)]] = UNSET
    min_rear_percent: Opt[Annotated[float, within("percent", 30, 80)]] = UNSET
    max_rear_percent: Opt[Annotated[float, within("percent", 30, 80)]] = UNSET
    tolerance_lb: Opt[Annotated[float, within("lb", 0, 100, "what the series' scales may be off")]] = UNSET
    tolerance_percent: Opt[Annotated[float, within("percent", 0, 5)]] = UNSET
    fuel_rule: Opt[Annotated[str, means("weighed before or after, with what fuel", most=400)]] = UNSET
    notes: Opt[Text] = UNSET


class JobDone(FieldGroup):
    """One job of a card, done.

    Attributes:
        measured: what was really read and set; it goes back into the setup.
        inspected: what the inspection of a whole corner found, of `inspect-rf` and its like alone, which are not done
            without `at`, `straight` and `signed_by`. Only straight and signed it settles the contact. Which part is
            bent is a shop record of that part.
    """

    at: Opt[Moment] = UNSET
    by: Opt[Name] = UNSET
    measured: Opt[Assignments] = UNSET
    inspected: Opt[Inspected] = UNSET
    notes: Opt[Text] = UNSET


class SignedOff(FieldGroup):
    """Who answers for the finished card.

    Attributes:
        unfinished: jobs that were planned and not done when it was signed.
    """

    at: Opt[Moment] = UNSET
    by: Opt[Name] = UNSET
    unfinished: Opt[Jobs] = UNSET


class WorkRecord(FieldGroup):
    """A work card as it is ticked off. Its name in the book is `CAR/DATE-HHMM`.

    Attributes:
        since, revision: the two revisions it leads from and to.
        planned: the jobs that were planned when it was started. It is signed off when each is done or named as
            unfinished; a card between two revisions is not signed off without them.
        done: by the card's name of the job.
    """

    since: Opt[Id] = UNSET
    revision: Opt[Id] = UNSET
    crew: Opt[Annotated[int, within("count", 1, 20, "people")]] = UNSET
    available_min: Opt[Annotated[float, within("min", 0, 10_000)]] = UNSET
    planned: Opt[Jobs] = UNSET
    done: Opt[dict[str, JobDone]] = UNSET
    signed_off: Opt[SignedOff] = UNSET
    notes: Opt[Text] = UNSET


class JobTimes(FieldGroup):
    """What one job takes this team."""

    time_min: Opt[Annotated[float, within("min", 0, 600)]] = UNSET
    people: Opt[Annotated[int, within("count", 1, 10)]] = UNSET
    price_usd: Opt[Annotated[float, within("usd", 0, 100_000)]] = UNSET


class ShopTimes(FieldGroup):
    """The team's own times and prices over the defaults, by the card's name of the job."""

    jobs: Opt[dict[str, JobTimes]] = UNSET
    notes: Opt[Text] = UNSET
