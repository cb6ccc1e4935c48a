"""Repeats and the deadline, with answers fed by hand: no socket, no clock, no chance."""

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

import pytest

from studbook import (
    BadRequestError,
    CertificateError,
    ConnectionFailedError,
    DeadlineError,
    StaleError,
    StudbookError,
    UnavailableError,
    UnreadableAnswerError,
)
from studbook.core.call import Call, Response
from studbook.core.flows import book, pushing
from studbook.core.request import call
from studbook.core.retry import NoResponse, RetryPolicy, Send, Wait, carry_out
from studbook.wire.entries import NewRevision
from studbook.wire.operations.cars import PUSH_REVISION

BUSY = b'{"type":"t","title":"T","status":503,"code":"unavailable","request_id":"r"}'
STALE = b'{"type":"t","title":"T","status":412,"code":"stale","request_id":"r"}'
ASK = Call("GET", "/x", dict)


@dataclass
class Clock:
    now: float = 0.0

    def __call__(self) -> float:
        return self.now


class Driver:
    """Feeds outcomes to a flow; each sending takes `takes` seconds."""

    def __init__(self, *outcomes: Response | NoResponse, takes: float = 0.0, **policy: Any) -> None:
        self.clock = Clock()
        self.outcomes = list(outcomes)
        self.takes = takes
        self.policy = RetryPolicy(clock=self.clock, chance=lambda: 1.0, **policy)
        self.sent: list[Send] = []
        self.waits: list[float] = []

    def run(self, work: Any) -> Any:
        steps = carry_out(iter(work), self.policy)
        answer: Any = None
        while True:
            try:
                step = steps.send(answer)
            except StopIteration as done:
                return done.value
            if isinstance(step, Wait):
                self.waits.append(step.seconds)
                self.clock.now += step.seconds
                answer = None
            else:
                self.sent.append(step)
                self.clock.now += self.takes
                answer = self.outcomes.pop(0)


OK = Response(200, {}, b'{"a": 1}')
NOT_NOW = Response(503, {}, BUSY)


def test_an_answer_at_once() -> None:
    driver = Driver(OK)
    assert driver.run(ASK) == {"a": 1}
    assert driver.waits == []


def test_waits_double_up_to_a_bound() -> None:
    driver = Driver(*[NoResponse("gone")] * 6, OK, first_wait_s=0.2, longest_wait_s=1.0)
    assert driver.run(ASK) == {"a": 1}
    assert driver.waits == pytest.approx([0.2, 0.4, 0.8, 1.0, 1.0, 1.0])


def test_full_jitter_may_be_nothing() -> None:
    driver = Driver(NOT_NOW, OK)
    driver.policy = RetryPolicy(clock=driver.clock, chance=lambda: 0.0)
    driver.run(ASK)
    assert driver.waits == [0.0]


def test_retry_after_is_kept_to() -> None:
    driver = Driver(Response(429, {"retry-after": "3"}, BUSY), OK, first_wait_s=0.5)
    driver.run(ASK)
    assert driver.waits == pytest.approx([3.5])


@pytest.mark.parametrize(
    ("fields", "waited"),
    [
        ({"retry-after": "Wed, 02 May 2029 18:00:07 GMT"}, 7.0),
        # The service's clock is an hour off, and it says so: the wait is by its own.
        ({"retry-after": "Wed, 02 May 2029 19:00:04 GMT", "date": "Wed, 02 May 2029 19:00:00 GMT"}, 4.0),
        ({"retry-after": "Wed, 02 May 2029 17:00:00 GMT"}, 0.0),
        ({"retry-after": "Someday, 99 Foo 2029"}, 0.0),
        ({"retry-after": f"x,{'9' * 5000}"}, 0.0),
    ],
)
def test_a_retry_after_may_be_a_date(fields: dict[str, str], waited: float) -> None:
    driver = Driver(Response(503, fields, BUSY), OK)
    at = dt.datetime(2029, 5, 2, 18, tzinfo=dt.UTC).timestamp()
    driver.policy = RetryPolicy(clock=driver.clock, wall_clock=lambda: at, chance=lambda: 0.0)
    driver.run(ASK)
    assert driver.waits == pytest.approx([waited])


@pytest.mark.parametrize("header", ["9" * 400, "99999999999999999999"])
def test_a_retry_after_without_end_is_not_waited_for(header: str) -> None:
    driver = Driver(Response(503, {"retry-after": header}, BUSY))
    with pytest.raises(UnavailableError):
        driver.run(ASK)
    assert driver.waits == []


def test_retrying_lasts_until_the_deadline() -> None:
    driver = Driver(*[NoResponse("gone", sent=False)] * 99, timeout_s=30)
    with pytest.raises(ConnectionFailedError):
        driver.run(ASK)
    assert driver.clock.now == pytest.approx(30, abs=0.2)
    assert len(driver.sent) > 10


def test_waits_are_even_between_nothing_and_their_bound() -> None:
    chances = iter([0.5, 0.0, 0.25, 1.0])
    driver = Driver(*[NoResponse("gone")] * 4, OK)
    driver.policy = RetryPolicy(clock=driver.clock, chance=lambda: next(chances), first_wait_s=1.0, longest_wait_s=4.0)
    driver.run(ASK)
    assert driver.waits == pytest.approx([0.5, 0.0, 1.0, 4.0])


def test_a_final_failure_is_not_repeated() -> None:
    driver = Driver(NoResponse("no", final=CertificateError("no")))
    with pytest.raises(CertificateError):
        driver.run(ASK)
    assert len(driver.sent) == 1


NOT_SENT, LOST = NoResponse("refused", sent=False), NoResponse("gone")
FORBIDDEN = Response(401, {}, BUSY.replace(b"503", b"401").replace(b"unavailable", b"token_refused"))
BROKEN = Response(500, {}, BUSY.replace(b"503", b"500").replace(b"unavailable", b"internal"))
MANY = Response(429, {"retry-after": "99"}, BUSY.replace(b"503", b"429").replace(b"unavailable", b"too_many"))


@pytest.mark.parametrize(
    ("outcomes", "recorded"),
    [
        ([NOT_SENT] * 99, "no"),
        ([LOST] * 99, "not known"),
        ([NOT_SENT, LOST, *[NOT_SENT] * 99], "not known"),
        ([Response(412, {}, STALE)], "no"),
        ([LOST, Response(412, {}, STALE)], "no"),
        ([FORBIDDEN], "no"),
        ([LOST, FORBIDDEN], "not known"),
        ([BROKEN], "not known"),
        ([MANY], "no"),
        ([NOT_NOW] * 99, "not known"),
        ([Response(200, {}, b"<html>")], "not known"),
        ([Response(302, {}, b"")], "no"),
        ([NoResponse("slow", timed_out=True)] * 99, "not known"),
    ],
)
def test_an_error_after_a_write_says_whether_it_was_recorded(outcomes: list[Any], recorded: str) -> None:
    driver = Driver(*outcomes)
    with pytest.raises(StudbookError) as caught:
        driver.run(call(PUSH_REVISION, "7", "baseline", body=NewRevision(note="n"), seen="t"))
    error, key = caught.value, driver.sent[0].call.headers["Idempotency-Key"]
    assert error.recorded == recorded
    assert error.key == (key if recorded == "not known" else None)
    if recorded == "not known":
        assert key in error.__notes__[0]
        assert Driver(OK).run(asked_again(error)) == {"a": 1}


def asked_again(error: StudbookError) -> Any:
    """Send an error's request again, with the same key; its answer is read as a tree here."""
    [again] = list(pushing.send_again(error))[:1]
    assert again.key == error.key
    return replace(again, form=dict)


def test_a_read_after_a_write_says_that_it_was_recorded() -> None:
    def flow() -> Any:
        yield Call("POST", "/x", dict, headers={"Idempotency-Key": "k"}, writes=True)
        yield ASK

    with pytest.raises(UnavailableError) as caught:
        Driver(OK, *[NOT_NOW] * 99).run(flow())
    assert caught.value.recorded == "yes"
    with pytest.raises(BadRequestError, match="no request to send again"):
        next(pushing.send_again(caught.value))


def test_a_read_says_nothing_of_recording() -> None:
    with pytest.raises(ConnectionFailedError) as caught:
        Driver(*[LOST] * 99).run(ASK)
    assert (caught.value.recorded, caught.value.key) == ("", None)


def test_a_retry_after_beyond_the_deadline_is_not_waited_for() -> None:
    driver = Driver(Response(503, {"retry-after": "60"}, BUSY), timeout_s=5)
    with pytest.raises(UnavailableError):
        driver.run(ASK)
    assert driver.waits == []


@pytest.mark.parametrize("header", ["soon", "-1", "1.5", "", "²"])
def test_a_retry_after_that_is_no_number_of_seconds_is_passed_over(header: str) -> None:
    driver = Driver(Response(503, {"retry-after": header}, BUSY), OK)
    driver.run(ASK)
    assert driver.waits == pytest.approx([0.1])


def test_the_last_failure_is_told() -> None:
    with pytest.raises(ConnectionFailedError, match="gone"):
        Driver(*[NoResponse("gone")] * 99).run(ASK)
    with pytest.raises(UnavailableError):
        Driver(*[NOT_NOW] * 99).run(ASK)
    with pytest.raises(UnreadableAnswerError):
        Driver(*[Response(502, {}, b"<html>")] * 99).run(ASK)


def test_one_deadline_covers_sendings_and_waits() -> None:
    driver = Driver(*[NoResponse("slow", timed_out=True)] * 9, takes=4.0, timeout_s=10)
    with pytest.raises(DeadlineError, match="within 10 s"):
        driver.run(ASK)
    assert [send.timeout_s for send in driver.sent] == pytest.approx([10, 5.9, 1.7])


def test_a_call_may_renew_the_deadline() -> None:
    def twice(*, renews: bool) -> Any:
        for _ in range(2):
            answer = yield from Call("GET", "/x", dict, renews=renews)
        return answer

    assert Driver(OK, OK, takes=8.0, timeout_s=10).run(twice(renews=True)) == {"a": 1}
    with pytest.raises(DeadlineError, match="within 10 s"):
        Driver(OK, NoResponse("slow", timed_out=True), takes=8.0, timeout_s=10).run(twice(renews=False))


def test_a_refusal_is_not_repeated() -> None:
    driver = Driver(Response(412, {}, STALE))
    with pytest.raises(StaleError):
        driver.run(ASK)
    assert len(driver.sent) == 1


def test_what_may_not_be_repeated_is_sent_once() -> None:
    driver = Driver(NoResponse("gone"))
    with pytest.raises(ConnectionFailedError):
        driver.run(Call("POST", "/x", dict, repeatable=False))
    assert len(driver.sent) == 1


def test_a_push_is_repeated_with_the_same_key() -> None:
    flow = call(PUSH_REVISION, "7", "baseline", body=NewRevision(note="n"), seen="t")
    driver = Driver(NoResponse("gone"), Response(412, {}, STALE))
    with pytest.raises(StaleError):
        driver.run(flow)
    keys = [send.call.headers["Idempotency-Key"] for send in driver.sent]
    assert len(keys) == 2
    assert len(set(keys)) == 1
    other = next(call(PUSH_REVISION, "7", "baseline", body=NewRevision(note="n"), seen="t"))
    assert other.headers["Idempotency-Key"] != keys[0]


@pytest.mark.parametrize("body", [b"", b"<html>", b'{"items": 3}', b"\xff\xfe", b'{"items": ['])
def test_garbage_with_a_good_status_is_no_answer(body: bytes) -> None:
    with pytest.raises(UnreadableAnswerError, match="status 200"):
        Driver(Response(200, {}, body)).run(book.cars())
