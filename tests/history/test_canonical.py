"""Canonical form: what is accepted, how it is spelled, what is refused and with which words."""

from typing import Any

import pytest
import rfc8785

from studbook.history.canonical import UnrecordableError, canonical, encode, parse


@pytest.mark.parametrize(
    ("value", "spelled"),
    [
        (1.0, b"1"),
        (-0.0, b"0"),
        (1e-6, b"0.000001"),
        (9e-6, b"0.000009"),
        (-0.0000054, b"-0.000005"),
        (1e-5, b"0.00001"),
        (4e-7, b"0"),
        (999_999_999, b"999999999"),
        (123456789.123456, b"123456789.123456"),
        (0.1 + 0.2, b"0.3"),
        ('é\u2028\x07"\\/', '"é\u2028\\u0007\\"\\\\/"'.encode()),
    ],
)
def test_values_are_spelt_as_rfc_8785_has_them(value: Any, spelled: bytes) -> None:
    assert encode(canonical({"a": value})) == b'{"a":' + spelled + b"}"
    assert rfc8785.dumps(canonical({"a": value})) == b'{"a":' + spelled + b"}"


def test_empty_groups_are_dropped_however_deep() -> None:
    assert canonical({"a": {"b": {"c": {}}}, "d": [{}]}) == {"d": [{}]}


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ({"a": None}, "a: null cannot be recorded"),
        ({"a": {"b": float("nan")}}, "a.b: nan is not a number"),
        ({"a": float("inf")}, "inf is not a number"),
        ({"a": 999_999_999.9999999}, "is not a number below 1e+09"),
        ({"a": 1e9}, "is not a number below 1e+09"),
        ({"a": 10**400}, "is not a number below 1e+09"),
        ({"A": 1}, "A: a name is 1 to 48"),
        ({"a.b": 1}, "a name is 1 to 48"),
        ({"": 1}, "a name is 1 to 48"),
        ({"a": "\ud800"}, "half of a surrogate pair"),
        ({"a": object()}, "a object cannot be recorded"),
    ],
)
def test_what_cannot_be_recorded_is_named(value: Any, words: str) -> None:
    with pytest.raises(UnrecordableError, match=r"cannot|is not|name is|half") as caught:
        canonical(value)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("value", "path", "reason"),
    [
        ({"a": {"b": [1, None]}}, ("a", "b", "1"), "null cannot be recorded"),
        ({"a": [{"B": 1}]}, ("a", "0", "B"), "a name is 1 to 48"),
        ({"a": ["\ud800"]}, ("a", "0"), "text holds half of a surrogate pair"),
        (None, (), "null cannot be recorded"),
    ],
)
def test_a_refusal_says_where_and_why(value: Any, path: tuple[str, ...], reason: str) -> None:
    with pytest.raises(UnrecordableError) as caught:
        canonical(value)
    assert caught.value.path == path
    assert caught.value.reason.startswith(reason)
    assert str(caught.value) == f"{'.'.join(path) or 'document'}: {caught.value.reason}"


@pytest.mark.parametrize("wrap", [lambda inner: {"a": inner}, lambda inner: [inner]], ids=["groups", "lists"])
def test_depth_is_bounded(wrap: Any) -> None:
    deep: Any = 1
    for _ in range(64):
        deep = wrap(deep)
    assert canonical(deep) == deep
    with pytest.raises(UnrecordableError, match="nested deeper than 64"):
        canonical(wrap(deep))


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ('{"a": [1, {"b": NaN}], "c": 1}', ("a", "1", "b")),
        ('{"x": 1, "b": {"c": 1, "a": 1, "a": 1}}', ("b", "a")),
        ('{"b": NaN, "b": 1}', ("b",)),
        ("Infinity", ()),
        ("[", ()),
    ],
)
def test_what_cannot_be_read_is_found(text: str, path: tuple[str, ...]) -> None:
    with pytest.raises(UnrecordableError) as caught:
        parse(text)
    assert caught.value.path == path
    assert str(caught.value).startswith(f"{'.'.join(path) or 'document'}: ")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"a": 1, "a": 2}', "'a' stands twice"),
        ('{"b": {"a": 1, "a": 1}}', "'a' stands twice"),
        ("[NaN]", "NaN is not a number"),
        ("-Infinity", "-Infinity is not a number"),
        ('{"a": 1', "not JSON"),
        (b"\xff", "not JSON"),
        ("[" * 100_000, "nested deeper"),
        ("9" * 5000, "not JSON"),
    ],
)
def test_json_is_read_strictly(text: str | bytes, words: str) -> None:
    with pytest.raises(UnrecordableError) as caught:
        parse(text)
    assert words in str(caught.value)
