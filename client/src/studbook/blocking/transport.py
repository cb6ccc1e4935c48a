"""How the blocking client sends, waits and repeats: what `studbook.core` decided is done here."""

import time
from collections.abc import Iterator
from contextlib import closing
from types import TracebackType
from typing import Any, Self, TypeVar

from studbook.core.call import Reply, Work
from studbook.core.errors import ConnectionFailedError
from studbook.core.patience import Lost, Patience, Send, Wait, carry_out

T = TypeVar("T")


class Transport:
    """Carries calls out over HTTP; see `Studbook` for the arguments."""

    def __init__(self, url: str, token: str, *, timeout_s: float = 30.0) -> None:
        self._url = url.rstrip("/")
        self._token = token
        self._patience = Patience(timeout_s=timeout_s)
        self._transport: Any = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections; the next call would open new ones."""
        if self._transport is not None:
            self._transport.close()
            self._transport = None

    def _do(self, work: Work[T]) -> T:
        steps = carry_out(work, self._patience)
        answer: Reply | Lost | None = None
        while True:
            try:
                step = steps.send(answer)
            except StopIteration as done:
                result: T = done.value
                return result
            answer = self._step(step)

    def _step(self, step: Send | Wait) -> Reply | Lost | None:
        if isinstance(step, Wait):
            time.sleep(step.seconds)
            return None
        return self._send(step)

    def _send(self, send: Send) -> Reply | Lost:
        import httpx2  # noqa: PLC0415 - 90 ms that `import studbook` must not cost

        if self._transport is None:
            # The environment is the command's affair: no proxies or certificates are read from it here. Where nothing
            # is encrypted and no redirection followed, reading the authorities' certificates would cost 40 ms.
            self._transport = httpx2.Client(
                trust_env=False,
                verify=not self._url.startswith("http:"),
                headers={"Authorization": f"Bearer {self._token}"},
            )
        call, deadline = send.call, time.monotonic() + send.timeout_s
        try:
            if call.streamed:
                return self._begin(send)
            with self._transport.stream(
                call.method,
                self._url + call.path,
                params=list(call.query),
                headers=dict(call.headers),
                content=call.body,
                timeout=send.timeout_s,
            ) as answer:
                chunks = []
                for chunk in answer.iter_bytes():
                    chunks.append(chunk)
                    if time.monotonic() > deadline:
                        return Lost("the answer was too slow", timed_out=True)
                return Reply(answer.status_code, dict(answer.headers), b"".join(chunks))
        except httpx2.TimeoutException:
            return Lost("no answer in time", timed_out=True)
        except (httpx2.HTTPError, httpx2.InvalidURL) as error:
            return Lost(f"{self._url} does not answer: {error or type(error).__name__}")

    def _begin(self, send: Send) -> Reply:
        """Send a call whose answer is read by and by: time is given to each step, not to all together."""
        call = send.call
        asked = self._transport.build_request(
            call.method,
            self._url + call.path,
            params=list(call.query),
            headers=dict(call.headers),
            timeout=send.timeout_s,
        )
        answer = self._transport.send(asked, stream=True)
        if answer.is_success:
            return Reply(answer.status_code, dict(answer.headers), b"", chunks=_chunks(answer))
        with closing(answer):
            return Reply(answer.status_code, dict(answer.headers), answer.read())


def _chunks(answer: Any) -> Iterator[bytes]:
    import httpx2  # noqa: PLC0415 - imported by now

    with closing(answer):
        try:
            yield from answer.iter_bytes()
        except httpx2.HTTPError as error:
            raise ConnectionFailedError(f"the answer broke off: {error or type(error).__name__}") from error
