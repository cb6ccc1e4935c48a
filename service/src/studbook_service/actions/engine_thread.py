"""The one thread that computes answers, with a short queue in front of it; what nobody waits for goes last."""

import asyncio
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from time import monotonic
from typing import TypeVar

from studbook_service.actions.refusals import Refusal

T = TypeVar("T")

WAITING_MOST = 16
IDLE_LOOK_S = 0.01
QUIET_S, QUIET_WITHIN_S = 0.5, 10.0
"""How long no request must have come before idle work begins, and how long it waits for that at most."""


class EngineThread:
    """Runs one computation at a time beside the event loop, which goes on serving what needs none.

    Example:
        >>> import asyncio
        >>> asyncio.run(EngineThread().run(lambda: 6 * 7))
        42
    """

    def __init__(self, *, name: str = "answers", waiting_most: int = WAITING_MOST) -> None:
        self._thread = ThreadPoolExecutor(1, thread_name_prefix=name)
        self._held, self._holding = 0, threading.Lock()
        self._waited_for, self._requested_at = 0, 0.0
        self._waiting_most = waiting_most

    async def run(self, work: Callable[[], T]) -> T:
        """Compute in turn.

        Raises:
            Refusal: `busy`, too many computations wait already.
        """
        with self._holding:
            if self._held > self._waiting_most:
                raise Refusal("busy", f"{self._waiting_most} computations are waiting", retry_after_s=1)
            self._held += 1
        future = self._thread.submit(work)
        future.add_done_callback(self._leave)
        return await asyncio.wrap_future(future)

    async def run_idle(self, work: Callable[[], T]) -> T:
        """Compute when nobody asks or waits: whoever asks then waits for this one piece of work at most.

        Requests without a pause do not keep it from its turn for ever.
        """
        latest = monotonic() + QUIET_WITHIN_S
        while self._held or self._waited_for or monotonic() < min(self._requested_at + QUIET_S, latest):  # noqa: ASYNC110 - the clock and the thread end it
            await asyncio.sleep(IDLE_LOOK_S)
        return await asyncio.wrap_future(self._thread.submit(work))

    def request_came(self) -> None:
        """Let idle work wait for a quiet moment: a request came, and more are likely to follow."""
        self._requested_at = monotonic()

    @contextmanager
    def waited_for(self) -> Iterator[None]:
        """Let nothing idle begin: somebody waits for work that other threads do. For the event loop's own use."""
        self._waited_for += 1
        try:
            yield
        finally:
            self._waited_for -= 1

    def _leave(self, _: object) -> None:
        with self._holding:
            self._held -= 1

    def close(self) -> None:
        """Drop what waits and let the present computation end."""
        self._thread.shutdown(wait=True, cancel_futures=True)
