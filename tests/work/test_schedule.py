"""The schedule against every order in turn on small problems, and against SciPy's `milp` on larger random ones."""

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studbook_service.work.bounds import SchedulingProblem, lower_bound
from studbook_service.work.schedule import Schedule, shortest
from work.scheduling import by_every_order, by_integer_program, faults, random_problem

SEEDS = st.integers(0, 2**32 - 1)


@st.composite
def problems(draw: st.DrawFn, most: int = 12) -> SchedulingProblem:
    shake = random.Random(draw(SEEDS))  # noqa: S311 - a case that can be drawn again
    return random_problem(shake, count=draw(st.integers(1, most)), crew=draw(st.integers(1, 4)))


@given(problems(most=6))
@settings(max_examples=150, deadline=None)
def test_no_order_of_the_tasks_is_shorter(problem: SchedulingProblem) -> None:
    found = shortest(problem)
    assert found.optimal
    assert found.end == by_every_order(problem)


@pytest.mark.parametrize("seed", range(24))
def test_a_general_solver_finds_the_same_end(seed: int) -> None:
    shake = random.Random(seed)  # noqa: S311 - a case that can be drawn again
    problem = random_problem(shake, count=shake.randint(8, 10), crew=1 + seed % 4, longest=5)
    found = shortest(problem)
    assert found.optimal
    assert by_integer_program(problem, horizon=found.end) == found.end
    assert by_integer_program(problem, horizon=found.end - 1) is None


@given(problems())
@settings(max_examples=150, deadline=None)
def test_nothing_overlaps_that_may_not_and_nobody_is_in_two_places(problem: SchedulingProblem) -> None:
    found = shortest(problem)
    assert list(faults(problem, found)) == []
    assert found.bound <= found.end


@given(problems(), st.integers(1, 3))
@settings(max_examples=100, deadline=None)
def test_more_people_are_never_slower(problem: SchedulingProblem, more: int) -> None:
    fewer, with_more = shortest(problem), shortest(replace(problem, crew=problem.crew + more))
    assert fewer.optimal
    assert with_more.optimal
    assert with_more.end <= fewer.end


@given(problems(), st.integers(0, 30))
@settings(max_examples=100, deadline=None)
def test_a_search_cut_short_says_so_and_never_too_much(problem: SchedulingProblem, steps: int) -> None:
    cut, whole = shortest(problem, search_steps=steps), shortest(problem)
    assert list(faults(problem, cut)) == []
    assert cut.bound <= whole.end <= cut.end
    assert cut.optimal is (cut.bound == cut.end)


@given(problems(), st.integers(0, 60))
@settings(max_examples=100, deadline=None)
def test_the_question_whether_it_fits_is_answered_right(problem: SchedulingProblem, within: int) -> None:
    whole, asked = shortest(problem), shortest(problem, within=within)
    assert list(faults(problem, asked)) == []
    if whole.end <= within:
        assert asked.end <= within
    else:
        assert asked.bound > within


@given(problems(), st.integers(2, 60))
@settings(max_examples=60, deadline=None)
def test_time_in_other_steps_is_the_same_time(problem: SchedulingProblem, steps: int) -> None:
    finer = replace(problem, duration=[length * steps for length in problem.duration])
    assert shortest(finer).end == shortest(problem).end * steps


@given(problems())
@settings(max_examples=60, deadline=None)
def test_no_schedule_beats_the_bound(problem: SchedulingProblem) -> None:
    least = lower_bound(problem, ends=[0] * len(problem.duration), done=0, now=0)
    assert least <= shortest(problem).end


def test_a_task_alone_in_the_middle_parts_the_problem() -> None:
    """Two people: 3 and 5 beside each other, 4 alone, then 2, 2 and 2."""
    alone = 0b000100
    problem = SchedulingProblem(
        duration=(3, 5, 4, 2, 2, 2),
        people=(1, 1, 1, 1, 1, 1),
        crew=2,
        before=(0, 0, 0b11, alone, alone, alone),
        apart=(alone, alone, 0b111011, alone, alone, alone),
    )
    assert problem.in_turn == (0b000011, alone, 0b111000)
    assert shortest(problem) == Schedule((0, 0, 5, 9, 9, 11), 13, 13, 0)


def test_nothing_to_do_takes_no_time() -> None:
    nothing = SchedulingProblem(duration=(), people=(), crew=1, before=(), apart=())
    assert shortest(nothing) == Schedule((), 0, 0, 0)


def test_a_problem_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="task 0 takes 2 people of 1"):
        SchedulingProblem(duration=(1,), people=(2,), crew=1, before=(0,), apart=(0,))
    with pytest.raises(ValueError, match="task 0 waits for one that does not come before it"):
        SchedulingProblem(duration=(1, 1), people=(1, 1), crew=1, before=(0b10, 0), apart=(0, 0))
