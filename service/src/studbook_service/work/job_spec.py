"""What a kind of job is, where it comes in the order of a card, and how the job table is read."""

import re
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Literal

from studbook_service.work.cautions import CAUTIONS

When = Literal["pits", "between_days", "shop"]


class Stage(IntEnum):
    """The order of a card: on one place of the car a lower stage is done before a higher one (see `order`)."""

    INSPECT = 10
    TIRES = 20
    PRESSURES = 21
    STAGGER = 22
    PARTS = 30
    PRELOAD = 40
    PERCHES = 45
    HEIGHTS = 50
    ADJUST = 60
    CAMBER = 61
    TIE_ROD = 70
    TOE = 71
    BUMP_STEER = 80
    SWING = 90
    BARS = 95
    SCALES = 100
    NUTS = 110


@dataclass(frozen=True, kw_only=True)
class JobSpec:
    """A kind of job.

    Attributes:
        title: as a crew says it.
        stage: where it comes in the order.
        minutes, people: what it takes.
        tools: to fetch first.
        rechecks: made at the job itself.
        brings: kinds of jobs that re-check what it moved.
        wheels_on: can be done with all four wheels on the ground.
        lifts: raises its end of the car.
        under: somebody lies under the car.
        alone: nothing else goes on anywhere at the car.
        standing: reads the car as it stands, so nobody may lift it.
        when: `between_days` is no job between heat and feature unless the part is broken; `shop` is none in the pits.
        measures: it only measures the car as a whole, so it can be put off and owed.
        cautions: shown with it.
    """

    title: str
    stage: Stage
    minutes: float
    people: int = 1
    tools: tuple[str, ...] = ()
    rechecks: tuple[str, ...] = ()
    brings: tuple[str, ...] = ()
    wheels_on: bool = False
    lifts: bool = False
    under: bool = False
    alone: bool = False
    standing: bool = False
    when: When = "pits"
    measures: bool = False
    cautions: tuple[str, ...] = ()

    @property
    def shown(self) -> dict[str, Any]:
        """The fields that a job on a card and a row of the job table have in common."""
        lists = {name: list(getattr(self, name)) for name in ("tools", "rechecks", "cautions")}
        return {"title": self.title, "wheels_on": self.wheels_on, "when": self.when, **lists}


def parse_jobs(table: str) -> dict[str, JobSpec]:
    r"""Read a job table.

    A job is a line `name: title | stage, minutes, people, flags`, then its lists, indented. Between tools and re-checks
    stands a semicolon, between names a comma.

    Raises:
        ValueError: a line is not of this form.
        KeyError: there is no such stage or caution.
        TypeError: there is no such flag or list.

    Example:
        >>> parse_jobs("gear: quick-change gear | parts, 10 min, wheels_on\n  rechecks: oil; lash")["gear"].rechecks
        ('oil', 'lash')
    """
    specs = {}
    for job in re.split(r"\n(?=\w)", table.strip()):
        first, *lists = job.splitlines()
        name, title, facts = re.split(r": | \| ", first)
        stage, *rest = facts.split(", ")
        fields: dict[str, Any] = {"title": title, "stage": Stage[stage.upper()]}
        for fact in rest:
            match fact.split(" "):
                case [amount, unit]:
                    fields["minutes" if unit == "min" else unit] = int(amount)
                case ["between_days" | "shop" as when]:
                    fields["when"] = when
                case [flag]:
                    fields[flag] = True
        for line in lists:
            key, values = line.strip().split(": ", 1)
            fields[key] = tuple(values.split("; " if key in {"tools", "rechecks"} else ", "))
        fields["cautions"] = tuple(CAUTIONS[caution] for caution in fields.get("cautions", ()))
        specs[name] = JobSpec(**fields)
    return specs
