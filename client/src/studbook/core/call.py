"""One request to the service, how its response is read, and what a flow of them is made of."""

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

import msgspec

from studbook.core.errors import UnreadableAnswerError, refused

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Response:
    """What came back: status, header fields by lower-case name, body.

    Attributes:
        chunks: the body of a streamed call, for `NextChunk`; `body` is empty then.
    """

    status: int
    headers: Mapping[str, str]
    body: bytes = field(repr=False)  # a token that was made is in one
    chunks: Any = ()


@dataclass(frozen=True, slots=True)
class Call(Generic[T]):
    """A request, and the form of its answer.

    Attributes:
        method: HTTP method.
        path: path below the service's address, percent-encoded.
        form: what the JSON of a success is read as.
        query: names and values, in order.
        headers: header fields of this call alone.
        body: JSON, or None.
        repeatable: whether sending it twice does no more than sending it once: it is safe, or carries a key.
        streamed: whether the body of a success is read by and by: the answer is what `NextChunk` takes.
        renews: whether the time allowed begins again with it.
        writes: whether it changes what the service keeps.
    """

    method: str
    path: str
    form: type[T]
    query: tuple[tuple[str, str], ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes | None = None
    repeatable: bool = True
    streamed: bool = False
    renews: bool = False
    writes: bool = False

    @property
    def key(self) -> str | None:
        """Its idempotency key."""
        return self.headers.get("Idempotency-Key")

    def __iter__(self) -> "Flow[T]":
        """Hand the call to the driver and give back what was read."""
        answer: T = yield self
        return answer

    def answer(self, response: Response) -> T:
        """Read a response.

        Example:
            >>> Call("GET", "/v1/cars", dict).answer(Response(200, {}, b'{"items": []}'))
            {'items': []}

        Raises:
            RefusedError: the service refused; the class says how.
            UnreadableAnswerError: this is no answer of the service.
        """
        if not 200 <= response.status < 300:
            raise refused(response.status, response.body)
        if self.streamed:
            chunks: T = response.chunks
            return chunks
        try:
            return msgspec.json.decode(response.body, type=self.form)
        except msgspec.DecodeError as error:
            raise UnreadableAnswerError(response.status, str(error)) from error
        except RecursionError:
            raise UnreadableAnswerError(response.status, "it is nested too deeply") from None


@dataclass(frozen=True, slots=True)
class NextChunk:
    """The driver is to read on in a streamed response and to answer with the bytes, or with None at its end."""

    chunks: Any


@dataclass(frozen=True, slots=True)
class Items(Generic[T]):
    """What a walk has come to; the driver gives it out."""

    items: Sequence[T]


Flow = Generator[Call[Any], Any, T]
"""What a method does: it yields calls, is sent their answers, and returns a `T`."""

Walk = Generator[Call[Any] | NextChunk | Items[T], Any, None]
"""What a method does that gives one `T` after the other: it yields calls and, in between, items."""
