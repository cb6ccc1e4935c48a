"""A book opened for one piece of work, as the service opens it."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any, TypeVar

from studbook_service.store import BookStore, open_book

T = TypeVar("T")


def within(database: Any, work: Callable[[BookStore], Awaitable[T]]) -> T:
    """Do something with the book, as the service would."""

    async def opened() -> T:
        book = await open_book(database.serving_dsn)
        try:
            return await work(book)
        finally:
            await book.close()

    return asyncio.run(opened())
