"""Where an exchange computes: in the event loop, or in a thread so that other requests are served meanwhile."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Runner(Protocol):
    """Runs a computation and gives its result."""

    def __call__(self, work: Callable[[], T], /) -> Awaitable[T]:
        """Run it."""


async def run_here(work: Callable[[], T], /) -> T:
    """Run it at once."""
    return work()


async def run_in_thread(work: Callable[[], T], /) -> T:
    """Run it in a thread."""
    return await asyncio.to_thread(work)
