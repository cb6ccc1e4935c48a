"""How long and how often: one deadline over everything a method does, repeats with full jitter.

A call is repeated when nothing answered, or when the service (or a proxy before it) says it cannot answer just now;
and only if repeating it is harmless. A push whose response was lost is therefore repeated with the same key.
"""

import itertools
import os
import time
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from studbook.core.call import Call, Flow, Response
from studbook.core.errors import ConnectionFailedError, DeadlineError, StudbookError, refused

T = TypeVar("T")

PASSING: Final = frozenset({429, 502, 503, 504})
"""Statuses that say: not now."""


def _evenly() -> float:
    return int.from_bytes(os.urandom(4)) / 2**32


@dataclass(frozen=True, slots=True)
class RetryPolicy:
    """How long to go on trying.

    Attributes:
        timeout_s: for all that one method does, seconds.
        attempts: at most so many sendings of one call.
        first_wait_s: the first wait is between 0 and this; each later one between 0 and twice the former bound.
        longest_wait_s: no bound grows past this.
        clock: seconds, growing.
        chance: from 0 to 1, evenly.
    """

    timeout_s: float = 30.0
    attempts: int = 6
    first_wait_s: float = 0.1
    longest_wait_s: float = 5.0
    clock: Callable[[], float] = time.monotonic
    chance: Callable[[], float] = _evenly


@dataclass(frozen=True, slots=True)
class Send:
    """The driver is to send a call and to answer with a `Response` or `NoResponse` within `timeout_s`."""

    call: Call[Any]
    timeout_s: float


@dataclass(frozen=True, slots=True)
class Wait:
    """The driver is to let some seconds pass."""

    seconds: float


@dataclass(frozen=True, slots=True)
class NoResponse:
    """Nothing came back: the reason, and whether it was that time ran out."""

    reason: str
    timed_out: bool = False


Outcome = Response | NoResponse | None
Steps = Generator[Send | Wait, Outcome, T]


def carry_out(flow: Flow[T], policy: RetryPolicy) -> Steps[T]:
    """Do a flow of calls under one deadline.

    Yields:
        `Send`, to be answered with a `Response` or `NoResponse`; `Wait`, to be answered with None.

    Returns:
        What the flow returns.

    Raises:
        StudbookError: refused, lost for good, out of time, or unreadable.
    """
    deadline = policy.clock() + policy.timeout_s
    answer: Any = None
    while True:
        try:
            call = flow.send(answer)
        except StopIteration as done:
            result: T = done.value
            return result
        if call.renews:
            deadline = policy.clock() + policy.timeout_s
        answer = yield from _answered(call, deadline, policy)


def _answered(call: Call[T], deadline: float, policy: RetryPolicy) -> Steps[T]:
    for attempt in itertools.count(1):
        left = deadline - policy.clock()
        if left <= 0:
            break
        outcome = yield Send(call, left)
        if isinstance(outcome, Response) and outcome.status not in PASSING:
            return call.answer(outcome)
        wait = _pause(outcome, attempt, policy)
        if not call.repeatable or attempt == policy.attempts or policy.clock() + wait >= deadline:
            raise _failure(outcome, policy)
        yield Wait(wait)
    raise DeadlineError(f"no answer within {policy.timeout_s:g} s")


def _pause(outcome: Outcome, attempt: int, policy: RetryPolicy) -> float:
    bound = min(policy.longest_wait_s, policy.first_wait_s * 2.0 ** (attempt - 1))
    header = outcome.headers.get("retry-after", "") if isinstance(outcome, Response) else ""
    return (float(header) if header.isdecimal() else 0.0) + policy.chance() * bound


def _failure(outcome: Outcome, policy: RetryPolicy) -> StudbookError:
    if isinstance(outcome, Response):
        return refused(outcome.status, outcome.body)
    if outcome is None or outcome.timed_out:
        return DeadlineError(f"no answer within {policy.timeout_s:g} s")
    return ConnectionFailedError(outcome.reason)
