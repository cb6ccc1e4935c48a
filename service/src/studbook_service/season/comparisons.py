"""What each factor did to the pace over a season, where nothing else on the car differed.

Outings of one night, car, track state and set of tires are put into blocks in which all of the car but one factor was
the same: what is confounded never meets in a block, and going back counts as much as leaving. Within the blocks the
median of clean laps is fitted to the factor's setting and to the outing's number in its night, which takes up the drift
of track and tires, as blocks in which nothing differs do. The unit is the outing: its laps share track, tires, driver.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median
from typing import Any, Final, NamedTuple

from msgspec import UNSET

from studbook.history.canonical import encode
from studbook.history.leaves import Path, dotted, is_number
from studbook.wire.fields import unit_of
from studbook.wire.season import Comparison, Verdict
from studbook_service.season.factors import Factor, factors_of
from studbook_service.season.nights import CarRun
from studbook_service.season.number_text import interval_text, seconds_text, setting_text
from studbook_service.season.statistics import SURE, BlockSums, Estimate, Slopes, block, holm, slopes
from studbook_service.season.steps import interval, noise
from studbook_service.work.car_fields import CORNER_COMPONENTS, FROM_NOTHING, car_field

OUTINGS_LEAST: Final = 6
"""The fewest outings, with nothing else differing, that make a comparison (ours)."""


class BlockRow(NamedTuple):
    """An outing in a block: a setting, the outing's number in its night, the median of its clean laps."""

    setting: Any
    order: float
    median_s: float


@dataclass(slots=True)
class Evidence:
    """What a season shows of one factor in one track state.

    Attributes:
        constant: the sums of blocks in which the factor did not differ.
        blocks: those in which it did.
        events: the nights of these.
        confounded: outings of groups in which it differed, but never alone.
        cars: whose.
        other_paths: fields of the factor that differed, except the one of its setting.
    """

    constant: BlockSums = field(default_factory=BlockSums)
    blocks: list[list[BlockRow]] = field(default_factory=list)
    events: set[str] = field(default_factory=set)
    confounded: int = 0
    cars: set[str] = field(default_factory=set)
    other_paths: set[Path] = field(default_factory=set)

    def __add__(self, other: "Evidence") -> "Evidence":
        return Evidence(
            self.constant + other.constant,
            [*self.blocks, *other.blocks],
            self.events | other.events,
            self.confounded + other.confounded,
            self.cars | other.cars,
            self.other_paths | other.other_paths,
        )


Key = tuple[str, Factor]
"""A track state and a factor."""


class Question(NamedTuple):
    """A comparison, and its estimate where the numbers carry one."""

    comparison: Comparison
    fit: Slopes | None
    per: float
    constant: int


def evidence_of(runs: Iterable[CarRun], setting_paths: Mapping[Factor, Path]) -> dict[Key, Evidence]:
    """Put one car's outings into blocks, factor by factor; `setting_paths` has the field of each factor's setting."""
    found: dict[Key, Evidence] = defaultdict(Evidence)
    groups = list(_groups(runs))
    all_constant: dict[str, BlockSums] = defaultdict(BlockSums)
    for group in groups:
        state, whole = group[0].track_state, _whole(group)
        all_constant[state] += whole
        for factor, paths in _varied(group).items():
            evidence = found[state, factor]
            evidence.constant -= whole  # this group is added again, by blocks of this factor
            evidence.cars.add(group[0].outing.car)
            evidence.other_paths.update(path for path in paths if path != setting_paths[factor])
            apart = False
            for rows in _blocks(group, paths, setting_paths[factor]):
                if len({_hashable(row.setting) for row in rows}) > 1:
                    evidence.blocks.append(rows)
                    evidence.events.add(group[0].outing.event)
                    apart = True
                else:
                    evidence.constant += block([(0, row.order, row.median_s) for row in rows])
            evidence.confounded += 0 if apart else len(group)
    for (state, _), evidence in found.items():
        evidence.constant += all_constant[state]
    return dict(found)


def team_evidence(of_cars: Sequence[Mapping[Key, Evidence]]) -> dict[Key, Evidence]:
    """Add up the evidence of several cars; factors that only one car has evidence of are left out."""
    found: dict[Key, Evidence] = {}
    for key in sorted({key for each in of_cars for key in each}):
        known = [each[key] for each in of_cars if key in each and each[key].blocks]
        if len(known) > 1:
            found[key] = sum(known, Evidence())
    return found


def setting_paths_of(runs: Iterable[CarRun]) -> dict[Factor, Path]:
    """Choose for each factor the field that differed most often; of two, one that is a number."""
    often: dict[Factor, dict[Path, tuple[bool, int]]] = defaultdict(dict)
    for group in _groups(runs):
        for factor, paths in _varied(group).items():
            for path in paths:
                number, times = often[factor].get(path, (True, 0))
                values = [value for run in group if (value := run.settings.get(path, UNSET)) is not UNSET]
                often[factor][path] = (number and all(map(is_number, values)), times + 1)
    return {
        factor: min(paths, key=lambda path: (not paths[path][0], -paths[path][1], _rank(factor, path), path))
        for factor, paths in often.items()
    }


def questions_of(evidence: Mapping[Key, Evidence], setting_paths: Mapping[Factor, Path]) -> list[Question]:
    """Fit each factor where the numbers carry it."""
    return [
        _question(state, factor, setting_paths[factor], each)
        for (state, factor), each in sorted(evidence.items())
        if each.blocks or each.confounded
    ]


def fill_in(questions: Sequence[Question]) -> int:
    """Fill in each comparison's result, chances adjusted for how many were fitted; give that number."""
    fitted = [(each, each.fit) for each in questions if each.fit is not None]
    chances = holm([fit.effect.p for _, fit in fitted])
    for (each, fit), chance in zip(fitted, chances, strict=True):
        _fill_in(each, fit, chance, len(fitted))
    return len(fitted)


def _rank(factor: Factor, path: Path) -> int:
    """Give a field's place among the fields of a factor: the first describes the setting best."""
    leaves = CORNER_COMPONENTS.get(factor.component, ())
    leaf = car_field(path).leaf
    return leaves.index(leaf) if leaf in leaves else len(leaves)


def _groups(runs: Iterable[CarRun]) -> Iterator[list[CarRun]]:
    """Give the outings of one night, one track state and one set of tires."""
    found: dict[Any, list[CarRun]] = defaultdict(list)
    for run in runs:
        if not run.left_out and run.track_state:
            found[run.outing.event, run.outing.car, run.track_state, tuple(sorted(run.tires.items()))].append(run)
    return (group for group in found.values() if len(group) > 1)


def _varied(group: Sequence[CarRun]) -> dict[Factor, list[Path]]:
    """Find the factors that differed, with those of their fields that did."""
    first = group[0].settings
    paths = [path for path in first if len({_hashable(_setting(run, path)) for run in group}) > 1]
    found: dict[Factor, list[Path]] = defaultdict(list)
    for path, factor in factors_of(paths).items():
        found[factor].append(path)
    return found


def _whole(group: Sequence[CarRun]) -> BlockSums:
    """Take the sums of the blocks in which all of the car was the same."""
    blocks: dict[Any, list[tuple[float, float, float]]] = defaultdict(list)
    for run in group:
        blocks[_rest(run, frozenset())].append((0.0, float(run.order), run.pace.median_s or 0.0))
    return sum(map(block, blocks.values()), BlockSums())


def _blocks(group: Sequence[CarRun], paths: Sequence[Path], setting_path: Path) -> list[list[BlockRow]]:
    """Give the outings between which all but one factor was the same, and whose setting of it is known.

    Where other fields of the factor differ while the one of its setting does not, the setting is not known.
    """
    found: dict[Any, list[BlockRow]] = defaultdict(list)
    its_own = frozenset(paths)
    if setting_path not in its_own:
        return []
    others_of: dict[Any, Any] = {}
    for run in group:
        value = _setting(run, setting_path)
        others = [_hashable(_setting(run, path)) for path in paths]
        if value is not UNSET and others_of.setdefault(_hashable(value), others) == others:
            found[_rest(run, its_own)].append(BlockRow(value, float(run.order), run.pace.median_s or 0.0))
    return list(found.values())


def _rest(run: CarRun, left_out: frozenset[Path]) -> tuple[Any, ...]:
    """Give all of a night's settings but some, as a key."""
    return tuple((path, _hashable(_setting(run, path))) for path in sorted(run.settings) if path not in left_out)


def _question(state: str, factor: Factor, path: Path, evidence: Evidence) -> Question:
    values = sorted(
        {_hashable(row.setting): row.setting for rows in evidence.blocks for row in rows}.values(),
        key=lambda each: (not is_number(each), each if is_number(each) else str(each)),
    )
    comparison = Comparison(
        path=dotted(path),
        factor=factor.title,
        track_state=state,  # type: ignore[arg-type] # one of them, or the outing would be in no group
        cars=sorted(evidence.cars),
        outings=sum(map(len, evidence.blocks)),
        nights=len(evidence.events),
        verdict="too_few",
        detail="",
        unit=unit_of(path) or UNSET,
        beside=[dotted(each) for each in sorted(evidence.other_paths)],
    )
    if values:
        comparison.least, comparison.most = values[0], values[-1]
    numbers = all(map(is_number, values))
    fit = None
    if not values:
        comparison.verdict = "confounded"
        comparison.detail = f"{evidence.confounded} outings, and never changed alone: not credited"
    elif comparison.outings < OUTINGS_LEAST:
        counts = f"{comparison.outings} outings where {OUTINGS_LEAST} are wanted"
        comparison.detail = f"cannot be told from noise: {counts}"
    elif not numbers and len(values) > 2:
        comparison.detail = f"{len(values)} settings that are not numbers, each run too seldom"
    else:
        fit = slopes(evidence.constant + _sums(evidence.blocks, values, numbers=numbers))
        if fit is None:
            comparison.verdict = "one_way"
            counts = f"{comparison.outings} outings, the setting always went one way and too few had nothing changed"
            comparison.detail = f"cannot be told from how the track moved through the night: {counts}"
    step = _usual_step(evidence.blocks) if fit is not None and numbers else 1.0
    return Question(comparison, fit, step, evidence.constant.rows)


def _sums(blocks: Sequence[Sequence[BlockRow]], values: Sequence[Any], *, numbers: bool) -> BlockSums:
    """Take the sums of blocks; of two settings that are no numbers one is 0 and the other 1."""
    codes = {_hashable(value): float(value) if numbers else float(place) for place, value in enumerate(values)}
    each = (block([(codes[_hashable(row.setting)], row.order, row.median_s) for row in rows]) for rows in blocks)
    return sum(each, BlockSums())


def _fill_in(question: Question, fit: Slopes, chance: float, tested: int) -> None:
    comparison, per = question.comparison, question.per
    effect = _times(fit.effect, per)
    sure = chance < SURE
    comparison.verdict = _verdict(effect) if sure else "noise"
    numbers = is_number(comparison.least) and is_number(comparison.most)
    unit = f" {comparison.unit}" if comparison.unit else ""
    what = (
        f"per {setting_text(per)}{unit} more"
        if numbers
        else f"{setting_text(comparison.most)} against {setting_text(comparison.least)}"
    )
    nights = "all of one night" if comparison.nights == 1 else f"on {comparison.nights} nights"
    found = f"{seconds_text(effect.value)} s {what}, interval {interval_text(effect)} s"
    figures = f"n={comparison.outings} outings {nights}, {found}"
    comparison.detail = figures if sure else f"{noise(effect, tested)}: {figures}"
    comparison.per = per if numbers else UNSET
    comparison.effect_s = round(effect.value, 4)
    comparison.drift_s = round(fit.drift, 4)
    comparison.interval = interval(effect, others=question.constant, chance=chance)


def _verdict(effect: Estimate) -> Verdict:
    return "faster" if effect.value < 0 else "slower"


def _times(effect: Estimate, per: float) -> Estimate:
    return Estimate(value=effect.value * per, low=effect.low * per, high=effect.high * per, p=effect.p, df=effect.df)


def _usual_step(blocks: Sequence[Sequence[BlockRow]]) -> float:
    """Give the middle one of the steps between neighboring settings in a block."""
    found = [b - a for rows in blocks for a, b in pairwise(sorted({float(row.setting) for row in rows}))]
    return round(median(found), 6) or 1.0


def _setting(run: CarRun, path: Path) -> Any:
    """Give a setting; of a field whose absence means none of it, 0."""
    value = run.settings.get(path, UNSET)
    return 0 if value is UNSET and car_field(path).leaf in FROM_NOTHING else value


def _hashable(value: Any) -> Any:
    """Give a setting in a form that can be compared and hashed."""
    return value if isinstance(value, str) or is_number(value) or value is UNSET else encode(value)
