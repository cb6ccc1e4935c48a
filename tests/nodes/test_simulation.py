"""Whatever happens to messages, nodes and clocks, the books become one and nothing is lost."""

from collections import Counter

import pytest

from nodes.simulation import World

SEEDS_EACH = 25


@pytest.mark.parametrize("first", range(0, 100, SEEDS_EACH))
def test_books_become_one(first: int) -> None:
    for seed in range(first, first + SEEDS_EACH):
        try:
            World(seed).run()
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error


@pytest.mark.parametrize("seed", [1453])
def test_what_went_wrong_once_does_not_again(seed: int) -> None:
    """1453: a peer refused ours as changes of something erased, while its answer held such changes of its own."""
    World(seed).run()


def test_everything_that_can_happen_does() -> None:
    happened: Counter[str] = Counter()
    for seed in range(40):
        world = World(seed)
        world.run()
        happened.update(world.happened)
    wire = {"cut", "stale", "damaged", "late", "doubled", "refused", "BadFrames"}
    decided = {"decided", "erased", "protected", "told whole"}
    assert not (wire | decided | {"restored", "cloned"}) - {*happened}


def test_a_seed_repeats() -> None:
    one, other = World(7), World(7)
    one.run()
    other.run()
    assert one.happened == other.happened
    assert one.nodes["shop"].book._placed == other.nodes["shop"].book._placed
