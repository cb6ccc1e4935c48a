"""Laws of the merge, on documents of real size (the demo's) and on histories that fork, cross and begin apart."""

import random
import subprocess
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import UNSET

from laws.documents import EDITS, WHICH, Edits, Tree, changed, demo_documents, document, fork, three_way
from studbook.history.ancestry import plan
from studbook.history.canonical import canonical, encode
from studbook.history.changes import FieldChange, apply, diff, same
from studbook.history.leaves import at, grown, leaves
from studbook.history.merge import MergeConflict, Merged, Unknown, merge

few = settings(max_examples=60)

FORK: dict[str, tuple[str, ...]] = {"r": (), "x": ("r",), "y": ("r",)}
THREE: dict[str, tuple[str, ...]] = {"r": (), "x": ("r",), "y": ("r",), "z": ("r",)}
CROSSED: dict[str, tuple[str, ...]] = {"r": (), "a": ("r",), "b": ("r",), "x": ("a", "b"), "y": ("a", "b")}
APART: dict[str, tuple[str, ...]] = {"x": (), "y": ()}


def merged(graph: dict[str, tuple[str, ...]], documents: dict[str, Tree], *tips: str) -> Merged:
    return merge(plan(tips, graph.__getitem__), documents.__getitem__)


def is_one(found: Merged, tree: Tree) -> bool:
    return not found.conflicts and encode(found.tree) == encode(tree)


def within(path: tuple[str, ...], found: Merged) -> bool:
    return any(path[: len(each.path)] == each.path for each in found.conflicts)


def renamed(value: Any) -> Any:
    """Give every field another name, in another order."""
    if isinstance(value, dict):
        return {f"{key[::-1]}-x"[:48]: renamed(item) for key, item in reversed(value.items())}
    return value


def test_the_documents_are_of_real_size() -> None:
    assert min(len(leaves(document)) for document in demo_documents()) > 150


@few
@given(WHICH, EDITS)
def test_the_only_side_that_changed_is_the_merge(which: int, edits: Edits) -> None:
    base, x = fork(which, edits)
    assert is_one(three_way(base, x, base), x)
    assert is_one(three_way(base, base, x), x)


@few
@given(WHICH, EDITS)
def test_the_same_change_on_both_sides_is_one_change(which: int, edits: Edits) -> None:
    base, x = fork(which, edits)
    assert is_one(three_way(base, x, x), x)
    assert is_one(three_way({}, x, x), x)


@few
@given(WHICH, EDITS, EDITS)
def test_swapping_sides_swaps_labels_only(which: int, mine: Edits, yours: Edits) -> None:
    base, x, y = fork(which, mine, yours)
    here, there = three_way(base, x, y), three_way(base, y, x)
    assert encode(here.tree) == encode(there.tree)
    swapped = tuple(MergeConflict(path=each.path, base=each.base, sides=each.sides[::-1]) for each in there.conflicts)
    assert here.conflicts == swapped


@few
@given(WHICH, EDITS)
def test_a_difference_applied_is_the_other_document(which: int, edits: Edits) -> None:
    a, b = fork(which, edits)
    assert encode(apply(diff(a, b), a)) == encode(b)
    assert encode(apply(diff(b, a), b)) == encode(a)


@few
@given(WHICH, EDITS, EDITS)
def test_no_change_is_lost_and_none_is_made_up(which: int, mine: Edits, yours: Edits) -> None:
    """Each side's every change is in the merge or in a conflict, and what no side changed is as it was."""
    base, x, y = fork(which, mine, yours)
    found = three_way(base, x, y)
    by_side = [{change.path: change.after for change in diff(base, side)} for side in (x, y)]
    before, result = leaves(base), leaves(found.tree)
    for path in before | leaves(x) | leaves(y) | result:
        if within(path, found):
            assert path not in result
            continue
        wanted = [changes[path] for changes in by_side if path in changes] or [before.get(path, UNSET)]
        assert all(same(value, result.get(path, UNSET)) for value in wanted)
    for conflict in found.conflicts:
        held = [at(tree, conflict.path) for tree in (base, x, y)]
        assert [UNSET if value is None else value for value in held] == [conflict.base, *conflict.sides]
        assert not same(*conflict.sides)


@few
@given(WHICH, EDITS, EDITS)
def test_choosing_one_side_everywhere_settles_it(which: int, mine: Edits, yours: Edits) -> None:
    base, x, y = fork(which, mine, yours)
    found = three_way(base, x, y)
    chosen = [FieldChange(each.path, after=each.sides[0]) for each in found.conflicts if each.sides[0] is not UNSET]
    settled = apply(chosen, found.tree)
    assert encode(canonical(settled)) == encode(settled)
    # What remains different from that side is only what the other changed alone.
    assert {change.path for change in diff(x, settled)} <= {change.path for change in diff(base, y)}


@few
@given(WHICH, EDITS, EDITS)
def test_a_merge_depends_on_no_schema(which: int, mine: Edits, yours: Edits) -> None:
    """Fields by any other names and in any other order merge as they do."""
    base, x, y = fork(which, mine, yours)
    plain, disguised = three_way(base, x, y), three_way(renamed(base), renamed(x), renamed(y))
    assert encode(disguised.tree) == encode(renamed(plain.tree))
    told = {each.path: (each.base, each.sides) for each in disguised.conflicts}
    for each in plain.conflicts:
        path = tuple(f"{step[::-1]}-x"[:48] for step in each.path)
        assert told.pop(path) == (renamed(each.base), tuple(renamed(side) for side in each.sides))
    assert not told


@few
@given(WHICH, EDITS, EDITS)
def test_a_history_of_two_is_a_merge_of_three(which: int, mine: Edits, yours: Edits) -> None:
    base, x, y = fork(which, mine, yours)
    assert merged(FORK, {"r": base, "x": x, "y": y}, "y", "x") == three_way(base, x, y)
    assert merged(APART, {"x": x, "y": y}, "y", "x") == three_way({}, x, y)
    assert is_one(merged(FORK, {"r": base, "x": x, "y": y}, "r", "x"), x)


@few
@given(WHICH, EDITS, EDITS, EDITS, st.permutations(["x", "y", "z"]))
def test_three_tips_merge_alike_in_whatever_order_they_are_named(
    which: int, one: Edits, two: Edits, three: Edits, order: list[str]
) -> None:
    documents = dict(zip("rxyz", fork(which, one, two, three), strict=True))
    found = merged(THREE, documents, *order)
    assert found == merged(THREE, documents, "x", "y", "z")
    # A leaf that two sides changed differently is in conflict, whatever the third did.
    for here, there in (("x", "y"), ("y", "z"), ("x", "z")):
        pair = merged(FORK, {"r": documents["r"], "x": documents[here], "y": documents[there]}, "x", "y")
        assert all(within(each.path, found) for each in pair.conflicts)
    assert is_one(merged(THREE, documents | {"y": documents["r"], "z": documents["x"]}, *order), documents["x"])


@few
@given(WHICH, EDITS, EDITS, EDITS, EDITS)
def test_crossed_sides_hide_no_conflict(
    which: int, first_edits: Edits, other_edits: Edits, mine: Edits, yours: Edits
) -> None:
    """Two crews settled the same split, each in its own way, and went on: where they differ nobody wins unseen."""
    base, a, b = fork(which, first_edits, other_edits)
    first = three_way(base, a, b)

    def settled(side: int) -> Tree:
        chosen = [FieldChange(each.path, after=each.sides[side]) for each in first.conflicts]
        return apply([change for change in chosen if change.after is not UNSET], first.tree)

    documents = {"r": base, "a": a, "b": b, "x": settled(0), "y": settled(1)}
    found = merged(CROSSED, documents, "x", "y")
    assert all(within(change.path, found) for change in diff(documents["x"], documents["y"]))
    assert all(within(each.path, first) and each.base == Unknown() for each in found.conflicts)
    # They agree on all that they settled alike, whatever came before.
    assert is_one(merged(CROSSED, documents | {"y": documents["x"]}, "x", "y"), documents["x"])
    x, y = changed(documents["x"], mine), changed(documents["y"], yours)
    here, there = (merged(CROSSED, documents | {"x": one, "y": other}, "x", "y") for one, other in ((x, y), (y, x)))
    assert encode(here.tree) == encode(there.tree)
    assert [each.path for each in here.conflicts] == [each.path for each in there.conflicts]


@few
@given(WHICH, EDITS, EDITS)
def test_leaves_grow_to_their_document_again(which: int, one: Edits, other: Edits) -> None:
    tree = document(which)
    for each in (tree, changed(tree, one), changed(changed(tree, one), other)):
        assert encode(grown(leaves(each))) == encode(each)


def spread_out(tree: Tree, paths: list[tuple[str, ...]]) -> str:
    """Write leaves one a line, so far apart that git sees each change by itself."""
    told = leaves(tree)
    lines = []
    for path in paths:
        value = encode({"v": told[path]}).decode() if path in told else "none"
        lines += [f"{'.'.join(path)} {value}", *(f"# {'.'.join(path)} {line}" for line in range(8))]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("seed", range(6))
def test_git_merges_the_same_leaves_to_the_same_text(seed: int, tmp_path: Path) -> None:
    """An independent judge: `git merge-file` on the leaves as lines."""
    base = demo_documents()[seed * 7 % len(demo_documents())]
    chance = random.Random(seed)  # noqa: S311 - reproducible cases, no secret
    kinds = ("set", "remove", "add", "bend")
    x, y = (
        changed(base, [(chance.choice(kinds), chance.randrange(40), chance.randrange(3)) for _ in range(12)])
        for _ in range(2)
    )
    paths = sorted(leaves(base) | leaves(x) | leaves(y))
    for name, tree in (("base", base), ("x", x), ("y", y)):
        (tmp_path / name).write_text(spread_out(tree, paths))
    command: list[str | Path] = ["git", "merge-file", "-p", *(tmp_path / name for name in ("x", "base", "y"))]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    found = three_way(base, x, y)
    assert run.returncode == len(found.conflicts) > 0
    expected = spread_out(found.tree, paths)
    for each in found.conflicts:
        name = ".".join(each.path)
        ours, theirs = (spread_out(tree, [each.path]).splitlines()[0] for tree in (x, y))
        clash = f"<<<<<<< {tmp_path / 'x'}\n{ours}\n=======\n{theirs}\n>>>>>>> {tmp_path / 'y'}\n"
        expected = expected.replace(f"{name} none\n", clash)
    assert run.stdout == expected
