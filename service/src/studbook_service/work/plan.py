"""Which changes are done, and who does which job when."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from operator import or_
from typing import Final

from msgspec import UNSET

from studbook.wire.shop import JobTimes
from studbook.wire.work import WorkRequest
from studbook_service.work.bounds import SchedulingProblem, members
from studbook_service.work.choice import choose
from studbook_service.work.items import Item
from studbook_service.work.order import STEPS_PER_MINUTE, inspections, scheduling_problem, with_checks
from studbook_service.work.schedule import Schedule, shortest

NO_OWN: Final = JobTimes()

HOWEVER_FEW: Final = frozenset({"inspect", "wheel_torque"})
"""Kinds of jobs that are on a card whatever is chosen, so they take no more people than there are."""

STEPS_A_CHOICE: Final = 400
"""Steps for the question whether one choice of changes fits; together they may take as many as the card's schedule."""


def minutes_of(item: Item, own: Mapping[str, JobTimes]) -> float:
    """Give what a job takes: the team's own minutes for its kind, else the table's."""
    minutes = own.get(item.kind, NO_OWN).time_min
    return item.times * (item.of.minutes if minutes is UNSET else minutes)


def people_of(item: Item, own: Mapping[str, JobTimes]) -> int:
    """Give how many a job takes: the team's own number for its kind, else the table's."""
    people = own.get(item.kind, NO_OWN).people
    return item.of.people if people is UNSET else people


@dataclass(frozen=True, kw_only=True)
class WorkPlan:
    """What is done when.

    Attributes:
        items: the jobs of the chosen changes with all that they bring, in the order of the card.
        planned: those of them that take time on this card: neither done nor put off.
        tasks: the planned ones as the scheduler sees them.
        schedule: when each of them begins.
        why_not: for each change that is left out.
        proven: no better choice of changes fits.
    """

    items: Sequence[Item]
    planned: Sequence[Item]
    tasks: SchedulingProblem
    schedule: Schedule
    why_not: Mapping[str, str]
    proven: bool

    @cached_property
    def who(self) -> list[list[int]]:
        """Give each planned job its people, numbered from 1: those with the lowest numbers that are free."""
        begin, free_at = self.schedule.begin, [0] * self.tasks.crew
        found: list[list[int]] = [[] for _ in begin]
        for task in sorted(range(len(begin)), key=lambda each: (begin[each], each)):
            free = [person for person, until in enumerate(free_at) if until <= begin[task]]
            for person in free[: self.tasks.people[task]]:
                free_at[person] = begin[task] + self.tasks.duration[task]
                found[task].append(person + 1)
        return found


class Planner:
    """The jobs of a card, and the request for it.

    Attributes:
        always: inspections after contact, whatever is chosen.
        changes: by id the jobs that go together, in the order of the card.
    """

    def __init__(self, items: Sequence[Item], request: WorkRequest, *, search_steps: int) -> None:
        """Take the jobs that change something; `search_steps` are for the schedule, and as many for the choice."""
        self.request = request
        self.always = inspections(request.contact)
        self.changes: dict[str, list[Item]] = {}
        for item in with_checks(items):
            if item.change:
                self.changes.setdefault(item.change, []).append(item)
        self._search_steps = self._left = search_steps
        self._unsure = False

    @property
    def limit(self) -> int:
        """Give the time until which all must be done, in steps of the schedule; 0 where nothing has to fit."""
        return 0 if self.request.minutes is UNSET else int(self.request.minutes * STEPS_PER_MINUTE)

    def minutes(self, item: Item) -> float:
        """Give what a job takes."""
        return minutes_of(item, self.request.own)

    def people(self, item: Item) -> int:
        """Give how many a job takes."""
        people = people_of(item, self.request.own)
        return min(people, self.request.crew) if item.kind in HOWEVER_FEW else people

    def with_all(self, changes: Collection[str]) -> list[Item]:
        """Give the inspections and the jobs of some changes with all that they bring."""
        return with_checks([*self.always, *(item for name in changes for item in self.changes[name])])

    def plan(self) -> WorkPlan:
        """Choose and schedule."""
        why_not = {name: why for name in self.changes if (why := self._too_few(name))}
        chosen, proven = [name for name in self.changes if name not in why_not], True
        if self.request.minutes is not UNSET:
            possible = chosen
            chosen, proven = self._chosen(possible)
            missed = f"does not fit in {self.request.minutes:g} minutes with all that it brings"
            why_not |= {name: missed for name in possible if name not in chosen}
        items = self.with_all(chosen)
        planned = self._timed(items)
        tasks = self._tasks(planned)
        schedule = shortest(tasks, search_steps=self._search_steps)
        return WorkPlan(items=items, planned=planned, tasks=tasks, schedule=schedule, why_not=why_not, proven=proven)

    def _timed(self, items: Sequence[Item]) -> list[Item]:
        """Leave out what is done, and what is measured later."""
        return [
            item
            for item in items
            if item.id not in self.request.done
            and not (self.request.measure_later and item.of.measures and not item.change)
        ]

    def _tasks(self, items: Sequence[Item]) -> SchedulingProblem:
        return scheduling_problem(
            items,
            minutes=[self.minutes(item) for item in items],
            people=[self.people(item) for item in items],
            crew=self.request.crew,
            on_stands=self.request.on_stands,
        )

    def _too_few(self, change: str) -> str | None:
        for item in self._timed(self.with_all([change])):
            if self.people(item) > self.request.crew:
                return f"{item.title} takes {self.people(item)} people"
        return None

    def _chosen(self, possible: Sequence[str]) -> tuple[list[str], bool]:
        """Choose of the changes that the crew is enough for; say whether no choice is better."""
        items = self._timed(self.with_all(possible))
        number = {item.id: task for task, item in enumerate(items)}
        tasks = self._tasks(items)

        def takes(changes: Collection[str]) -> int:
            return sum(1 << number[item.id] for item in self._timed(self.with_all(changes)))

        always, each = takes([]), [takes([name]) for name in possible]

        def fits(some: Collection[int]) -> bool:
            return self._fits(tasks.only(reduce(or_, (each[change] for change in some), always)))

        choice = choose(
            priorities=self._priorities(possible),
            work=[sum(tasks.work[task] for task in members(mask)) for mask in each],
            fits=fits,
        )
        return [possible[change] for change in sorted(choice.chosen)], choice.proven and not self._unsure

    def _priorities(self, possible: Sequence[str]) -> list[int]:
        """Give the numbers of the changes with priority, by their own name or that of one of their jobs."""
        change_of = {item.id: name for name, items in self.changes.items() for item in items}
        names = dict.fromkeys(change_of.get(name, name) for name in self.request.priorities)
        return [possible.index(name) for name in names if name in possible]

    def _fits(self, tasks: SchedulingProblem) -> bool:
        found = shortest(tasks, search_steps=min(STEPS_A_CHOICE, self._left), within=self.limit)
        self._left -= found.search_steps
        if found.bound <= self.limit < found.end:
            self._unsure = True
        return found.end <= self.limit
