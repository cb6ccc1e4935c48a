"""What a car weighs after the race, against the limits of its rules: fuel burned, another driver, ballast moved."""

import itertools
from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal, NamedTuple

import numpy as np
from msgspec import UnsetType

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.around_scales import RaceAnswer, RaceTerms, RuleLimit
from studbook.wire.shop import SeriesRules
from studbook_service.engine import VERSION
from studbook_service.engine.car import percentages
from studbook_service.engine.loads import Ballast, on_scales
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.vectors import Array
from studbook_service.translate import cautions
from studbook_service.translate.aboard import PLACES, SAME_LB, Load, driver_lb, fuel_lb, load, on_dirt
from studbook_service.translate.document import Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.rescaling import OnItsWheels, on_its_wheels, unscaled, weights
from studbook_service.translate.states import rounded
from studbook_service.translate.weighing import SCALE_SIGMA_LB
from studbook_service.translate.whole_car import scales
from studbook_service.translate.words import CORNER, signed

What = Literal["total", "left", "rear"]
Side = Literal["at least", "at most"]

DIRT_SIGMA_LB: Final = 7.5
"""Standard error of a pad on pit dirt, whose readings are good to 15 lb (common practice, no source)."""

BEHIND_IN: Final[Mapping[str, float]] = {"fuel": 36.0, "driver": 0.0}
"""How far behind the rear axle a tank, or a driver, may be (common practice, no source)."""

ERRORS: Final = 2.0
"""So many standard errors a margin must be to count."""


class _After(NamedTuple):
    """The car after the race, over every combination of places that are not known; the first is the middle.

    Attributes:
        total_lb: whatever the places.
        loads_lb: (4, combinations); NaN where the car cannot be put on its scales.
    """

    total_lb: float
    loads_lb: Array


def race_answer(
    tree: Tree, *, origins: Mapping[str, Tree], asked: RaceTerms, rules: SeriesRules | None, source: str
) -> RaceAnswer:
    """Predict what the series' scales read after the race.

    Args:
        tree: the setup document, with what is tried on it.
        origins: where readings were entered; `scales` for those of the scales.
        asked: fuel burned, the driver.
        rules: the limits; None for those in the setup.
        source: what to call them.

    Returns:
        Each limit with the margin and how sure it is. Where the place of fuel or driver is not known, left and rear are
        told for the worst place that it could be in on the car, and that is said.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: it cannot be predicted, and why.
    """
    found = on_its_wheels(tree, origins=origins)
    whole = found.whole if isinstance(found, OnItsWheels) else found
    page = whole.page
    basis = (origins.get("scales") or {}).get("measured", {}).get("basis") or {}
    answer = RaceAnswer(
        headline=[],
        engine=VERSION,
        limits=[],
        moved=list(found.since.causes) if isinstance(found, OnItsWheels) else [],
        source=source,
        assumptions=page.assumed,
        missing=[],
        cautions=list(cautions.RACE),
        total_lb=0.0,
    )
    came = _came(page, asked, basis, answer)
    if isinstance(found, OnItsWheels):
        after = _after(found, came, page)
        answer.scaled, answer.after = weights(found.loads_lb), weights(after.loads_lb[:, 0])
    else:
        answer.missing += unscaled(found)
        after = _weighed(page, came, origins)
    answer.total_lb = rounded(after.total_lb)
    limits = _rules_of(page) if rules is None else rules
    answer.limits = _limits(limits, after, _sigma(asked, basis, page))
    if not answer.limits:
        answer.missing.append(Missing(subject="limits", fields=["min_total_lb", "max_left_percent"]))
    if isinstance(limits.fuel_rule, str):
        answer.cautions.insert(0, f"The fuel rule, as typed: {limits.fuel_rule}")
    answer.headline = [limit.text for limit in answer.limits]
    return answer


def _came(page: Document, asked: RaceTerms, basis: Mapping[str, Any], answer: RaceAnswer) -> list[Load]:
    """List what comes and goes between the scales and the end of the race."""
    came = [load(page, "fuel", -asked.fuel_burned_lb)] if asked.fuel_burned_lb else []
    aboard = fuel_lb(basis)
    if aboard is None:
        page.assume("the fuel aboard at the start is what was aboard on the scales; how much is not recorded")
    else:
        page.assume(f"the {aboard:.0f} lb of fuel aboard at the start are those that were aboard on the scales")
        if asked.fuel_burned_lb > aboard + SAME_LB:
            answer.missing.append(
                Missing(subject="fuel", fields=[], why=f"more is burned than the {aboard:.0f} lb that were aboard")
            )
    scaled = driver_lb(basis)
    if isinstance(asked.driver_weight_lb, float | int):
        if scaled is None:
            answer.missing.append(Missing(subject="driver", fields=["measured.basis.driver_weight_lb"]))
        elif abs(asked.driver_weight_lb - scaled) >= SAME_LB:
            came.append(load(page, "driver", asked.driver_weight_lb - scaled))
    elif scaled == 0:
        page.assume("nobody was aboard on the scales, and nobody's weight is added")
    answer.moved += [f"{each.what} {signed(each.weight_lb, 0)} lb" for each in came]
    for each in came:
        if each.at_in is None:
            page.assume(
                f"{PLACES[each.what]} is not recorded: left and rear are told for the {each.what} anywhere between left"
                f" and right wheels, from the front axle to {BEHIND_IN[each.what]:g} in behind the rear one"
            )
    return came


def _after(found: OnItsWheels, came: Sequence[Load], page: Document) -> _After:
    """Put the car on its scales with every combination of places that are not known."""
    car, change = found.since.car, found.since.change
    middle = (car.at_in * found.loads_lb).sum(axis=1) / found.loads_lb.sum()
    places = [
        [each.at_in] if each.at_in is not None else [tuple(middle), *_corners(car.at_in, BEHIND_IN[each.what])]
        for each in came
    ]
    every = list(itertools.product(*places))
    combined = np.array(every, float).reshape(len(every), len(came), 2)
    ballast = [
        Ballast(np.full(len(combined), each.weight_lb), combined[:, index, 0], combined[:, index, 1])
        for index, each in enumerate(came)
    ]
    standing = on_scales(car, change._replace(ballast=[*change.ballast, *ballast]))
    if not np.all(standing.closed):
        raise CannotCloseError("the car does not come to rest on its scales after that")
    loads = standing.loads_lb.reshape(4, -1)
    lifted = [CORNER[name] for name, off in zip(WHEELS, standing.lifted, strict=True) if np.any(off)]
    if lifted:
        page.assume(f"off the scales then: {', '.join(lifted)}")
    return _After(float(loads[:, 0].sum()), loads)


def _corners(at_in: Array, behind_in: float) -> list[tuple[float, float]]:
    """Give the corners of where a weight may be: the four patches, the rear ones moved back."""
    x, y = at_in - np.array([[0.0, 0.0, behind_in, behind_in], [0.0] * 4])
    return list(zip(x.tolist(), y.tolist(), strict=True))


def _weighed(page: Document, came: Sequence[Load], origins: Mapping[str, Tree]) -> _After:
    """Add up a total alone, where springs and tires are not known."""
    page.lacking.clear()
    read = scales(page)
    if read is None:
        raise FieldsMissingError([Missing(subject="weights", fields=list(page.lacking))])
    then = Document(tree=origins.get("scales", page.tree))
    ballast = _ballast_lb(page) - _ballast_lb(then)
    return _After(float(read.sum()) + ballast + sum(each.weight_lb for each in came), np.full((4, 1), np.nan))


def _ballast_lb(page: Document) -> float:
    return float(sum(item.get("weight_lb") or 0.0 for item in (page.get("setup.ballast") or {}).values()))


def _rules_of(page: Document) -> SeriesRules:
    """Take the limits that the setup itself keeps."""
    root = "setup.rules"
    given = {
        name: value
        for name, path in (
            ("min_total_lb", "min_weight_lb"),
            ("max_left_percent", "max_left_percent"),
            ("max_rear_percent", "max_rear_percent"),
            ("tolerance_percent", "tolerance_percent"),
            ("fuel_rule", "fuel_rule"),
        )
        if (value := page.get(f"{root}.{path}")) is not None
    }
    return SeriesRules(**given)


def _sigma(asked: RaceTerms, basis: Mapping[str, Any], page: Document) -> float:
    """Choose the standard error of a pad: as told, else by the floor."""
    told = asked.scale_sigma_lb
    recorded = page.get("measured.raised_weighing.scale_sigma_lb")
    if isinstance(told, float | int):
        return float(told)
    if on_dirt(basis):
        page.assume("scales on pit dirt are good to 15 lb (common practice)")
        return DIRT_SIGMA_LB
    if recorded is not None:
        return float(recorded)
    page.assume(f"each pad of the scales has a standard error of {SCALE_SIGMA_LB:g} lb (common practice)")
    return SCALE_SIGMA_LB


def _limits(rules: SeriesRules, after: _After, sigma_lb: float) -> list[RuleLimit]:
    """Hold the prediction against each limit that was typed."""
    shares, total = percentages(after.loads_lb), after.total_lb
    found = []
    checks: tuple[tuple[What, Side, float | UnsetType, Array], ...] = (
        ("total", "at least", rules.min_total_lb, np.array([total])),
        ("left", "at most", rules.max_left_percent, shares.left_percent),
        ("rear", "at least", rules.min_rear_percent, shares.rear_percent),
        ("rear", "at most", rules.max_rear_percent, shares.rear_percent),
    )
    for what, side, limit, values in checks:
        if isinstance(limit, UnsetType) or np.any(np.isnan(values)):
            continue
        whole = what == "total"
        sure = ERRORS * 2 * sigma_lb if whole else _share_error(values[0], total, sigma_lb)
        slack = (rules.tolerance_lb if whole else rules.tolerance_percent) or 0.0
        allowed = limit - slack if side == "at least" else limit + slack
        found.append(_limit(what, side, allowed, values, sure))
    return found


def _share_error(percent: float, total_lb: float, sigma_lb: float) -> float:
    """Propagate equal errors of four pads into a share p of the total: 2(1 − p)² + 2p² of their variance."""
    part = percent / 100
    return float(ERRORS * 100 * sigma_lb / total_lb * np.sqrt(2 * (1 - part) ** 2 + 2 * part**2))


def _limit(what: What, side: Side, allowed: float, values: Array, sure: float) -> RuleLimit:
    """Judge one limit by the worst place that a weight of unknown place could be in."""
    least, most = float(values.min()), float(values.max())
    worst, best = (least - allowed, most - allowed) if side == "at least" else (allowed - most, allowed - least)
    told = RuleLimit(
        what=what,
        side=side,
        allowed=rounded(allowed),
        predicted=rounded(values[0]),
        least=rounded(least),
        most=rounded(most),
        margin=rounded(worst),
        plus_or_minus=rounded(sure),
        unit="lb" if what == "total" else "percent",
        verdict="clear" if worst >= sure else "outside" if best < -sure else "too_close",
        text="",
    )
    told.text = _sentence(told)
    return told


_VERDICTS: Final = {
    "clear": "clear of it",
    "too_close": "too close to call with these scales",
    "outside": "OUTSIDE",
}


def _sentence(limit: RuleLimit) -> str:
    digits, unit = (0, "lb") if limit.unit == "lb" else (1, "%")
    name = "Total" if limit.what == "total" else limit.what.capitalize()
    value = f"{limit.predicted:,.{digits}f}"
    if limit.most - limit.least >= 0.5 * 10**-digits:
        value = f"{limit.least:,.{digits}f} to {limit.most:,.{digits}f}"
    way = "inside" if limit.margin >= 0 else "past"
    sure = f"± {limit.plus_or_minus:.{digits}f}"
    return (
        f"{name} after the race {value} {unit}, {limit.side} {limit.allowed:,.{digits}f}:"
        f" {abs(limit.margin):,.{digits}f} {unit} {way} ({sure}), {_VERDICTS[limit.verdict]}."
    )
