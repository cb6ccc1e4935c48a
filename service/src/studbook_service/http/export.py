"""The book as tables, sent row by row while they are read.

An export is not held to the time of other answers: each page read and each chunk sent is. The token is looked at before
each chunk, and no connection is held between pages. A reader that goes is noticed by `receive`, since sending to it
raises nothing.
"""

import asyncio
from collections.abc import AsyncGenerator, Awaitable, Callable
from contextlib import aclosing
from typing import Final

from litestar.types import Receive, Scope, Send

from studbook.wire.export import CSV, NDJSON
from studbook_service.actions.export import TableExport
from studbook_service.http.replies import HttpReply
from studbook_service.http.time_limit import ending_within

STEP_WITHIN_S: Final = 30.0
"""So long the next rows may take to be read, and a reader to take them."""


class Rows(HttpReply):
    """A reply that is sent as it is made: in constant memory, no faster than it is read, and no longer than one may.

    Args:
        chunks: what is sent.
        may: raises once the bearer may not read any more; called before each chunk.
        media_type: of all together.
        headers: further headers.
    """

    def __init__(
        self,
        chunks: AsyncGenerator[bytes, None],
        *,
        may: Callable[[], Awaitable[object]],
        media_type: str,
        headers: dict[str, str],
    ) -> None:
        super().__init__(media_type=media_type, headers=headers)
        self.headers = [each for each in self.headers if each[0] != b"content-length"]
        self._chunks, self._may = chunks, may

    async def __call__(self, _scope: Scope, receive: Receive, send: Send) -> None:
        """Send it; a failure before the first rows is a problem, one after them ends the connection."""
        gone = asyncio.create_task(_left(receive))
        try:
            async with aclosing(self._chunks) as chunks:
                chunk = await self._next(chunks)
                await send({"type": "http.response.start", "status": self.status, "headers": self.headers})
                while chunk and not gone.done():
                    await self._may()
                    async with ending_within(STEP_WITHIN_S):
                        await send({"type": "http.response.body", "body": chunk, "more_body": True})
                    chunk = await self._next(chunks)
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        finally:
            gone.cancel()

    @staticmethod
    async def _next(chunks: AsyncGenerator[bytes, None]) -> bytes:
        async with ending_within(STEP_WITHIN_S):
            return await anext(chunks, b"")


async def _left(receive: Receive) -> None:
    """Wait until the reader goes: what is sent to nobody need not be computed."""
    while (await receive())["type"] != "http.disconnect":
        pass


def rows_of(export: TableExport, *, may: Callable[[], Awaitable[object]]) -> Rows:
    """Send a part of a table as its rows are read."""
    form = f"{CSV}; charset=utf-8; header=present" if export.form == "csv" else NDJSON
    headers = {"cache-control": "no-store", "studbook-cursor": export.cursor}
    return Rows(export.chunks, may=may, media_type=form, headers=headers)
