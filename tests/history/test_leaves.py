"""Paths and leaves."""

from studbook.history.leaves import apart, at, dotted, grown, leaves, steps


def test_a_path_is_steps_joined_by_dots() -> None:
    assert steps("setup.front.rf") == ("setup", "front", "rf")
    assert dotted(("setup", "front", "rf")) == "setup.front.rf"


def test_leaves_grow_to_a_document_and_back() -> None:
    tree = {"a": {"b": {"c": 1, "d": [1, {"e": 2}]}, "f": "x"}, "g": True}
    assert grown(leaves(tree)) == tree
    assert grown({}) == {}


def test_a_group_that_is_the_same_in_all_counts_as_one_leaf() -> None:
    same = {"b": {"c": 1}, "d": [1]}
    assert apart({"a": same, "e": {"f": 1}}, {"a": {**same}, "e": {"f": 2}}) == [
        {("a",): same, ("e", "f"): 1},
        {("a",): same, ("e", "f"): 2},
    ]
    assert apart({"a": {"b": 1}}, {"a": {"b": 1}}, {"a": 5}) == [{("a", "b"): 1}, {("a", "b"): 1}, {("a",): 5}]
    assert apart({"a": {"b": 1}}, {}) == [{("a", "b"): 1}, {}]


def test_true_and_one_are_told_apart_in_a_group_too() -> None:
    assert apart({"a": {"b": 1}}, {"a": {"b": True}}) == [{("a", "b"): 1}, {("a", "b"): True}]
    assert apart({"a": {"b": [1]}}, {"a": {"b": [1]}}, {"a": {"b": [True]}})[0] == {("a", "b"): [1]}


def test_what_is_not_there_is_none() -> None:
    tree = {"a": {"b": 1}}
    assert at(tree, ("a", "b")) == 1
    assert at(tree, ("a",)) == {"b": 1}
    assert at(tree, ("a", "x")) is None
    assert at(tree, ("a", "b", "c")) is None
