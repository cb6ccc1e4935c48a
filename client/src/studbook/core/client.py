"""How a flow becomes a method of either client."""

import functools
import inspect
from collections.abc import Callable
from types import GenericAlias
from typing import Any, Final, get_args


def dress(method: Callable[..., Any], flow: Callable[..., Any], owner: str, answer: Any) -> None:
    """Give a method the name, text and signature of the flow that it carries out, so that `help` tells of it.

    Args:
        method: to be dressed.
        flow: what it carries out.
        owner: name of the method's class.
        answer: the type of what the method returns.
    """
    functools.update_wrapper(method, flow, assigned=("__name__", "__doc__"))
    signature = inspect.signature(flow)
    method.__qualname__ = f"{owner}.{flow.__name__}"
    method.__annotations__ = flow.__annotations__ | {"return": answer}
    method.__signature__ = signature.replace(  # type: ignore[attr-defined] # what `inspect` looks for first
        parameters=[_SELF, *signature.parameters.values()], return_annotation=answer
    )


def answer_of(flow: Callable[..., Any]) -> Any:
    """Give the `T` of a function that returns a `Flow[T]`."""
    return get_args(flow.__annotations__["return"])[2]


def items_of(flow: Callable[..., Any], iterator: type) -> Any:
    """Give `Iterator[T]` of a function that returns a `Walk[T]`; or another generic type than `Iterator`."""
    steps = get_args(flow.__annotations__["return"])[0]
    return GenericAlias(iterator, get_args(get_args(steps)[-1]))


_SELF: Final = inspect.Parameter("self", inspect.Parameter.POSITIONAL_OR_KEYWORD)
