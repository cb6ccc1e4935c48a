"""Differences: leaves only, arrays whole, true apart from 1, and what cannot be applied."""

import pytest

from studbook.history.canonical import UnrecordableError
from studbook.history.changes import FieldChange, apply, diff, same


def test_an_array_is_one_leaf() -> None:
    assert diff({"p": [1, 2, 3]}, {"p": [1, 2, 4]}) == [FieldChange(("p",), [1, 2, 3], [1, 2, 4])]


def test_a_side_without_the_leaf_is_absent() -> None:
    assert diff({"a": 1}, {"b": 2}) == [FieldChange(("a",), before=1), FieldChange(("b",), after=2)]
    assert diff({}, {"a": {"b": 1}}) == [FieldChange(("a", "b"), after=1)]


def test_true_is_not_one() -> None:
    assert [change.path for change in diff({"a": True, "b": [1]}, {"a": 1, "b": [True]})] == [("a",), ("b",)]
    assert not same({"a": 1}, {"a": True})
    assert not same([{"a": [1]}], [{"a": [True]}])
    assert same([{"a": [1]}, "x"], [{"a": [1]}, "x"])


def test_a_leaf_gives_way_to_a_group_and_back() -> None:
    leaf, group = {"a": 1}, {"a": {"b": {"c": 2}}}
    assert apply(diff(leaf, group), leaf) == group
    assert apply(diff(group, leaf), group) == leaf


def test_the_last_field_of_a_group_takes_the_group_along() -> None:
    assert apply([FieldChange(("a", "b"), before=1)], {"a": {"b": 1}, "c": 2}) == {"c": 2}


def test_the_tree_given_is_left_alone() -> None:
    tree = {"a": {"b": 1}}
    apply([FieldChange(("a", "b"), after=2)], tree)
    assert tree == {"a": {"b": 1}}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (FieldChange(("a", "x"), before=1), "there is no a.x to remove"),
        (FieldChange(("a", "b", "c"), after=1), "a.b holds a value"),
        (FieldChange(("a",), after=1), "a is a group of fields"),
    ],
)
def test_what_cannot_be_applied_is_named(change: FieldChange, words: str) -> None:
    with pytest.raises(UnrecordableError, match=words):
        apply([change], {"a": {"b": 1}})
