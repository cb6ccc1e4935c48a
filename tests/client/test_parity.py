"""Both clients have the same methods, made of the same flows, and are documented alike."""

import inspect
import pydoc
from collections.abc import AsyncIterator, Iterator
from typing import Any, get_args, get_origin, get_type_hints
from unittest.mock import create_autospec

import pytest

from studbook import AsyncStudbook, Studbook
from studbook.core import flows


def public(kind: type) -> set[str]:
    return {name for name, value in inspect.getmembers(kind, callable) if not name.startswith("_")}


METHODS = sorted(public(Studbook) - {"close"})


def test_the_same_names() -> None:
    assert public(Studbook) == public(AsyncStudbook)
    assert {"__enter__", "__exit__"} <= set(dir(Studbook))
    assert {"__aenter__", "__aexit__"} <= set(dir(AsyncStudbook))


@pytest.mark.parametrize("name", METHODS)
def test_the_same_flow(name: str) -> None:
    flow = getattr(Studbook, name).__wrapped__
    assert getattr(AsyncStudbook, name).__wrapped__ is flow
    assert flow.__name__ == name
    assert flow.__module__.startswith(flows.__name__)


@pytest.mark.parametrize("kind", [Studbook, AsyncStudbook])
@pytest.mark.parametrize("name", METHODS)
def test_a_method_tells_what_its_flow_does(kind: type, name: str) -> None:
    method, flow = getattr(kind, name), getattr(kind, name).__wrapped__
    assert (method.__module__, method.__qualname__) == (kind.__module__, f"{kind.__name__}.{name}")
    assert method.__doc__ == flow.__doc__
    assert method.__doc__.splitlines()[0] in pydoc.render_doc(method)
    given = list(inspect.signature(flow).parameters.values())
    assert list(inspect.signature(method).parameters.values())[1:] == given
    assert list(inspect.signature(getattr(kind("http://127.0.0.1:1", "t"), name)).parameters.values()) == given


@pytest.mark.parametrize("name", METHODS)
def test_the_same_answers(name: str) -> None:
    blocking, waiting = (get_type_hints(getattr(kind, name))["return"] for kind in (Studbook, AsyncStudbook))
    assert inspect.signature(getattr(Studbook, name)).return_annotation == blocking
    if get_origin(blocking) is Iterator:
        assert get_origin(waiting) is AsyncIterator
        assert get_args(waiting) == get_args(blocking)
    else:
        assert waiting == blocking
        assert inspect.iscoroutinefunction(getattr(AsyncStudbook, name))


@pytest.mark.parametrize("name", [*METHODS, "close", "__init__"])
def test_no_third_party_type_is_public(name: str) -> None:
    def modules(hint: Any) -> set[str]:
        own = {hint.__module__.split(".")[0]} if isinstance(hint, type) else set()
        return own.union(*(modules(each) for each in get_args(hint)))

    for hint in get_type_hints(getattr(Studbook, name)).values():
        assert modules(hint) <= {"studbook", "builtins", "datetime", "collections", "types", "typing"}


def test_the_whole_is_documented_too() -> None:
    page = pydoc.plain(pydoc.render_doc(Studbook))
    assert "front(self, ref: str, *, travels:" in page
    assert "Tell how a revision's front stands and moves." in page


def test_a_method_may_be_overridden_and_mocked() -> None:
    class Mine(Studbook):
        def ready(self) -> bool:
            return False

    assert not Mine("http://127.0.0.1:1", "t").ready()
    mock = create_autospec(Studbook, instance=True)
    mock.cars.return_value = []
    assert mock.cars() == []
    with pytest.raises(TypeError):
        mock.front()
    assert inspect.iscoroutinefunction(create_autospec(AsyncStudbook, instance=True).cars)
