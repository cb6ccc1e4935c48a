"""How long: one deadline over everything a method does, and repeats with full jitter until then.

A call is repeated when nothing answered, or when the service (or a proxy before it) says it cannot answer just now;
and only if repeating it is harmless. A push whose response was lost is therefore repeated with the same key. An error
that ends a write says whether it was recorded all the same.
"""

import itertools
import os
import time
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from studbook.core.call import Call, Flow, Response
from studbook.core.errors import ConnectionFailedError, DeadlineError, RefusedError, StudbookError, refused

T = TypeVar("T")

PASSING: Final = frozenset({429, 502, 503, 504})
"""Statuses that say: not now."""

_BEFORE_THE_WORK: Final = frozenset({"too_many", "busy"})
"""Refusals given before anything of the request was done."""

_OF_THE_BEARER: Final = frozenset({401, 403})
"""Refusals given before the key is looked up: they say nothing of an earlier sending."""


def _evenly() -> float:
    return int.from_bytes(os.urandom(4)) / 2**32


@dataclass(frozen=True, slots=True)
class RetryPolicy:
    """How long to go on trying.

    Attributes:
        timeout_s: for all that one method does, seconds.
        first_wait_s: the first wait is between 0 and this; each later one between 0 and twice the former bound.
        longest_wait_s: no bound grows past this.
        clock: seconds, growing.
        wall_clock: seconds since 1970, for a Retry-After that is a date.
        chance: from 0 to 1, evenly.
    """

    timeout_s: float = 30.0
    first_wait_s: float = 0.1
    longest_wait_s: float = 3.0
    clock: Callable[[], float] = time.monotonic
    wall_clock: Callable[[], float] = time.time
    chance: Callable[[], float] = _evenly


@dataclass(frozen=True, slots=True)
class Send:
    """The driver is to send a call and to answer with a `Response` or `NoResponse` within `timeout_s`."""

    call: Call[Any]
    timeout_s: float


@dataclass(frozen=True, slots=True)
class Wait:
    """The driver is to let some seconds pass; `left_s` are left until the deadline, `reason` is why."""

    seconds: float
    left_s: float = 0.0
    reason: str = ""


@dataclass(frozen=True, slots=True)
class NoResponse:
    """Nothing came back that could be read.

    Attributes:
        reason: why.
        timed_out: it was that time ran out.
        sent: whether the service may have had the request.
        final: the error, where trying again does not help.
    """

    reason: str
    timed_out: bool = False
    sent: bool = True
    final: StudbookError | None = None


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
    written = 0
    while True:
        try:
            call = flow.send(answer)
        except StopIteration as done:
            result: T = done.value
            return result
        if call.renews:
            deadline = policy.clock() + policy.timeout_s
        try:
            answer = yield from _answered(call, deadline, policy)
        except StudbookError as error:
            if written:
                error.recorded = error.recorded or "yes"
                error.add_note(f"what came before was recorded ({written})")
            raise
        written += call.writes


def _answered(call: Call[T], deadline: float, policy: RetryPolicy) -> Steps[T]:
    doubt = False  # whether a sending may have been carried out, though nothing says so
    for attempt in itertools.count(1):
        left = deadline - policy.clock()
        if left <= 0:
            break
        outcome = yield Send(call, left)
        doubt = doubt or _may_be_done(outcome)
        if isinstance(outcome, Response) and outcome.status not in PASSING:
            try:
                return call.answer(outcome)
            except StudbookError as error:
                _tell(error, call, doubt=doubt and not _is_definite(error, outcome))
                raise
        asked = _asked_wait(outcome, policy)
        left = deadline - policy.clock()
        final = isinstance(outcome, NoResponse) and outcome.final is not None
        if final or not call.repeatable or asked >= left or left <= 1.5 * policy.first_wait_s:
            raise _tell(_failure(outcome, policy), call, doubt=doubt)
        bound = min(policy.longest_wait_s, policy.first_wait_s * 2.0 ** min(attempt - 1, 30))
        # The last wait is cut, so that one more sending is made before the deadline.
        wait = min(asked + policy.chance() * bound, max(asked, left - policy.first_wait_s))
        yield Wait(wait, left, _reason(outcome))
    raise _tell(DeadlineError(f"no answer within {policy.timeout_s:g} s"), call, doubt=doubt)


def _may_be_done(outcome: Outcome) -> bool:
    """Whether a request that was answered so may have been carried out."""
    if isinstance(outcome, NoResponse):
        return outcome.sent
    if outcome is None or 300 <= outcome.status < 500:
        return False
    if outcome.status < 300:
        return True
    error = refused(outcome.status, outcome.body)
    return not (isinstance(error, RefusedError) and error.code in _BEFORE_THE_WORK)


def _is_definite(error: StudbookError, outcome: Response) -> bool:
    """Whether a refusal also says that no earlier sending was carried out."""
    return isinstance(error, RefusedError) and outcome.status < 500 and outcome.status not in _OF_THE_BEARER


def _tell(error: StudbookError, call: Call[Any], *, doubt: bool) -> StudbookError:
    """Let an error that ends a write say whether it was recorded."""
    if not call.writes:
        return error
    error.recorded = "not known" if doubt else "no"
    if doubt:
        error.key = call.key
        error.unanswered = call if call.repeatable else None
        asked = f"ask again with its key {call.key}" if call.key else "look before you send it again"
        error.add_note(f"whether it was recorded is not known: {asked}")
    elif not isinstance(error, RefusedError):
        error.add_note("it was not recorded: the service did not take the request")
    return error


def _asked_wait(outcome: Outcome, policy: RetryPolicy) -> float:
    """Read for how long the service asks to wait, in seconds: `Retry-After` as a number or as a date."""
    if not isinstance(outcome, Response):
        return 0.0
    header = outcome.headers.get("retry-after", "").strip()
    if header.isascii() and header.isdecimal():
        return float(header[:12])
    until = _time_of(header)
    if until is None:
        return 0.0
    # By the service's own clock where it tells it: this machine's may be wrong.
    now = _time_of(outcome.headers.get("date", ""))
    return max(0.0, until - (policy.wall_clock() if now is None else now))


def _time_of(text: str) -> float | None:
    """Read an HTTP date, as seconds since 1970."""
    if not text or len(text) > 64 or "," not in text:
        return None
    from email.utils import parsedate_to_datetime  # noqa: PLC0415 - slow to import, and hardly ever needed

    try:
        return parsedate_to_datetime(text).timestamp()
    except (ValueError, OverflowError):
        return None


def _reason(outcome: Outcome) -> str:
    if isinstance(outcome, Response):
        return f"the service says: not now (status {outcome.status})"
    return "no answer" if outcome is None else outcome.reason


def _failure(outcome: Outcome, policy: RetryPolicy) -> StudbookError:
    if isinstance(outcome, Response):
        return refused(outcome.status, outcome.body)
    if outcome is None or outcome.timed_out:
        return DeadlineError(f"no answer within {policy.timeout_s:g} s")
    return outcome.final or ConnectionFailedError(outcome.reason)
