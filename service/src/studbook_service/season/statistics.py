"""What a few numbers can carry: intervals, a slope within blocks, and many tests at once."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from studbook_service.season.student import critical, two_sided_p

CONFIDENCE: Final = 0.95
SURE: Final = 1 - CONFIDENCE
"""Below this chance, after Holm's adjustment, a difference counts as one."""

_NOTHING_LEFT: Final = 1e-9
"""So small a part of what varies, left over by the drift, shows nothing of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value with its interval.

    Attributes:
        low, high: of the interval that holds the true value in 95 of 100 such seasons.
        p: the chance of a value at least so far from 0, were the true one 0.
        df: degrees of freedom.
    """

    value: float
    low: float
    high: float
    p: float
    df: int


def mean(values: Sequence[float]) -> Estimate | None:
    """Estimate a mean by Student's t; None of fewer than two values, or where they do not vary.

    Example:
        >>> found = mean([1.0, 2.0, 3.0])
        >>> found.value, round(found.low, 3), round(found.high, 3)
        (2.0, -0.484, 4.484)
    """
    if len(values) < 2:
        return None
    return _estimate(fmean(values), _spread(values) / math.sqrt(len(values)), len(values) - 1)


def beyond(one: float, others: Sequence[float]) -> Estimate | None:
    """Estimate by how much one value is beyond what others of its kind are; None of fewer than two others.

    The prediction interval for one more of the others, about the difference: one - mean ± t s √(1 + 1/n).

    Example:
        >>> found = beyond(5.0, [1.0, 2.0, 3.0])
        >>> found.value, round(found.low, 3)
        (3.0, -1.968)
    """
    if len(others) < 2:
        return None
    return _estimate(one - fmean(others), _spread(others) * math.sqrt(1 + 1 / len(others)), len(others) - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSums:
    """Sums over blocks of x, z and y, each less its mean in its block; a block of one adds nothing.

    Attributes:
        rows: in blocks of two and more.
        blocks: of two and more rows.
    """

    rows: int = 0
    blocks: int = 0
    xx: float = 0.0
    xz: float = 0.0
    zz: float = 0.0
    xy: float = 0.0
    zy: float = 0.0
    yy: float = 0.0

    def __add__(self, other: "BlockSums") -> "BlockSums":
        return BlockSums(**{name: getattr(self, name) + getattr(other, name) for name in self.__slots__})

    def __sub__(self, other: "BlockSums") -> "BlockSums":
        return BlockSums(**{name: getattr(self, name) - getattr(other, name) for name in self.__slots__})


def block(rows: Sequence[tuple[float, float, float]]) -> BlockSums:
    """Take the sums of one block.

    Args:
        rows: x, z and y of each.

    Example:
        >>> block([(0, 0, 1), (1, 1, 2)]).xy
        0.5
    """
    if len(rows) < 2:
        return BlockSums()
    x, z, y = ([each - fmean(column) for each in column] for column in zip(*rows, strict=True))
    return BlockSums(
        rows=len(rows),
        blocks=1,
        xx=_dot(x, x),
        xz=_dot(x, z),
        zz=_dot(z, z),
        xy=_dot(x, y),
        zy=_dot(z, y),
        yy=_dot(y, y),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Slopes:
    """What y does per x, at the same z and in the same block.

    Attributes:
        effect: y per x.
        drift: y per z.
    """

    effect: Estimate
    drift: float


def slopes(sums: BlockSums) -> Slopes | None:
    """Fit y = block + effect·x + drift·z by least squares; None where x and z cannot be told apart, or no row is left.

    Each block has a level of its own (fixed effects), one spread is taken for all, and n - blocks - 2 degrees of
    freedom are left. By the theorem of Frisch, Waugh and Lovell the sums within blocks are enough.

    Example:
        >>> rows = [(0, 0, 1.0), (1, 1, 1.6), (1, 2, 1.7), (0, 3, 1.2)]
        >>> round(slopes(block(rows)).effect.value, 3)
        0.55
    """
    df = sums.rows - sums.blocks - 2
    if df < 1 or sums.zz <= 0:
        return None
    own = sums.xx - sums.xz**2 / sums.zz
    if own <= _NOTHING_LEFT * sums.xx or own <= 0:
        return None
    effect = (sums.xy - sums.xz * sums.zy / sums.zz) / own
    drift = (sums.zy - effect * sums.xz) / sums.zz
    left = max(0.0, sums.yy - effect * sums.xy - drift * sums.zy)
    return Slopes(effect=_estimate(effect, math.sqrt(left / df / own), df), drift=drift)


def holm(chances: Sequence[float]) -> list[float]:
    """Adjust chances for how many tests were made at once (Holm's step-down, 1979).

    It needs no independence, so the team's comparisons may share outings with the cars'.

    Example:
        >>> holm([0.01, 0.04, 0.03])
        [0.03, 0.06, 0.06]
    """
    order = sorted(range(len(chances)), key=chances.__getitem__)
    adjusted = [0.0] * len(chances)
    least = 0.0
    for place, number in enumerate(order):
        least = max(least, min(1.0, (len(chances) - place) * chances[number]))
        adjusted[number] = least
    return adjusted


def _estimate(value: float, error: float, df: int) -> Estimate:
    reach = critical(CONFIDENCE, df=df) * error
    # Without any spread there is nothing to hold a difference against: a watch that reads to the tenth can do that.
    p = two_sided_p(value / error, df=df) if error > 0 else 1.0
    return Estimate(value=value, low=value - reach, high=value + reach, p=p, df=df)


def _spread(values: Sequence[float]) -> float:
    middle = fmean(values)
    return math.sqrt(math.fsum((each - middle) ** 2 for each in values) / (len(values) - 1))


def _dot(one: Iterable[float], other: Iterable[float]) -> float:
    return math.fsum(a * b for a, b in zip(one, other, strict=True))
