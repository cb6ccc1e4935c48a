"""Calling a method of either client, and what the scripted server answers."""

import asyncio
from typing import Any

import msgspec

from studbook import AsyncStudbook, Studbook

WALKS = {"history", "audit"}


def said(served: Any, body: Any = None, **more: Any) -> Any:
    return type(served.script[0])(body=msgspec.json.encode(body) if body is not None else b"", **more)


class Both:
    """Calls a method of either client and waits for it."""

    def __init__(self, *, waiting: bool) -> None:
        self.waiting = waiting

    def __call__(self, url: str, name: str, *args: Any, timeout_s: float = 10.0, **named: Any) -> Any:
        if not self.waiting:
            with Studbook(url, "sbk_t", timeout_s=timeout_s) as book:
                answer = getattr(book, name)(*args, **named)
                return list(answer) if name in WALKS else answer

        async def call() -> Any:
            async with AsyncStudbook(url, "sbk_t", timeout_s=timeout_s) as book:
                answer = getattr(book, name)(*args, **named)
                return [each async for each in answer] if name in WALKS else await answer

        return asyncio.run(call())
