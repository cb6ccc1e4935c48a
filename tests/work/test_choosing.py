"""Which changes are chosen, against every set of them in turn."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from studbook_service.work.choosing import choose

AMOUNTS = st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9)), min_size=0, max_size=8)


def by_every_set(amounts: list[tuple[int, int]], room: tuple[int, int], wishes: list[int]) -> list[int]:
    """Judge every set that fits by its wishes in turn, then its size, then by which come first."""

    def fits(some: tuple[int, ...]) -> bool:
        return all(sum(amounts[one][side] for one in some) <= room[side] for side in (0, 1))

    sets = [some for size in range(len(amounts) + 1) for some in itertools.combinations(range(len(amounts)), size)]
    fitting = [some for some in sets if fits(some)]
    most = max(fitting, key=lambda some: ([wish in some for wish in wishes], len(some)))
    alike = [some for some in fitting if [w in some for w in wishes] == [w in most for w in wishes]]
    return list(min(some for some in alike if len(some) == len(most)))


@given(AMOUNTS, st.tuples(st.integers(0, 30), st.integers(0, 30)), st.data())
@settings(max_examples=300, deadline=None)
def test_no_set_is_better(amounts: list[tuple[int, int]], room: tuple[int, int], data: st.DataObject) -> None:
    wishes = data.draw(st.lists(st.sampled_from(range(len(amounts))), unique=True, max_size=3)) if amounts else []
    choice = choose(
        wishes=wishes,
        work=[sum(pair) for pair in amounts],
        fits=lambda some: all(sum(amounts[one][side] for one in some) <= room[side] for side in (0, 1)),
    )
    assert choice.proven
    assert sorted(choice.chosen) == by_every_set(amounts, room, wishes)


def test_a_first_guess_stands_where_there_is_no_time_for_more() -> None:
    minutes = [9, 8, 7, 1, 1, 1]
    choice = choose(wishes=[], work=minutes, fits=lambda some: sum(minutes[one] for one in some) <= 10, asked_most=12)
    assert choice.chosen == {2, 3, 4, 5}
    assert not choice.proven
