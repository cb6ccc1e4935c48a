"""Whatever happens to messages, nodes and clocks, the books become one and nothing is lost."""

from collections import Counter

import pytest

from nodes.simulation import World

SEEDS = 60
WIRE = {"cut", "stale", "damaged", "late", "doubled", "refused", "BadFrames"}
DECIDED = {"decided", "erased", "protected", "sent whole"}


def test_books_become_one_though_everything_happens_that_can() -> None:
    """The bench runs 5,000."""
    happened: Counter[str] = Counter()
    for seed in range(SEEDS):
        world = World(seed)
        try:
            world.run()
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
        happened.update(world.happened)
    assert not (WIRE | DECIDED | {"restored", "cloned"}) - {*happened}


@pytest.mark.parametrize("seed", [1453])
def test_what_went_wrong_once_does_not_again(seed: int) -> None:
    """1453: a peer refused ours as changes of something erased, while its response held such changes of its own."""
    World(seed).run()


def test_a_seed_repeats() -> None:
    one, other = World(7), World(7)
    one.run()
    other.run()
    assert one.happened == other.happened
    assert one.nodes["shop"].book._numbered == other.nodes["shop"].book._numbered
