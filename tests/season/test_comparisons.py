"""What a season may say about a thing, and what it may not."""

import random
from typing import Any

import pytest
from scipy import stats

from season.making import COMPOUND, FREE, RATE, SHIMS, STUD, Written, compared, laps, night, raced

STUDS = [{STUD: 1.2}, {STUD: 1.3}, {STUD: 1.2}, {STUD: 1.4}]


def dice(seed: int = 6) -> random.Random:
    return random.Random(seed)  # noqa: S311 - made-up races


def test_an_effect_that_is_there_is_found_with_its_size() -> None:
    book = raced(dice(), nights=20, settings=STUDS, effect={STUD: -1.5}, drift_s=0.05)
    found = compared(book.report().cars[0].comparisons, STUD)
    assert found.verdict == "faster"
    assert (found.least, found.most, found.unit, found.factor) == (1.2, 1.4, "in", "RF upper stud")
    assert (found.outings, found.nights) == (80, 20)
    assert found.per == pytest.approx(0.1)
    assert found.interval
    assert found.interval.low_s < -0.15 < found.interval.high_s
    assert found.drift_s == pytest.approx(0.05, abs=0.02)
    assert found.detail.startswith("n=80 outings on 20 nights, -0.1")


def test_of_no_effect_nothing_is_said_but_counts_and_interval() -> None:
    found = compared(raced(dice(), nights=20, settings=STUDS, effect={}).report().cars[0].comparisons, STUD)
    assert found.verdict == "noise"
    assert found.detail.startswith("cannot be told from noise: n=80 outings on 20 nights")
    assert "interval" in found.detail


def test_chances_are_even_where_there_is_no_effect() -> None:
    """Kolmogorov and Smirnov's test against the uniform distribution, over seasons without any effect."""
    chances = []
    for seed in range(120):
        book = raced(dice(seed), nights=4, settings=STUDS, effect={})
        found = compared(book.report().cars[0].comparisons, STUD)
        assert found.interval
        chances.append(found.interval.chance)
    assert stats.kstest(chances, "uniform").pvalue > 0.01


def test_two_things_changed_at_once_are_never_credited() -> None:
    both = [{STUD: 1.2, SHIMS: 0.25}, {STUD: 1.3, SHIMS: 0.3125}, {STUD: 1.2, SHIMS: 0.25}]
    found = raced(dice(), nights=20, settings=both, effect={STUD: -9}).report().cars[0].comparisons
    assert {each.verdict for each in found} == {"confounded"}
    assert {each.path for each in found} == {STUD, SHIMS}
    assert all("never changed alone" in each.detail and not each.interval for each in found)


def test_of_changes_in_turn_each_is_credited_with_its_own() -> None:
    turns = [{STUD: 1.2}, {STUD: 1.3}, {STUD: 1.3, SHIMS: 0.3125}, {STUD: 1.2, SHIMS: 0.3125}]
    book = raced(dice(7), nights=25, settings=turns, effect={STUD: -2}, noise_s=0.03)
    found = book.report().cars[0].comparisons
    stud, shims = compared(found, STUD), compared(found, SHIMS)
    assert (stud.verdict, shims.verdict) == ("faster", "noise")
    assert stud.effect_s == pytest.approx(-0.2, abs=0.03)


def test_fields_of_one_thing_that_move_together_are_one_question() -> None:
    springs = [{RATE: 425, FREE: 12}, {RATE: 450, FREE: 11}, {RATE: 425, FREE: 12}]
    found = raced(dice(), nights=20, settings=springs, effect={RATE: -0.01}).report().cars[0].comparisons
    assert [(each.factor, each.verdict, len(each.beside)) for each in found] == [("RF spring", "faster", 1)]


def test_settings_that_are_no_numbers_are_held_one_against_the_other() -> None:
    book = Written()
    chance = dice()
    for number in range(12):
        for place, compound in enumerate(("soft", "hard", "soft", "hard")):
            revision = book.setup("7", settings={COMPOUND: compound})
            time = 17 + 0.2 * (compound == "soft") + chance.gauss(0, 0.03)
            book.ran(night(number), f"heat-{place}", revision, laps(time))
    found = compared(book.report().cars[0].comparisons, COMPOUND)
    assert (found.verdict, found.least, found.most) == ("slower", "hard", "soft")
    assert "soft against hard" in found.detail


def test_a_change_that_always_went_one_way_is_not_told_from_the_track() -> None:
    book = Written()
    for number in range(12):
        for place, stud in enumerate((1.2, 1.3)):
            book.ran(night(number), f"heat-{place}", book.setup("7", settings={STUD: stud}), laps(17 - 0.3 * place))
    found = compared(book.report().cars[0].comparisons, STUD)
    assert found.verdict == "one_way"
    assert not found.interval


def test_too_few_outings_are_said_to_be() -> None:
    found = compared(raced(dice(), nights=1, settings=STUDS, effect={STUD: -2}).report().cars[0].comparisons, STUD)
    assert (found.verdict, found.outings) == ("too_few", 4)
    assert found.detail == "cannot be told from noise: 4 outings where 6 are wanted"


@pytest.mark.parametrize(
    "apart",
    [
        pytest.param({"track_state": "tacky"}, id="another state"),
        pytest.param({"track_state": None}, id="no state recorded"),
        pytest.param({"tires": {"rr": {"part": "t-9"}}}, id="other tires"),
    ],
)
def test_only_outings_alike_are_compared(apart: dict[str, Any]) -> None:
    """The longer stud always ran on another state or on other tires."""
    book = Written()
    for number in range(12):
        for place, stud in enumerate((1.2, 1.3, 1.2, 1.3)):
            fields = {name: value for name, value in apart.items() if stud == 1.3}
            book.ran(night(number), f"heat-{place}", book.setup("7", settings={STUD: stud}), laps(17 - stud), **fields)
    assert book.report().cars[0].comparisons == []


def test_cars_are_put_together_where_two_say_something() -> None:
    book = raced(dice(), nights=8, settings=STUDS, effect={STUD: -2}, cars=("7", "12"))
    found = book.report()
    assert found.team
    together = compared(found.team.comparisons, STUD)
    assert (together.cars, together.outings, together.nights) == (["12", "7"], 64, 8)
    assert together.verdict == "faster"
    assert found.compared == 3
    alone = raced(dice(), nights=8, settings=STUDS, effect={STUD: -2}).report()
    assert alone.team
    assert alone.team.comparisons == []


def test_chances_are_adjusted_for_how_many_were_asked() -> None:
    few = raced(dice(), nights=20, settings=STUDS, effect={}).report()
    assert few.compared == 1
    one = compared(few.cars[0].comparisons, STUD).interval
    assert one
    assert one.chance == one.chance_holm
    many = raced(dice(), nights=20, settings=STUDS, effect={}, cars=("7", "8", "9")).report()
    assert many.compared == 4
    assert all(
        each.interval.chance_holm >= each.interval.chance
        for car in many.cars
        for each in car.comparisons
        if each.interval
    )


def test_absent_shims_are_none_of_them() -> None:
    extra = "setup.front.rf.tie_rod.outer_spacer_in"
    book = raced(dice(), nights=10, settings=[{}, {extra: 0.25}, {}, {extra: 0.25}], effect={extra: -1})
    found = compared(book.report().cars[0].comparisons, extra)
    assert (found.verdict, found.least, found.most) == ("faster", 0, 0.25)
