"""What came of each change, outing by outing, held against outings between which nothing was changed."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import fmean
from typing import Final, NamedTuple

from studbook.wire.season import Against, Interval, Verdict
from studbook_service.season.nights import Entry
from studbook_service.season.statistics import SURE, Estimate, beyond, holm
from studbook_service.season.words import between, seconds

HELD_LEAST: Final = 5
"""So many pairs of outings with nothing changed tell the noise (ours; fewer make an interval nobody can use)."""


class Pair(NamedTuple):
    """An outing and the one before it."""

    before: Entry
    entry: Entry

    @property
    def unlike(self) -> str:
        """Why the two are not held against each other; empty where they may be."""
        return self.entry.unlike(self.before)

    @property
    def slower_s(self) -> float:
        """By how much the median of clean laps rose."""
        return (self.entry.pace.median_s or 0.0) - (self.before.pace.median_s or 0.0)

    @property
    def where(self) -> tuple[str, str]:
        """The car and the track's state."""
        return self.entry.out.car, self.entry.track_state


def judge(entries: Iterable[Entry]) -> tuple[dict[str, Against], int]:
    """Hold each outing against the one before it.

    Args:
        entries: of all cars.

    Returns:
        By the outing's name; and how many changes were judged, which their chances are adjusted for.
    """
    pairs = [Pair(entry.before, entry) for entry in entries if entry.before is not None]
    held: dict[tuple[str, str], list[float]] = defaultdict(list)
    for pair in pairs:
        if not pair.unlike and not pair.entry.things:
            held[pair.where].append(pair.slower_s)
    found = {pair.entry.out.name: _unjudged(pair, len(held[pair.where])) for pair in pairs}
    judged: list[tuple[Pair, Estimate]] = []
    for pair in pairs:
        if found[pair.entry.out.name].verdict == "too_few" and len(held[pair.where]) >= HELD_LEAST:
            estimate = beyond(pair.slower_s, held[pair.where])
            if estimate is not None:
                judged.append((pair, estimate))
    chances = holm([estimate.p for _, estimate in judged])
    for (pair, estimate), chance in zip(judged, chances, strict=True):
        found[pair.entry.out.name] = _judged(pair, estimate, held[pair.where], chance, len(judged))
    return found, len(judged)


def _unjudged(pair: Pair, held: int) -> Against:
    things = pair.entry.things
    if pair.unlike:
        return _against(pair, "unlike", f"not held against it: {pair.unlike}")
    if len(things) > 1:
        names = ", ".join(thing.said() for thing in things)
        return _against(pair, "confounded", f"{len(things)} things changed at once ({names}): none is credited")
    if not things:
        return _against(pair, "held", "nothing was changed on the car: such pairs tell the noise")
    said = f"1 outing against 1, and {held} pairs with nothing changed where {HELD_LEAST} are wanted"
    return _against(pair, "too_few", f"cannot be told from noise: {said}")


def _judged(pair: Pair, estimate: Estimate, held: Sequence[float], chance: float, asked: int) -> Against:
    sure = chance < SURE
    verdict: Verdict = ("faster" if estimate.value < 0 else "slower") if sure else "noise"
    n = len(held)
    figures = f"{seconds(estimate.value)} s against {n} pairs with nothing changed, interval {between(estimate)} s"
    against = _against(pair, verdict, figures if sure else f"{noise(estimate, asked)}: {figures}")
    against.drift_s = round(fmean(held), 4)
    against.interval = interval(estimate, others=n, chance=chance)
    return against


def _against(pair: Pair, verdict: Verdict, detail: str) -> Against:
    """Say by how much an outing was slower than the one before, where the two may be held against each other."""
    against = Against(outing=pair.before.out.name, verdict=verdict, detail=detail)
    old, new = pair.before.pace, pair.entry.pace
    if verdict != "unlike" and old.best_s is not None and new.best_s is not None:
        against.best_s, against.median_s = round(new.best_s - old.best_s, 4), round(pair.slower_s, 4)
    return against


def noise(estimate: Estimate, asked: int) -> str:
    """Say that a difference cannot be told from noise, and whether that is for how many were asked.

    Example:
        >>> noise(Estimate(value=1, low=0.1, high=1.9, p=0.04, df=9), 12)
        'cannot be told from noise among 12 that were asked'
    """
    return "cannot be told from noise" + (f" among {asked} that were asked" if estimate.p < SURE else "")


def interval(estimate: Estimate, *, others: int, chance: float) -> Interval:
    """Give an estimate's interval as it is told."""
    return Interval(
        low_s=round(estimate.low, 4),
        high_s=round(estimate.high, 4),
        others=others,
        chance=float(f"{estimate.p:.4g}"),
        chance_holm=float(f"{chance:.4g}"),
    )
