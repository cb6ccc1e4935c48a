"""Who descends from whom: cases by hand, and random histories held against git's own `merge-base --all`."""

import random
import subprocess
from pathlib import Path

import pytest

from studbook.history.ancestry import MergePlan, ancestors, merge_bases, plan

Graph = dict[str, tuple[str, ...]]

LINEAR: Graph = {"a": (), "b": ("a",), "c": ("b",)}
FORK: Graph = {"a": (), "x": ("a",), "y": ("a",), "z": ("x",)}
CROSSED: Graph = {"r": (), "a": ("r",), "b": ("r",), "x": ("a", "b"), "y": ("a", "b")}
APART: Graph = {"a": (), "b": ()}


def test_an_entry_is_its_own_ancestor_here() -> None:
    assert ancestors(["c"], LINEAR.__getitem__) == {"a", "b", "c"}
    assert ancestors(["x", "y"], FORK.__getitem__) == {"a", "x", "y"}
    assert ancestors([], FORK.__getitem__) == set()


def test_an_unknown_parent_is_not_passed_over() -> None:
    with pytest.raises(KeyError):
        ancestors(["b"], {"b": ("a",)}.__getitem__)


@pytest.mark.parametrize(
    ("graph", "sides", "bases"),
    [
        (LINEAR, [["a"], ["c"]], ("a",)),
        (FORK, [["z"], ["y"]], ("a",)),
        (FORK, [["z"], ["x"]], ("x",)),
        (FORK, [["x", "y"], ["z"]], ("x",)),
        (CROSSED, [["x"], ["y"]], ("a", "b")),
        (CROSSED, [["x"], ["y"], ["a"]], ("a",)),
        (CROSSED, [["b"], ["a"]], ("r",)),
        (APART, [["a"], ["b"]], ()),
        (LINEAR, [["c"]], ("c",)),
    ],
)
def test_bases_are_the_last_in_common(graph: Graph, sides: list[list[str]], bases: tuple[str, ...]) -> None:
    assert merge_bases(sides, graph.__getitem__) == bases


def test_a_fork_is_planned_in_one_step() -> None:
    assert plan(["z", "y", "z"], FORK.__getitem__) == MergePlan(
        tips=("y", "z"), common=("a",), bases={("a",): (), ("y", "z"): (("a",),)}
    )


def test_crossed_sides_have_their_bases_merged_first() -> None:
    planned = plan(["x", "y"], CROSSED.__getitem__)
    assert list(planned.bases) == [("r",), ("a", "b"), ("x", "y")]
    assert planned.common == ("a", "b")
    assert planned.entries() == {"r", "a", "b", "x", "y"}


def test_sides_that_began_apart_have_an_empty_base() -> None:
    assert plan(["a", "b"], APART.__getitem__).bases == {(): (), ("a", "b"): ((),)}


def test_a_third_tip_is_held_against_the_two_before() -> None:
    graph: Graph = {"r": (), "a": ("r",), "t1": ("r",), "t2": ("a",), "t3": ("a",)}
    planned = plan(["t3", "t1", "t2"], graph.__getitem__)
    assert planned.bases[planned.tips] == (("r",), ("a",))
    assert planned.common == ("r",)


def test_a_tall_ladder_of_crossings_needs_no_deep_stack() -> None:
    graph: Graph = {"0a": (), "0b": ()}
    for rung in range(1, 300):
        below = (f"{rung - 1}a", f"{rung - 1}b")
        graph |= {f"{rung}a": below, f"{rung}b": below}
    planned = plan(["299a", "299b"], graph.__getitem__)
    assert list(planned.bases) == [(), *((f"{rung}a", f"{rung}b") for rung in range(300))]


def random_history(chance: random.Random, *, entries: int) -> Graph:
    """Make a history whose ids sort in no order of time."""
    names = [f"{name:03}" for name in chance.sample(range(1000), entries)]
    return {
        name: tuple(sorted(chance.sample(names[:place], min(place, chance.choice([0, 1, 1, 1, 2, 2, 3])))))
        for place, name in enumerate(names)
    }


def in_git(graph: Graph, folder: Path) -> None:
    """Build the same history in a git repository, a tag for each entry."""
    marks = {name: mark for mark, name in enumerate(graph, 1)}
    told = []
    for name, parents in graph.items():
        told.append(f"commit refs/tags/e{name}\nmark :{marks[name]}\ncommitter c <c@c> {marks[name]} +0000\ndata 0\n")
        # Without a `from` line an entry would follow the tag's last one; of none there is none.
        told += [f"{'merge' if place else 'from'} :{marks[parent]}\n" for place, parent in enumerate(parents)]
    subprocess.run(["git", "init", "--quiet", "--bare", folder], check=True)
    subprocess.run(["git", "-C", folder, "fast-import", "--quiet"], input="".join(told), text=True, check=True)


@pytest.mark.parametrize("seed", range(8))
def test_bases_are_those_that_git_finds(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)  # noqa: S311 - reproducible cases, no secret
    graph = random_history(chance, entries=14)
    in_git(graph, tmp_path)
    names = subprocess.run(
        ["git", "-C", tmp_path, "for-each-ref", "--format=%(objectname) %(refname:strip=2)"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    entry = {commit: tag[1:] for commit, tag in zip(names[::2], names[1::2], strict=True)}
    for _ in range(8):
        one, other = chance.sample(sorted(graph), 2)
        command: list[str | Path] = ["git", "-C", tmp_path, "merge-base", "--all", f"e{one}", f"e{other}"]
        found = subprocess.run(command, capture_output=True, text=True, check=False).stdout.split()
        assert merge_bases([[one], [other]], graph.__getitem__) == tuple(sorted(entry[commit] for commit in found))
