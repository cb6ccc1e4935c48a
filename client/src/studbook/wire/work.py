"""The work card: jobs from one revision to another, who does which when, what fits, and what each job brings with it.

Minutes, people, tools and re-checks are common practice, no source, unless the team gave its own.
"""

from typing import Annotated, Literal

from msgspec import UNSET, Meta

from studbook.wire.entries import Answer, LeafChange, Request, ShortId, Slug
from studbook.wire.setup.common import Corner
from studbook.wire.shop import JobId, JobTimes
from studbook.wire.units import Opt, within

CREW_MOST = 6

INSPECTION = "inspect-"
"""With the corner: the job that comes first after contact, without which a card is not signed off."""

Minutes = Annotated[float, within("min")]
Dollars = Annotated[float, within("usd")]


class WorkTerms(Request):
    """What a card is made for.

    Attributes:
        on_stands: the car stands on four stands, so nobody has to lift it.
        measure_later: heights, scales and bump-steer sheets are put off and owed; they take no time on this card.
    """

    crew: Annotated[int, within("count", 1, CREW_MOST, "people at the car")] = 2
    minutes: Opt[Annotated[float, within("min", 0, 6000, "until the car must be ready; without it all fits")]] = UNSET
    on_stands: bool = False
    measure_later: bool = False


class WorkQuery(WorkTerms):
    """The same as query parameters, with what is read from the book.

    Attributes:
        undo: the way back: from the revision to `since`.
        card: the card as it is ticked off, `CAR/DATE-HHMM`: its jobs that are done take no more time.
    """

    priorities: Annotated[
        str, Meta(max_length=2000, description="changes or jobs, comma between, the most wanted first")
    ] = ""
    undo: bool = False
    card: Opt[Annotated[str, Meta(max_length=100, description="of the work done, such as 7/2026-05-02-1940")]] = UNSET


class SinceWork(WorkQuery, kw_only=True):
    """From which revision, and what the card is made for."""

    since: ShortId


class WorkRequest(WorkTerms):
    """The same with all that was read from the book.

    Attributes:
        priorities: changes, or jobs in them, by what the crew wants most; as many as fit, in this order.
        contact: corners that saw contact, or were found not straight, and were not found straight since; and those
            whose inspection is done on this card.
        done: jobs that are ticked off.
        own: the team's own figures, by kind of job.
    """

    priorities: Annotated[list[JobId], Meta(max_length=100)] = []
    contact: Annotated[list[Corner], Meta(max_length=4)] = []
    done: Annotated[list[JobId], Meta(max_length=500)] = []
    own: dict[Slug, JobTimes] = {}


class PartNeeded(Answer):
    """A part that a job puts in, as the document names it.

    Attributes:
        about: size or rate.
        price_usd: absent where nobody recorded it.
        where: as the book of parts has it: shelf, trailer, car and corner; absent where it has none.
        in_trailer: absent where its place is not recorded.
        tag: of the part in the book.
        fitted: by the book it is on the car already, at the very place where the job puts it.
    """

    kind: str
    name: str
    about: str = ""
    price_usd: Opt[Dollars] = UNSET
    where: Opt[str] = UNSET
    in_trailer: Opt[bool] = UNSET
    tag: Opt[str] = UNSET
    fitted: bool = False


class Job(Answer):
    """One job of a card.

    Attributes:
        kind: of the job table; a team's own figures go by it.
        where: corner or place.
        minutes, people: it takes; `own_figures` says that they are the team's.
        begin_min, end_min: from the start of the work; absent where it is done already or left out.
        who: numbers of the crew's people, from 1.
        todo: what is changed, in words.
        rechecks: re-checks made at the job itself.
        brings: the jobs that re-check what this one moved; `because` names those that brought this one.
        wheels_on: can be done with all four wheels on the ground.
        when: `between_days` is no job between heat and feature unless the part is broken; `shop` is none in the pits.
        change: the change that it belongs to; absent for re-checks.
        state: `planned` on this card, `done`, `left_out` as its change does not fit, `owed` as it is measured later.
    """

    id: JobId
    kind: str
    title: str
    where: str
    minutes: Minutes
    people: int
    state: Literal["planned", "done", "left_out", "owed"]
    begin_min: Opt[Minutes] = UNSET
    end_min: Opt[Minutes] = UNSET
    who: list[int] = []
    todo: list[str] = []
    tools: list[str] = []
    parts: list[PartNeeded] = []
    rechecks: list[str] = []
    brings: list[str] = []
    because: list[str] = []
    cautions: list[str] = []
    wheels_on: bool = False
    when: Literal["pits", "between_days", "shop"] = "pits"
    change: Opt[str] = UNSET
    own_figures: bool = False


class JobKind(Answer):
    """One kind of job.

    Attributes:
        kind: its name, by which the team gives its own figures.
        time_min, people: what it takes: the team's own figures, else the defaults.
        price_usd: the team's own.
        own: the team gave figures of its own.
        rechecks, brings, wheels_on, when: as of a job on a card; `brings` are kinds.
    """

    kind: str
    title: str
    time_min: Minutes
    people: int
    own: bool
    default_min: Minutes
    default_people: int
    price_usd: Opt[Dollars] = UNSET
    tools: list[str] = []
    rechecks: list[str] = []
    brings: list[str] = []
    wheels_on: bool = False
    when: Literal["pits", "between_days", "shop"] = "pits"
    cautions: list[str] = []


class JobTable(Answer):
    """Every kind of job that a card may hold; `about` says where the defaults come from."""

    about: str
    items: list[JobKind]


class ChangeOnCard(Answer):
    """One change: the leaves that go together, and the jobs it takes.

    Attributes:
        id: stable, such as `rf-geometry`, `lr-spring`, `rod-lateral_bar`.
        jobs: that change something; what they bring is named in each.
        fits: whether it is on this card with everything that it brings.
        why_not: where it is not.
    """

    id: str
    title: str
    jobs: list[str]
    changes: list[LeafChange]
    fits: bool = True
    why_not: Opt[str] = UNSET


class WorkCard(Answer):
    """A work card. `headline` first: the sentences a crew chief needs.

    Attributes:
        since, revision: from which to which; on an undo card `revision` is the one gone back to.
        back: an undo card.
        crew: people it is made for.
        minutes_given: absent where nothing has to fit.
        finish_min: when the last planned job ends.
        bound_min: no order of the same jobs ends before this.
        optimal: proven: no order of the planned jobs is shorter, and no better choice of changes fits.
        everything_fits: all that is not done already is planned.
        jobs: planned ones by when they begin, then what is left out, owed, done.
        sign_first: inspections without which the finished card is not signed off.
        wheels_on: planned changes' jobs that can be done with the wheels on the ground.
        by_hand: changes that no job of the table covers, so they take no time on it.
        recorded: changes that were only written down.
        unneeded: jobs of the way there that an undo card makes unnecessary.
    """

    headline: list[str]
    back: bool
    crew: int
    finish_min: Minutes
    bound_min: Minutes
    optimal: bool
    everything_fits: bool
    jobs: list[Job]
    changes: list[ChangeOnCard]
    assumptions: list[str]
    cautions: list[str]
    since: Opt[str] = UNSET
    revision: Opt[str] = UNSET
    minutes_given: Opt[Minutes] = UNSET
    parts_price_usd: Opt[Dollars] = UNSET
    sign_first: list[str] = []
    wheels_on: list[str] = []
    by_hand: list[LeafChange] = []
    recorded: list[LeafChange] = []
    unneeded: list[str] = []
