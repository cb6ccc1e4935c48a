"""Laws of the book's algebra: one spelling for equal content, and differences that apply."""

import json
import math
import random
from typing import Any

import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from studbook.history.canonical import canonical, encode, parse
from studbook.history.changes import apply, diff
from studbook.history.ids import hash_content
from studbook.history.leaves import leaves

KEYS = st.from_regex(r"[a-z0-9][a-z0-9_-]{0,5}", fullmatch=True)
NUMBERS = (
    st.integers(-999_999_999, 999_999_999)
    | st.floats(-9.9e8, 9.9e8)
    | st.integers(-12, 12).map(lambda millionths: millionths / 1e6)
    | st.sampled_from([-0.0, 1e-6, 9e-6, 1e-5, 0.1 + 0.2, 999_999_999.999999, 1e-9])
)
TEXT = st.text(st.characters(codec="utf-8"), max_size=12)
LEAVES = st.booleans() | NUMBERS | TEXT | st.lists(NUMBERS | TEXT | st.lists(NUMBERS, max_size=2), max_size=3)
TREES = st.recursive(
    st.dictionaries(KEYS, LEAVES, max_size=4),
    lambda inner: st.dictionaries(KEYS, LEAVES | inner, max_size=4),
    max_leaves=12,
)


def shuffled(value: Any, chance: random.Random) -> Any:
    if isinstance(value, dict):
        items = list(value.items())
        chance.shuffle(items)
        return {key: shuffled(item, chance) for key, item in items}
    return [shuffled(item, chance) for item in value] if isinstance(value, list) else value


def respelled(value: Any) -> Any:
    """Spell whole numbers with a point, as spreadsheets and TOML may."""
    if isinstance(value, dict):
        return {key: respelled(item) for key, item in value.items()}
    if isinstance(value, list):
        return [respelled(item) for item in value]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


@given(TREES, TREES)
def test_a_difference_applies(one: dict[str, Any], other: dict[str, Any]) -> None:
    before, after = canonical(one), canonical(other)
    assert encode(apply(diff(before, after), before)) == encode(after)
    assert diff(before, before) == []


@given(TREES)
def test_a_difference_names_leaves_only(tree: dict[str, Any]) -> None:
    known = canonical(tree)
    assert [change.path for change in diff({}, known)] == sorted(leaves(known))


@given(TREES, st.randoms(use_true_random=False))
def test_ids_care_for_neither_key_order_nor_number_spelling(tree: dict[str, Any], chance: random.Random) -> None:
    spelled = canonical(respelled(shuffled(tree, chance)))
    assert hash_content(note="", body=encode(spelled)) == hash_content(note="", body=encode(canonical(tree)))


@given(TREES)
def test_canonical_bytes_are_those_of_an_independent_canonicalizer(tree: dict[str, Any]) -> None:
    # RFC 8785, JSON Canonicalization Scheme, by the package rfc8785.
    assert encode(canonical(tree)) == rfc8785.dumps(canonical(tree))


@given(TREES)
def test_canonical_is_its_own_canonical_and_reads_back(tree: dict[str, Any]) -> None:
    known = canonical(tree)
    assert encode(canonical(known)) == encode(known)
    assert encode(canonical(parse(encode(known)))) == encode(known)
    assert encode(canonical(json.loads(json.dumps(known)))) == encode(known)


@given(st.floats(-9.9e8, 9.9e8))
def test_a_number_moves_by_no_more_than_half_a_millionth(value: float) -> None:
    assert abs(canonical(value) - value) <= 0.5e-6 + math.ulp(value)
