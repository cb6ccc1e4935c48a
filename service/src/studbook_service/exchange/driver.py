"""Carries an exchange over HTTP: one request after another, again after a cut, until both books hold the same.

The peer's token goes to the peer's address and nowhere else: redirects are refused, and no proxy is read from anywhere.
"""

import asyncio
import datetime as dt
import random
from collections.abc import AsyncGenerator, Callable
from contextlib import aclosing
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import msgspec

from studbook.transport import drop_traces, untrusted_reason
from studbook.wire.exchange import MEDIA_TYPE, VERSION, Head
from studbook.wire.problem import Problem
from studbook_service.exchange.book import ExchangeBook, OtherBook, PeerStateMoved
from studbook_service.exchange.frames import BEFORE_0_2, DOWN, BadFrames, CutShort, OtherVersion, Writer, whole
from studbook_service.exchange.initiator import Progress, Session, note_failure
from studbook_service.exchange.rebuilding import printable
from studbook_service.exchange.running import run_in_thread

if TYPE_CHECKING:
    import httpx2

PATH: Final = "/v1/exchange"
_ATTEMPTS: Final = 5
_WAIT_FIRST_S: Final = 0.25
_QUIET_MOST_S: Final = 20.0
_PROBLEM_MOST: Final = 64 * 1024
_REFUSAL_BEFORE_0_2: Final = f"version {VERSION} of the frames, 1 is spoken here"
"""How a node before 0.2 refuses version 2; the user reads a plain sentence instead."""


class PeerFailed(Exception):
    """A peer that cannot be exchanged with now; the text says why."""


class UnderWay(PeerFailed):
    """Another exchange with the peer is under way, such as the service's own; it ends soon."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where a peer answers, and the token it gave us.

    Attributes:
        name: how we call it.
        url: its address, without a path.
        token: of role node.
    """

    name: str
    url: str
    token: str = field(repr=False)


async def sync(book: ExchangeBook, peer: Address, *, report: Callable[[Progress], None] = lambda _: None) -> Progress:
    """Exchange with a peer until nothing is left to send or to ask for.

    Args:
        book: ours.
        peer: the other.
        report: called with what was done so far, after each piece that came.

    Raises:
        UnderWay: another exchange with it is under way.
        PeerFailed: it does not answer, refuses, or answers what cannot be read; what was done until then is kept.
    """
    session = await Session.begin(book, peer.name, run=run_in_thread)
    try:
        async with _client(peer) as client:
            await _carry(session, client, peer, report)
        return await session.finish(_now())
    except (PeerFailed, OtherBook, OtherVersion) as error:
        await note_failure(book, peer.name, _now(), str(error))
        raise PeerFailed(f"{peer.name}: {error}") from error
    except PeerStateMoved:
        raise UnderWay(f"{peer.name}: another exchange with it is under way") from None


async def ask_head(peer: Address) -> Head:
    """Ask a peer which book it keeps, and where it ends.

    Raises:
        PeerFailed: it does not answer, refuses, or answers what cannot be read.
    """
    writer = Writer()
    writer.add(Head(v=VERSION))
    try:
        body = bytearray()
        async with _client(peer) as client, aclosing(_sent(client, peer, writer.finish())) as coming:
            async for data in coming:
                body += data
                if len(body) > DOWN.most:
                    break
        return whole(bytes(body), DOWN)[0]
    except (PeerFailed, _Broken, BadFrames) as error:
        raise PeerFailed(f"{peer.name}: {error}") from error


async def _carry(
    session: Session, client: "httpx2.AsyncClient", peer: Address, report: Callable[[Progress], None]
) -> None:
    failed = 0
    while (request := await session.next_request()) is not None:
        before = session.progress.received, session.progress.requests
        try:
            async for data in _sent(client, peer, request):
                await session.receive(data)
                report(session.progress)
            await session.end_response()
        except OtherVersion:
            raise
        except (CutShort, BadFrames, _Broken) as error:
            failed = 0 if (session.progress.received, session.progress.requests) != before else failed + 1
            if failed == _ATTEMPTS:
                raise PeerFailed(str(error)) from error
            if failed:
                session.shorten()
            await asyncio.sleep(_WAIT_FIRST_S * 2**failed * random.uniform(0.5, 1))  # noqa: S311 - only to spread out
        else:
            failed = 0


class _Broken(Exception):
    """The connection was not made, or broke."""


async def _sent(client: "httpx2.AsyncClient", peer: Address, request: bytes) -> AsyncGenerator[bytes]:
    import httpx2  # noqa: PLC0415 - slow to import, and most processes exchange nothing

    headers = {"content-type": MEDIA_TYPE, "accept-encoding": "identity"}
    failed: Exception | None = None
    try:
        async with client.stream("POST", PATH, content=request, headers=headers) as response:
            if response.status_code != 200:
                problem = (await _read_problem(response)).replace(peer.token.encode(), b"(token)")
                raise _refused(response.status_code, problem)
            async for data in response.aiter_raw():
                yield data
    except httpx2.HTTPError as error:
        failed = error
    if failed is not None:
        broken = _broken(failed, peer)
        del failed  # a traceback may show it
        raise broken


def _broken(error: Exception, peer: Address) -> Exception:
    """Say what failed, without the token: a hostile peer sends it back, and tracebacks of the transport hold it."""
    untrusted = untrusted_reason(error)
    drop_traces(error)
    if untrusted is not None:
        return PeerFailed(untrusted)
    return _Broken(printable(str(error).replace(peer.token, "(token)") or type(error).__name__))


def _refused(status: int, body: bytes) -> Exception:
    if 300 <= status < 400:
        return PeerFailed("it points to another address; redirects are not followed")
    try:
        problem = msgspec.json.decode(body, type=Problem)
    except msgspec.DecodeError:
        return _Broken(f"what answers there is no Studbook (status {status})")
    if problem.detail == _REFUSAL_BEFORE_0_2:
        return PeerFailed(BEFORE_0_2)
    text = printable(f"{problem.title}: {problem.detail}" if problem.detail else problem.title)
    return _Broken(text) if status >= 500 else PeerFailed(text)


async def _read_problem(response: "httpx2.Response") -> bytes:
    body = b""
    async for data in response.aiter_raw():
        body += data
        if len(body) > _PROBLEM_MOST:
            break
    return body


def _client(peer: Address) -> "httpx2.AsyncClient":
    import httpx2  # noqa: PLC0415 - as above

    return httpx2.AsyncClient(
        base_url=peer.url,
        headers={"authorization": f"Bearer {peer.token}", "user-agent": "studbook", "accept": "*/*"},
        trust_env=False,
        verify=not peer.url.startswith("http:"),  # nothing is encrypted there: reading certificates costs 40 ms
        follow_redirects=False,
        timeout=_QUIET_MOST_S,
    )


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)
