"""Merging: what is taken, what is a conflict, and what crossed and many-sided histories make of it."""

from typing import Any

import pytest
from msgspec import UNSET

from laws.documents import three_way
from studbook.history.ancestry import plan
from studbook.history.merge import AUTHOR, MergeConflict, Merged, Unknown, merge

Documents = dict[str, dict[str, Any]]


def merged(graph: dict[str, tuple[str, ...]], documents: Documents, *tips: str) -> Merged:
    return merge(plan(tips, graph.__getitem__), documents.__getitem__)


def conflict(path: str, base: Any, *sides: Any) -> MergeConflict:
    return MergeConflict(path=tuple(path.split(".")), base=base, sides=sides)


@pytest.mark.parametrize(
    ("base", "one", "other", "tree"),
    [
        ({"a": 1}, {"a": 2}, {"a": 1}, {"a": 2}),
        ({"a": 1}, {"a": 2}, {"a": 2}, {"a": 2}),
        ({"a": 1}, {}, {"a": 1, "b": 1}, {"b": 1}),
        ({"a": 1}, {}, {}, {}),
        ({}, {"a": {"b": 1}}, {"a": {"c": 2}}, {"a": {"b": 1, "c": 2}}),
        ({"p": [1, 2]}, {"p": [1, 3]}, {"p": [1, 2]}, {"p": [1, 3]}),
        ({"a": {"b": 1}}, {"a": 5}, {"a": {"b": 1}}, {"a": 5}),
        ({"a": 5}, {"a": {"b": 1}}, {"a": {"b": 1}}, {"a": {"b": 1}}),
    ],
)
def test_what_no_two_changed_differently_is_taken(base: Any, one: Any, other: Any, tree: Any) -> None:
    assert three_way(base, one, other) == Merged(tree, ())
    assert three_way(base, other, one) == Merged(tree, ())


@pytest.mark.parametrize(
    ("base", "one", "other", "found"),
    [
        ({"a": 1}, {"a": 2}, {"a": 3}, conflict("a", 1, 2, 3)),
        ({"a": 1}, {"a": 2}, {}, conflict("a", 1, 2, UNSET)),
        ({}, {"a": 2}, {"a": 3}, conflict("a", UNSET, 2, 3)),
        ({"a": 0}, {"a": 1}, {"a": True}, MergeConflict(path=("a",), base=0, sides=(1, True))),
        # One point moved by both along different axes is one point moved to two places.
        ({"p": [1, 2]}, {"p": [0, 2]}, {"p": [1, 0]}, conflict("p", [1, 2], [0, 2], [1, 0])),
    ],
)
def test_two_changes_of_one_leaf_are_a_conflict(base: Any, one: Any, other: Any, found: MergeConflict) -> None:
    kept = {"z": {"y": 1}}
    assert three_way(base | kept, one | kept, other | kept) == Merged(kept, (found,))


@pytest.mark.parametrize(
    ("base", "one", "other"),
    [
        (UNSET, 5, {"b": 1}),
        ({"b": 1}, 5, {"b": 2}),
        ({"b": 1}, 5, {"b": 1, "c": {"d": 3}}),
        (5, 6, {"b": 1}),
        ({"b": {"c": 1}}, {"b": 5}, 6),
    ],
)
def test_a_value_against_a_group_is_a_conflict_about_the_whole(base: Any, one: Any, other: Any) -> None:
    before = {"z": 1} if base is UNSET else {"a": base, "z": 1}
    sides = {"a": one, "z": 1}, {"a": other, "z": 1}
    assert three_way(before, *sides) == Merged({"z": 1}, (conflict("a", base, one, other),))
    assert three_way(before, *sides[::-1]) == Merged({"z": 1}, (conflict("a", base, other, one),))


def test_a_clash_is_as_narrow_as_can_be() -> None:
    base, one, other = {"a": {"b": {"c": 1}}}, {"a": {"b": 5, "d": 1}}, {"a": {"b": {"c": 1}, "d": {"e": 2}}}
    assert three_way(base, one, other) == Merged({"a": {"b": 5}}, (conflict("a.d", UNSET, 1, {"e": 2}),))


def test_a_group_given_up_for_a_value_takes_unchanged_fields_along() -> None:
    assert three_way({"a": {"b": 1}}, {"a": 5}, {"a": {"b": 1}, "c": 2}) == Merged({"a": 5, "c": 2}, ())
    # That the other side had removed one of them already is no other change.
    assert three_way({"a": {"b": 1, "c": 1}}, {"a": 5}, {"a": {"c": 1}}) == Merged({"a": 5}, ())


CROSSED: dict[str, tuple[str, ...]] = {"r": (), "a": ("r",), "b": ("r",), "x": ("a", "b"), "y": ("a", "b")}


def test_crossed_bases_that_agree_are_one_base() -> None:
    documents = {"r": {"n": 0, "m": 0}, "a": {"n": 1, "m": 0}, "b": {"n": 0, "m": 1}, "x": {"n": 1, "m": 2}}
    documents["y"] = {"n": 3, "m": 1}
    assert merged(CROSSED, documents, "y", "x") == Merged({"m": 2, "n": 3}, ())


def test_crossed_bases_that_disagree_leave_the_leaf_unknown() -> None:
    """Each side settled the first conflict its own way: neither way may win unseen, though each equals one base."""
    documents = {"r": {"n": 0}, "a": {"n": 1}, "b": {"n": 2}, "x": {"n": 1}, "y": {"n": 2}}
    assert merged(CROSSED, documents, "x", "y") == Merged({}, (conflict("n", Unknown(), 1, 2),))
    assert merged(CROSSED, documents | {"y": {"n": 1}}, "x", "y") == Merged({"n": 1}, ())
    assert merged(CROSSED, documents | {"y": {}}, "x", "y").conflicts == (conflict("n", Unknown(), 1, UNSET),)
    assert merged(CROSSED, documents | {"x": {}, "y": {}}, "x", "y") == Merged({}, ())


def test_a_name_on_which_crossed_bases_disagree_is_unknown_with_all_in_it() -> None:
    documents: Documents = {"r": {}, "a": {"n": 1}, "b": {"n": {"m": 1}}, "x": {"n": {"m": 1}}, "y": {"n": {"m": 2}}}
    assert merged(CROSSED, documents, "x", "y").conflicts == (conflict("n.m", Unknown(), 1, 2),)
    # Here one side alone has a field there: were the base taken for empty, it would seem added by that side.
    apart = merged(CROSSED, documents | {"y": {"n": {"k": 1}}}, "x", "y")
    assert [found.path for found in apart.conflicts] == [("n", "k"), ("n", "m")]
    # And a group in which something is unknown is itself no certain base.
    documents |= {"r": {"n": {"m": 0}}, "a": {"n": {"m": 1}}, "b": {"n": {"m": 2}}, "x": {"n": 5}, "y": {"n": 6}}
    assert merged(CROSSED, documents, "x", "y").conflicts == (conflict("n", Unknown(), 5, 6),)


def test_three_tips_show_all_three_sides() -> None:
    graph: dict[str, tuple[str, ...]] = {"r": (), "t1": ("r",), "t2": ("r",), "t3": ("r",)}
    documents = {"r": {"n": 0, "m": 0, "k": 0}, "t1": {"n": 1, "m": 1, "k": 0}, "t2": {"n": 2, "m": 0, "k": 2}}
    documents["t3"] = {"n": 0, "m": 1, "k": 0}
    assert merged(graph, documents, "t3", "t1", "t2") == Merged({"k": 2, "m": 1}, (conflict("n", 0, 1, 2, 0),))


def test_a_clash_among_three_tips_stays_whole() -> None:
    graph: dict[str, tuple[str, ...]] = {"r": (), "t1": ("r",), "t2": ("r",), "t3": ("r",)}
    documents: Documents = {"r": {"n": {"m": 0}}, "t1": {"n": 5}, "t2": {"n": {"m": 1}}, "t3": {"n": {"m": 0, "k": 1}}}
    for order in (("t1", "t2", "t3"), ("t3", "t2", "t1")):
        found = merged(graph, documents, *order)
        assert found == Merged({}, (conflict("n", {"m": 0}, 5, {"m": 1}, {"m": 0, "k": 1}),))


def test_the_base_shown_is_what_all_tips_began_as() -> None:
    """The last step of the three has a later base, but the first tip never saw that."""
    graph: dict[str, tuple[str, ...]] = {"r": (), "a": ("r",), "t1": ("r",), "t2": ("a",), "t3": ("a",)}
    documents = {"r": {"n": 0}, "a": {"n": 1}, "t1": {"n": 2}, "t2": {"n": 1}, "t3": {"n": 3}}
    assert merged(graph, documents, "t1", "t2", "t3").conflicts == (conflict("n", 0, 2, 1, 3),)


def test_sides_that_began_apart_agree_on_what_is_equal() -> None:
    graph: dict[str, tuple[str, ...]] = {"x": (), "y": ()}
    documents = {"x": {"n": 1, "m": 1}, "y": {"n": 1, "m": 2, "k": 3}}
    assert merged(graph, documents, "x", "y") == Merged({"k": 3, "n": 1}, (conflict("m", UNSET, 1, 2),))


def test_one_tip_is_its_own_merge() -> None:
    document = {"n": 1, "m": {"k": 2}}
    assert merged({"x": ()}, {"x": document}, "x") == Merged(document, ())


def test_an_accepted_merge_is_written_by_nobody_in_particular() -> None:
    assert AUTHOR == "merge"
