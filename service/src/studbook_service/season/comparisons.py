"""What each thing did to the pace, over a season, where nothing else on the car differed.

Outings of one night, one track state and one set of tires are put into blocks in which all of the car but one thing
was the same; so two things changed at once are never credited, and going back to an earlier setting counts as much as
leaving it. Within the blocks the median of clean laps is fitted to the thing's setting and to the number of the outing
in its night, which takes up how track and tires move. Blocks in which nothing differs tell that drift too.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median
from typing import Any, Final, NamedTuple

from msgspec import UNSET

from studbook.history.canonical import encode
from studbook.history.leaves import Path, dotted
from studbook.wire.fields import unit_of
from studbook.wire.season import Comparison, Verdict
from studbook_service.season.nights import Entry
from studbook_service.season.statistics import SURE, Estimate, Moments, Slopes, block, holm, slopes
from studbook_service.season.steps import interval, noise
from studbook_service.season.things import Thing, about, things
from studbook_service.season.words import between, seconds, setting
from studbook_service.work.touched import CORNER, FROM_NOTHING

OUTINGS_LEAST: Final = 6
"""So many outings in which a setting was told apart from all else make a comparison (ours)."""


class Row(NamedTuple):
    """An outing in a block: a setting, the outing's number in its night, the median of its clean laps."""

    setting: Any
    order: float
    median_s: float


@dataclass(slots=True)
class Evidence:
    """What a season says about one thing in one track state.

    Attributes:
        held: the sums of blocks in which the thing did not differ.
        blocks: those in which it did.
        events: the nights of these.
        confounded: outings of groups in which it differed, but never alone.
        cars: whose.
        beside: fields of the thing that differed beside the one that tells its setting.
    """

    held: Moments = field(default_factory=Moments)
    blocks: list[list[Row]] = field(default_factory=list)
    events: set[str] = field(default_factory=set)
    confounded: int = 0
    cars: set[str] = field(default_factory=set)
    beside: set[Path] = field(default_factory=set)

    def __add__(self, other: "Evidence") -> "Evidence":
        return Evidence(
            held=self.held + other.held,
            blocks=[*self.blocks, *other.blocks],
            events=self.events | other.events,
            confounded=self.confounded + other.confounded,
            cars=self.cars | other.cars,
            beside=self.beside | other.beside,
        )


Key = tuple[str, Thing]
"""A track state and a thing."""


class Question(NamedTuple):
    """A comparison, and its estimate where the numbers carry one."""

    comparison: Comparison
    fit: Slopes | None
    per: float
    held: int


def gather(entries: Iterable[Entry], told_by: Mapping[Thing, Path]) -> dict[Key, Evidence]:
    """Put a car's outings into blocks, thing by thing.

    Args:
        entries: of one car.
        told_by: the field that tells each thing's setting.
    """
    found: dict[Key, Evidence] = defaultdict(Evidence)
    groups = list(_groups(entries))
    all_held: dict[str, Moments] = defaultdict(Moments)
    for group in groups:
        state, whole = group[0].track_state, _whole(group)
        all_held[state] += whole
        for thing, paths in _varied(group).items():
            evidence = found[state, thing]
            evidence.held -= whole  # this group is told anew, by blocks of this thing
            evidence.cars.add(group[0].out.car)
            evidence.beside.update(path for path in paths if path != told_by[thing])
            apart = False
            for rows in _blocks(group, paths, told_by[thing]):
                if len({_spelled(row.setting) for row in rows}) > 1:
                    evidence.blocks.append(rows)
                    evidence.events.add(group[0].out.event)
                    apart = True
                else:
                    evidence.held += block([(0, row.order, row.median_s) for row in rows])
            evidence.confounded += 0 if apart else len(group)
    for (state, _), evidence in found.items():
        evidence.held += all_held[state]
    return dict(found)


def together(of_cars: Sequence[Mapping[Key, Evidence]]) -> dict[Key, Evidence]:
    """Add up what several cars say; things that only one says anything about are left out."""
    found: dict[Key, Evidence] = {}
    for key in sorted({key for each in of_cars for key in each}):
        said = [each[key] for each in of_cars if key in each and each[key].blocks]
        if len(said) > 1:
            found[key] = sum(said, Evidence())
    return found


def telling(entries: Iterable[Entry]) -> dict[Thing, Path]:
    """Choose for each thing the field that differed most often; of two, one that is a number."""
    often: dict[Thing, dict[Path, tuple[bool, int]]] = defaultdict(dict)
    for group in _groups(entries):
        for thing, paths in _varied(group).items():
            for path in paths:
                number, times = often[thing].get(path, (True, 0))
                values = [value for entry in group if (value := entry.settings.get(path, UNSET)) is not UNSET]
                often[thing][path] = (number and all(map(_is_number, values)), times + 1)
    return {
        thing: min(paths, key=lambda path: (not paths[path][0], -paths[path][1], _rank(thing, path), path))
        for thing, paths in often.items()
    }


def ask(evidence: Mapping[Key, Evidence], told_by: Mapping[Thing, Path]) -> list[Question]:
    """Fit each thing where the numbers carry it."""
    return [
        _question(state, thing, told_by[thing], each)
        for (state, thing), each in sorted(evidence.items())
        if each.blocks or each.confounded
    ]


def answer(questions: Sequence[Question]) -> int:
    """Say what each came to, their chances adjusted for how many were asked; gives that number."""
    fitted = [(each, each.fit) for each in questions if each.fit is not None]
    chances = holm([fit.effect.p for _, fit in fitted])
    for (each, fit), chance in zip(fitted, chances, strict=True):
        _tell(each, fit, chance, len(fitted))
    return len(fitted)


def _rank(thing: Thing, path: Path) -> int:
    """Give a field's place among those that say how a thing is set: the first says most."""
    leaves = CORNER.get(thing.what, ())
    leaf = about(path).leaf
    return leaves.index(leaf) if leaf in leaves else len(leaves)


def _groups(entries: Iterable[Entry]) -> Iterator[list[Entry]]:
    """Give the outings of one night, one track state and one set of tires."""
    found: dict[Any, list[Entry]] = defaultdict(list)
    for entry in entries:
        if not entry.left_out and entry.track_state:
            found[entry.out.event, entry.out.car, entry.track_state, tuple(sorted(entry.tires.items()))].append(entry)
    return (group for group in found.values() if len(group) > 1)


def _varied(group: Sequence[Entry]) -> dict[Thing, list[Path]]:
    """Find the things that differed, with those of their fields that did."""
    first = group[0].settings
    paths = [path for path in first if len({_spelled(_setting(entry, path)) for entry in group}) > 1]
    found: dict[Thing, list[Path]] = defaultdict(list)
    for path, thing in things(paths).items():
        found[thing].append(path)
    return found


def _whole(group: Sequence[Entry]) -> Moments:
    """Take the sums of the blocks in which all of the car was the same."""
    blocks: dict[Any, list[tuple[float, float, float]]] = defaultdict(list)
    for entry in group:
        blocks[_rest(entry, frozenset())].append((0.0, float(entry.order), entry.pace.median_s or 0.0))
    return sum(map(block, blocks.values()), Moments())


def _blocks(group: Sequence[Entry], paths: Sequence[Path], tells: Path) -> list[list[Row]]:
    """Give the outings between which all but one thing was the same, and whose setting of it is known.

    Where other fields of the thing differ while the one that tells its setting does not, the setting is not known.
    """
    found: dict[Any, list[Row]] = defaultdict(list)
    its_own = frozenset(paths)
    if tells not in its_own:
        return []
    beside: dict[Any, Any] = {}
    for entry in group:
        value = _setting(entry, tells)
        others = [_spelled(_setting(entry, path)) for path in paths]
        if value is not UNSET and beside.setdefault(_spelled(value), others) == others:
            found[_rest(entry, its_own)].append(Row(value, float(entry.order), entry.pace.median_s or 0.0))
    return list(found.values())


def _rest(entry: Entry, left_out: frozenset[Path]) -> tuple[Any, ...]:
    """Spell all of a night's settings but some."""
    return tuple((path, _spelled(_setting(entry, path))) for path in sorted(entry.settings) if path not in left_out)


def _question(state: str, thing: Thing, path: Path, evidence: Evidence) -> Question:
    values = sorted(
        {_spelled(row.setting): row.setting for rows in evidence.blocks for row in rows}.values(),
        key=lambda each: (not _is_number(each), each if _is_number(each) else str(each)),
    )
    comparison = Comparison(
        path=dotted(path),
        thing=thing.said(),
        track_state=state,  # type: ignore[arg-type] # one of them, or the outing would be in no group
        cars=sorted(evidence.cars),
        outings=sum(map(len, evidence.blocks)),
        nights=len(evidence.events),
        verdict="too_few",
        detail="",
        unit=unit_of(path) or UNSET,
        beside=[dotted(each) for each in sorted(evidence.beside)],
    )
    if values:
        comparison.least, comparison.most = values[0], values[-1]
    numbers = all(map(_is_number, values))
    fit = None
    if not values:
        comparison.verdict = "confounded"
        comparison.detail = f"{evidence.confounded} outings, and never changed alone: not credited"
    elif comparison.outings < OUTINGS_LEAST:
        said = f"{comparison.outings} outings where {OUTINGS_LEAST} are wanted"
        comparison.detail = f"cannot be told from noise: {said}"
    elif not numbers and len(values) > 2:
        comparison.detail = f"{len(values)} settings that are no numbers, each run too seldom"
    else:
        fit = slopes(evidence.held + _sums(evidence.blocks, values, numbers=numbers))
        if fit is None:
            comparison.verdict = "one_way"
            said = f"{comparison.outings} outings, the setting always went one way and too few had nothing changed"
            comparison.detail = f"cannot be told from how the track moved through the night: {said}"
    step = _usual_step(evidence.blocks) if fit is not None and numbers else 1.0
    return Question(comparison, fit, step, evidence.held.rows)


def _sums(blocks: Sequence[Sequence[Row]], values: Sequence[Any], *, numbers: bool) -> Moments:
    """Take the sums of blocks; of two settings that are no numbers one is 0 and the other 1."""
    codes = {_spelled(value): float(value) if numbers else float(place) for place, value in enumerate(values)}
    each = (block([(codes[_spelled(row.setting)], row.order, row.median_s) for row in rows]) for rows in blocks)
    return sum(each, Moments())


def _tell(question: Question, fit: Slopes, chance: float, asked: int) -> None:
    comparison, per = question.comparison, question.per
    effect = _times(fit.effect, per)
    sure = chance < SURE
    comparison.verdict = _verdict(effect) if sure else "noise"
    numbers = _is_number(comparison.least) and _is_number(comparison.most)
    unit = f" {comparison.unit}" if comparison.unit else ""
    what = (
        f"per {setting(per)}{unit} more"
        if numbers
        else f"{setting(comparison.most)} against {setting(comparison.least)}"
    )
    nights = "all of one night" if comparison.nights == 1 else f"on {comparison.nights} nights"
    figures = f"n={comparison.outings} outings {nights}, {seconds(effect.value)} s {what}, interval {between(effect)} s"
    comparison.detail = figures if sure else f"{noise(effect, asked)}: {figures}"
    comparison.per = per if numbers else UNSET
    comparison.effect_s = round(effect.value, 4)
    comparison.drift_s = round(fit.drift, 4)
    comparison.interval = interval(effect, others=question.held, chance=chance)


def _verdict(effect: Estimate) -> Verdict:
    return "faster" if effect.value < 0 else "slower"


def _times(effect: Estimate, per: float) -> Estimate:
    return Estimate(value=effect.value * per, low=effect.low * per, high=effect.high * per, p=effect.p, df=effect.df)


def _usual_step(blocks: Sequence[Sequence[Row]]) -> float:
    """Give the middle one of the steps between neighboring settings in a block."""
    found = [b - a for rows in blocks for a, b in pairwise(sorted({float(row.setting) for row in rows}))]
    return round(median(found), 6) or 1.0


def _setting(entry: Entry, path: Path) -> Any:
    """Give a setting; of a field whose absence means none of it, 0."""
    value = entry.settings.get(path, UNSET)
    return 0 if value is UNSET and about(path).leaf in FROM_NOTHING else value


def _spelled(value: Any) -> Any:
    """Give what tells a setting from others."""
    return value if isinstance(value, str) or _is_number(value) or value is UNSET else encode(value)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
