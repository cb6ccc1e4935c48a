"""One request to the service and how its answer is read."""

from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, Protocol, TypeVar

import msgspec

from studbook.core.errors import UnreadableAnswerError, refused

T = TypeVar("T")
Got_co = TypeVar("Got_co", covariant=True)


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back: status, header fields by lower-case name, body.

    Attributes:
        chunks: the body of a streamed call, to be iterated as the driver does; `body` is empty then.
    """

    status: int
    headers: Mapping[str, str]
    body: bytes
    chunks: Any = ()


@dataclass(frozen=True, slots=True)
class Call(Generic[T]):
    """A request, with the reading of its answer.

    A flow says `sheet = yield from operations.sheet(...)`: the call is handed to whoever drives the flow, and what
    was read from the reply comes back, typed.

    Attributes:
        method: HTTP method.
        path: path below the service's address, percent-encoded.
        read: turns a 2xx reply into the answer.
        query: names and values, in order.
        headers: header fields of this call alone.
        body: JSON, or None.
        repeatable: whether sending it twice does no more than sending it once: it is safe, or carries a key.
        streamed: whether the body of a success is read by and by.
    """

    method: str
    path: str
    read: Callable[[Reply], T]
    query: tuple[tuple[str, str], ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes | None = None
    repeatable: bool = True
    streamed: bool = False

    def __iter__(self) -> Generator["Call[Any]", Any, T]:
        """Hand the call to the driver and give back what was read."""
        answer: T = yield self
        return answer

    def answer(self, reply: Reply) -> T:
        """Read a reply.

        Raises:
            RefusedError: the service refused; the class says how.
            UnreadableAnswerError: this is no answer of the service.
        """
        if not 200 <= reply.status < 300:
            raise refused(reply.status, reply.body)
        return self.read(reply)


class Work(Protocol[Got_co]):
    """A call, or a flow of calls: both are driven alike."""

    def __iter__(self) -> Generator[Call[Any], Any, Got_co]:
        """Begin."""
        ...


Flow = Generator[Call[Any], Any, T]


def as_json(form: type[T]) -> Callable[[Reply], T]:
    """Read a body as one of the wire's Structs.

    Example:
        >>> as_json(dict)(Reply(200, {}, b'{"a": 1}'))
        {'a': 1}
    """

    def read(reply: Reply) -> T:
        try:
            return msgspec.json.decode(reply.body, type=form)
        except msgspec.DecodeError as error:
            raise UnreadableAnswerError(reply.status, str(error)) from error

    return read
