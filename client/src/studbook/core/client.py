"""What both clients share: where the service is and who asks, and how a flow becomes a method of theirs."""

import functools
import inspect
from collections.abc import Callable
from types import GenericAlias
from typing import Any, Final, get_args

from studbook.core.call import Call
from studbook.core.retry import RetryPolicy


class Client:
    """A client of the service that cannot send yet: `Studbook` and `AsyncStudbook` can."""

    def __init__(self, url: str, token: str, *, timeout_s: float = 30.0) -> None:
        self._url = url.rstrip("/")
        self._token = token
        self._policy = RetryPolicy(timeout_s=timeout_s)
        self._transport: Any = None

    def _options(self) -> dict[str, Any]:
        """Give the options of the transport.

        The environment is the command's affair: no proxies or certificates are read from it here. Where nothing is
        encrypted and no redirection followed, reading the authorities' certificates would cost 40 ms.
        """
        return {
            "trust_env": False,
            "verify": not self._url.startswith("http:"),
            "headers": {"Authorization": f"Bearer {self._token}"},
        }

    def _request(self, call: Call[Any], timeout_s: float | None) -> dict[str, Any]:
        """Give the arguments of one request."""
        return {
            "method": call.method,
            "url": self._url + call.path,
            "params": list(call.query),
            "headers": dict(call.headers),
            "content": call.body,
            "timeout": timeout_s,
        }


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
