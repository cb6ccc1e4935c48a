"""The effect of each change, outing by outing, compared with pairs of outings with nothing changed between them.

The interval is a prediction interval, for one more of the unchanged pairs. Chances are adjusted by Holm, apart for
these changes and for factors over the season; that needs no independence, so the team's comparisons may share outings
with the cars'. The best lap is reported, never tested: the least of many laps is the noisiest of figures.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import fmean
from typing import Final, NamedTuple

from studbook.wire.season import Against, Interval, Verdict
from studbook_service.season.nights import CarRun
from studbook_service.season.number_text import interval_text, seconds_text
from studbook_service.season.statistics import SURE, Estimate, beyond, holm

UNCHANGED_LEAST: Final = 5
"""The fewest unchanged pairs that an interval is made of (ours; fewer make one that nobody can use)."""


class Pair(NamedTuple):
    """An outing and the one before it."""

    before: CarRun
    run: CarRun

    @property
    def why_unlike(self) -> str:
        """Why the two are not compared; empty where they may be."""
        return self.run.why_unlike(self.before)

    @property
    def slower_s(self) -> float:
        """By how much the median of clean laps rose."""
        return (self.run.pace.median_s or 0.0) - (self.before.pace.median_s or 0.0)

    @property
    def where(self) -> tuple[str, str]:
        """The car and the track's state."""
        return self.run.outing.car, self.run.track_state


def judge(runs: Iterable[CarRun]) -> tuple[dict[str, Against], int]:
    """Compare each outing of all cars with the one before it.

    Returns:
        By the outing's name; and how many changes were judged, the number that their chances are adjusted for.
    """
    pairs = [Pair(run.before, run) for run in runs if run.before is not None]
    unchanged: dict[tuple[str, str], list[float]] = defaultdict(list)
    for pair in pairs:
        if not pair.why_unlike and not pair.run.factors:
            unchanged[pair.where].append(pair.slower_s)
    found = {pair.run.outing.name: _unjudged(pair, len(unchanged[pair.where])) for pair in pairs}
    judged: list[tuple[Pair, Estimate]] = []
    for pair in pairs:
        if found[pair.run.outing.name].verdict == "too_few" and len(unchanged[pair.where]) >= UNCHANGED_LEAST:
            estimate = beyond(pair.slower_s, unchanged[pair.where])
            if estimate is not None:
                judged.append((pair, estimate))
    chances = holm([estimate.p for _, estimate in judged])
    for (pair, estimate), chance in zip(judged, chances, strict=True):
        found[pair.run.outing.name] = _judged(pair, estimate, unchanged[pair.where], chance, len(judged))
    return found, len(judged)


def _unjudged(pair: Pair, unchanged: int) -> Against:
    factors = pair.run.factors
    if pair.why_unlike:
        return _against(pair, "unlike", f"not compared with it: {pair.why_unlike}")
    if len(factors) > 1:
        names = ", ".join(factor.title for factor in factors)
        return _against(pair, "confounded", f"{len(factors)} factors changed at once ({names}): none is credited")
    if not factors:
        return _against(pair, "held", "nothing was changed on the car: such pairs show the noise")
    counts = f"1 outing against 1, and {unchanged} pairs with nothing changed where {UNCHANGED_LEAST} are wanted"
    return _against(pair, "too_few", f"cannot be told from noise: {counts}")


def _judged(pair: Pair, estimate: Estimate, unchanged: Sequence[float], chance: float, tested: int) -> Against:
    sure = chance < SURE
    verdict: Verdict = ("faster" if estimate.value < 0 else "slower") if sure else "noise"
    n = len(unchanged)
    effect = f"{seconds_text(estimate.value)} s against {n} pairs with nothing changed"
    figures = f"{effect}, interval {interval_text(estimate)} s"
    against = _against(pair, verdict, figures if sure else f"{noise(estimate, tested)}: {figures}")
    against.drift_s = round(fmean(unchanged), 4)
    against.interval = interval(estimate, others=n, chance=chance)
    return against


def _against(pair: Pair, verdict: Verdict, detail: str) -> Against:
    """Give by how much an outing was slower than the one before, where the two may be compared."""
    against = Against(outing=pair.before.outing.name, verdict=verdict, detail=detail)
    old, new = pair.before.pace, pair.run.pace
    if verdict != "unlike" and old.best_s is not None and new.best_s is not None:
        against.best_s, against.median_s = round(new.best_s - old.best_s, 4), round(pair.slower_s, 4)
    return against


def noise(estimate: Estimate, tested: int) -> str:
    """Write that a difference cannot be told from noise, and whether that is for how many were tested.

    Example:
        >>> noise(Estimate(value=1, low=0.1, high=1.9, p=0.04, df=9), 12)
        'cannot be told from noise among 12 that were tested'
    """
    return "cannot be told from noise" + (f" among {tested} that were tested" if estimate.p < SURE else "")


def interval(estimate: Estimate, *, others: int, chance: float) -> Interval:
    """Give an estimate's interval for the report."""
    return Interval(
        low_s=round(estimate.low, 4),
        high_s=round(estimate.high, 4),
        others=others,
        chance=float(f"{estimate.p:.4g}"),
        chance_holm=float(f"{chance:.4g}"),
    )
