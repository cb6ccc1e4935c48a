"""The one thread that computes answers, with a short queue in front of it."""

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from studbook_service.actions.refusals import Refusal

T = TypeVar("T")

WAITING_MOST = 16


class Worker:
    """Runs one computation at a time beside the event loop, which goes on serving what needs none.

    Example:
        >>> import asyncio
        >>> asyncio.run(Worker().run(lambda: 6 * 7))
        42
    """

    def __init__(self, *, name: str = "answers", waiting_most: int = WAITING_MOST) -> None:
        self._thread = ThreadPoolExecutor(1, thread_name_prefix=name)
        self._places = threading.BoundedSemaphore(1 + waiting_most)
        self._waiting_most = waiting_most

    async def run(self, work: Callable[[], T]) -> T:
        """Compute in turn.

        Raises:
            Refusal: `busy`, too many computations wait already.
        """
        if not self._places.acquire(blocking=False):
            raise Refusal("busy", f"{self._waiting_most} computations are waiting", retry_after_s=1)
        future = self._thread.submit(work)
        future.add_done_callback(lambda _: self._places.release())
        return await asyncio.wrap_future(future)

    def close(self) -> None:
        """Drop what waits and let the present computation end."""
        self._thread.shutdown(wait=True, cancel_futures=True)
