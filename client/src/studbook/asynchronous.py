"""The client for asynchronous programs: the methods of `Studbook`, awaited.

`studbook.core.flows` has what each method does, and its text. Here its calls are sent.
"""

import asyncio
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import aclosing, nullcontext
from functools import partial
from types import TracebackType
from typing import Any, Concatenate, ParamSpec, Self, TypeVar

from studbook.core import flows
from studbook.core.call import Flow, Items, NextChunk, Response, Walk
from studbook.core.client import answer_of, dress, items_of
from studbook.core.errors import UnreadableAnswerError
from studbook.core.retry import NoResponse, Outcome, Send, Wait, carry_out
from studbook.transport import Body, Client, refused_encoding

P = ParamSpec("P")
T = TypeVar("T")


def method(flow: Callable[P, Flow[T]]) -> Callable[Concatenate["AsyncStudbook", P], Coroutine[Any, Any, T]]:
    """Make the method that carries out a flow."""

    async def call(self: "AsyncStudbook", /, *args: P.args, **named: P.kwargs) -> T:
        return await self._run(flow(*args, **named))

    dress(call, flow, "AsyncStudbook", answer_of(flow))
    return call


def walk(flow: Callable[P, Walk[T]]) -> Callable[Concatenate["AsyncStudbook", P], AsyncIterator[T]]:
    """Make the method that walks; it begins when its iterator is first read."""

    def call(self: "AsyncStudbook", /, *args: P.args, **named: P.kwargs) -> AsyncIterator[T]:
        return self._walk(partial(flow, *args, **named))

    dress(call, flow, "AsyncStudbook", items_of(flow, AsyncIterator))
    return call


class AsyncStudbook(Client):
    """The book of a team's setups, kept by a service; the same methods as `Studbook`, awaited.

    Args:
        url: the service's address, such as `http://127.0.0.1:8710`.
        token: the bearer's token; blanks around it are no part of it.
        timeout_s: total time for one method, repeats included, seconds.
        insecure_http: whether plain http is allowed to another machine.

    Raises:
        BadTokenError: the token cannot be one.
        AddressError: `url` is no address, or is plain http to another machine.

    Example::
        async with AsyncStudbook("http://127.0.0.1:8710", token) as book:
            print((await book.pull("7/baseline")).document())
    """

    ready = method(flows.book.ready)
    cars = method(flows.book.cars)
    car = method(flows.book.car)
    new_car = method(flows.book.new_car)
    change_car = method(flows.book.change_car)
    sheets = method(flows.book.sheets)
    sheet = method(flows.book.sheet)
    resolve = method(flows.book.resolve)
    pull = method(flows.book.pull)
    history = walk(flows.book.history)
    diff = method(flows.book.diff)

    push = method(flows.pushing.push)
    edit = method(flows.pushing.edit)
    new_sheet = method(flows.pushing.new_sheet)
    replace = method(flows.pushing.replace)
    carry = method(flows.pushing.carry)
    accept = method(flows.pushing.accept)
    settle = method(flows.pushing.settle)
    send_again = method(flows.pushing.send_again)

    peers = method(flows.peers.peers)
    sync = method(flows.peers.sync)

    records = walk(flows.records.records)
    record = method(flows.records.record)
    new_record = method(flows.records.new_record)
    change_record = method(flows.records.change_record)
    record_history = walk(flows.records.record_history)
    shelf = method(flows.records.shelf)
    events = walk(flows.records.events)
    event = method(flows.records.event)
    new_event = method(flows.records.new_event)
    outings = walk(flows.records.outings)
    outing = method(flows.records.outing)
    new_outing = method(flows.records.new_outing)
    parts = walk(flows.records.parts)
    part = method(flows.records.part)
    new_part = method(flows.records.new_part)
    shop_records = walk(flows.records.shop_records)
    shop_record = method(flows.records.shop_record)
    new_shop_record = method(flows.records.new_shop_record)

    me = method(flows.access.me)
    members = method(flows.access.members)
    add_member = method(flows.access.add_member)
    change_member = method(flows.access.change_member)
    tokens = method(flows.access.tokens)
    make_token = method(flows.access.make_token)
    end_token = method(flows.access.end_token)
    shares = method(flows.access.shares)
    make_share = method(flows.access.make_share)
    end_share = method(flows.access.end_share)
    protect = method(flows.access.protect)
    unprotect = method(flows.access.unprotect)
    audit = walk(flows.access.audit)

    effects = method(flows.answers.effects)
    what_if = method(flows.answers.what_if)
    front = method(flows.answers.front)
    rear = method(flows.answers.rear)
    joints = method(flows.answers.joints)
    damping = method(flows.answers.damping)
    loads = method(flows.answers.loads)
    cornering = method(flows.answers.cornering)
    search_perches = method(flows.answers.search_perches)
    attitude = method(flows.answers.attitude)
    search_studs = method(flows.answers.search_studs)
    search_carry_over = method(flows.answers.search_carry_over)

    sensitivity = method(flows.scales.sensitivity)
    after_race = method(flows.scales.after_race)
    try_check = method(flows.scales.try_check)
    new_check = method(flows.scales.new_check)
    check_findings = method(flows.scales.check_findings)
    weigh = method(flows.scales.weigh)
    session_weights = method(flows.scales.session_weights)
    log = method(flows.scales.log)
    open_logs = method(flows.scales.open_logs)
    on_the_car = method(flows.scales.on_the_car)
    take_logs = method(flows.scales.take_logs)

    work = method(flows.work.work)
    start_work = method(flows.work.start_work)
    jobs = method(flows.work.jobs)

    tables = method(flows.export.tables)
    season = method(flows.export.season)
    export = walk(flows.export.export)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections; the next call would open new ones."""
        if self._transport is not None:
            await self._transport.aclose()
            self._transport = None

    async def _run(self, flow: Flow[T]) -> T:
        steps = carry_out(flow, self._policy)
        outcome: Outcome = None
        while True:
            try:
                step = steps.send(outcome)
            except StopIteration as done:
                result: T = done.value
                return result
            if isinstance(step, Wait):
                await asyncio.sleep(step.seconds)
                outcome = None
            else:
                outcome = await self._send(step)

    async def _walk(self, begin: Callable[[], Walk[T]]) -> AsyncIterator[T]:
        steps, answer = begin(), None
        while True:
            try:
                step = steps.send(answer)
            except StopIteration:
                return
            answer = None
            if isinstance(step, Items):
                for item in step.items:
                    yield item
            elif isinstance(step, NextChunk):
                answer = await anext(step.chunks, None)
            else:
                answer = await self._run(iter(step))

    async def _send(self, step: Send) -> Response | NoResponse:
        import httpx2  # noqa: PLC0415 - 90 ms that `import studbook` must not cost

        try:
            if self._transport is None:
                self._transport = self._open(httpx2.AsyncClient)
            # Of a stream, time is given to each piece that is read, not to all together.
            async with nullcontext() if step.call.streamed else asyncio.timeout(step.timeout_s):
                return await self._received(step)
        except BaseException as error:  # noqa: BLE001 - what is none of the transport's is raised again there
            failed = error
        return self._failure(failed)

    async def _received(self, step: Send) -> Response | NoResponse:
        timeout_s = step.timeout_s if step.call.streamed else None
        request = self._transport.build_request(**self._request(step.call, timeout_s))
        response = await self._transport.send(request, stream=True)
        if step.call.streamed and response.is_success:
            return Response(response.status_code, dict(response.headers), b"", chunks=self._chunks(response))
        async with aclosing(response):
            body = Body(response, self._bearer)
            if (refusal := body.refusal()) is not None:
                return refusal
            async for piece in response.aiter_raw():
                if (refusal := body.add(piece)) is not None:
                    return refusal
            return body.whole()

    async def _chunks(self, response: Any) -> AsyncIterator[bytes]:
        async with aclosing(response):
            if (reason := refused_encoding(response)) is not None:
                raise UnreadableAnswerError(response.status_code, reason)
            pieces = response.aiter_raw()
            while True:
                try:
                    piece = await anext(pieces, None)
                except BaseException as error:  # noqa: BLE001 - what is none of the transport's is raised again there
                    failed = error
                else:
                    if piece is None:
                        return
                    yield piece
                    continue
                broken = self._broken(failed)
                del failed  # a traceback may show it
                raise broken
