"""What a kind of job is, and where it comes in the order of a card."""

from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

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
class Kind:
    """A kind of job.

    Attributes:
        title: as said at the car.
        stage: where it comes in the order.
        minutes: it takes.
        people: it takes.
        tools: to fetch first.
        looks: re-checks made at the job itself.
        brings: kinds of jobs that re-check what it moved.
        wheels_on: can be done with all four wheels on the ground.
        lifts: raises its end of the car.
        under: somebody lies under the car.
        alone: nothing else goes on anywhere at the car.
        standing: reads the car as it stands, so nobody may lift it.
        when: `between_days` is no job between heat and feature unless the part is broken; `shop` is none in the pits.
        measures: it only measures the car as a whole, so it can be put off and owed.
        cautions: shown beside it.
    """

    title: str
    stage: Stage
    minutes: float
    people: int = 1
    tools: tuple[str, ...] = ()
    looks: tuple[str, ...] = ()
    brings: tuple[str, ...] = ()
    wheels_on: bool = False
    lifts: bool = False
    under: bool = False
    alone: bool = False
    standing: bool = False
    when: When = "pits"
    measures: bool = False
    cautions: tuple[str, ...] = ()
