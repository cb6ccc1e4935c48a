"""Which changes are chosen, against every set of them in turn."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from studbook_service.work.choice import choose

AMOUNTS = st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9)), min_size=0, max_size=8)


def by_every_set(amounts: list[tuple[int, int]], room: tuple[int, int], priorities: list[int]) -> list[int]:
    """Judge every set that fits by its priorities in turn, then its size, then by which come first."""

    def fits(some: tuple[int, ...]) -> bool:
        return all(sum(amounts[one][side] for one in some) <= room[side] for side in (0, 1))

    sets = [some for size in range(len(amounts) + 1) for some in itertools.combinations(range(len(amounts)), size)]
    fitting = [some for some in sets if fits(some)]
    most = max(fitting, key=lambda some: ([priority in some for priority in priorities], len(some)))
    alike = [some for some in fitting if [w in some for w in priorities] == [w in most for w in priorities]]
    return list(min(some for some in alike if len(some) == len(most)))


@given(AMOUNTS, st.tuples(st.integers(0, 30), st.integers(0, 30)), st.data())
@settings(max_examples=300, deadline=None)
def test_no_set_is_better(amounts: list[tuple[int, int]], room: tuple[int, int], data: st.DataObject) -> None:
    priorities = data.draw(st.lists(st.sampled_from(range(len(amounts))), unique=True, max_size=3)) if amounts else []
    choice = choose(
        priorities=priorities,
        work=[sum(pair) for pair in amounts],
        fits=lambda some: all(sum(amounts[one][side] for one in some) <= room[side] for side in (0, 1)),
    )
    assert choice.proven
    assert sorted(choice.chosen) == by_every_set(amounts, room, priorities)


def test_a_first_guess_stands_where_there_is_no_time_for_more() -> None:
    minutes = [9, 8, 7, 1, 1, 1]
    choice = choose(
        priorities=[], work=minutes, fits=lambda some: sum(minutes[one] for one in some) <= 10, tries_most=12
    )
    assert choice.chosen == {2, 3, 4, 5}
    assert not choice.proven
