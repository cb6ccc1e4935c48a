"""Where long computations of an exchange are done: here, or in a thread so that others are answered meanwhile."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Run(Protocol):
    """Does a computation and gives its result."""

    def __call__(self, work: Callable[[], T], /) -> Awaitable[T]:
        """Do it."""


async def here(work: Callable[[], T], /) -> T:
    """Do it at once."""
    return work()


async def in_thread(work: Callable[[], T], /) -> T:
    """Do it in a thread."""
    return await asyncio.to_thread(work)
