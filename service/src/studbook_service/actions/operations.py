"""Which action carries out which operation: each is bound to its row where it is written.

An action takes the context, the bearer, the steps of the path in their order, then what its row has of: the query, the
body, and the precondition of a change. It returns an answer, or what `results` has for one. It refuses with the
problems of its row; its docstring tells of those that want explaining.
"""

from collections.abc import Awaitable, Callable
from importlib import import_module
from pkgutil import iter_modules
from typing import Any, Final, TypeVar

from studbook.wire.operations.row import Operation
from studbook_service import actions

Action = Callable[..., Awaitable[Any]]
F = TypeVar("F", bound=Action)

_BOUND: Final[list[tuple[Operation[Any], Action]]] = []


def carries_out(operation: Operation[Any]) -> Callable[[F], F]:
    """Bind an action to its operation."""

    def bind(action: F) -> F:
        _BOUND.append((operation, action))
        return action

    return bind


def bound() -> list[tuple[Operation[Any], Action]]:
    """Give all operations that actions carry out, each with its action."""
    for module in iter_modules(actions.__path__, f"{actions.__name__}."):
        import_module(module.name)
    return list(_BOUND)
