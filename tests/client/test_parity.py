"""Both clients have the same methods: names, parameters, defaults and answers, but for awaiting."""

import inspect
from collections.abc import AsyncIterator, Iterator
from typing import Any, get_args, get_origin, get_type_hints

import pytest

from studbook import AsyncStudbook, Studbook
from studbook.core import operations

DUNDERS = {"__enter__": "__aenter__", "__exit__": "__aexit__"}


def public(kind: type) -> set[str]:
    return {name for name, value in inspect.getmembers(kind, callable) if not name.startswith("_")}


METHODS = sorted(public(Studbook))


def test_the_same_names() -> None:
    assert public(Studbook) == public(AsyncStudbook)
    assert set(DUNDERS) <= set(dir(Studbook))
    assert set(DUNDERS.values()) <= set(dir(AsyncStudbook))


@pytest.mark.parametrize("name", [*METHODS, "__init__"])
def test_the_same_parameters(name: str) -> None:
    blocking, waiting = (inspect.signature(getattr(kind, name)) for kind in (Studbook, AsyncStudbook))
    assert list(blocking.parameters.values()) == list(waiting.parameters.values())


@pytest.mark.parametrize("name", METHODS)
def test_the_same_answers(name: str) -> None:
    blocking, waiting = (get_type_hints(getattr(kind, name))["return"] for kind in (Studbook, AsyncStudbook))
    if get_origin(blocking) is Iterator:
        assert get_origin(waiting) is AsyncIterator
        assert get_args(waiting) == get_args(blocking)
    else:
        assert waiting == blocking
        assert inspect.iscoroutinefunction(getattr(AsyncStudbook, name))


@pytest.mark.parametrize("name", METHODS)
def test_no_third_party_type_is_public(name: str) -> None:
    def modules(hint: Any) -> set[str]:
        own = {hint.__module__.split(".")[0]} if isinstance(hint, type) else set()
        return own.union(*(modules(each) for each in get_args(hint)))

    for hint in get_type_hints(getattr(Studbook, name)).values():
        assert modules(hint) <= {"studbook", "builtins", "datetime", "collections", "types", "typing"}


def test_every_operation_has_a_method() -> None:
    made = {
        name
        for name, value in inspect.getmembers(operations, inspect.isfunction)
        if value.__module__ == operations.__name__ and not name.startswith("_")
    }
    of_their_own = {"seen", "edits_of", "record_path"}
    by_another_name = {"revision": "resolve", "document": "pull", "changes": "diff"}
    assert {by_another_name.get(name, name) for name in made - of_their_own} <= public(Studbook)
