"""Access, through both clients: what is sent, what is sent once alone, and a walk over pages."""

import datetime as dt
from typing import Any

import pytest

from client.calling import Both, said
from studbook import BadReferenceError, BadRequestError, LastChiefError, NotHomeError, ProtectedError, UnavailableError

MEMBER = {"id": "m-aaaaaaaaaa", "name": "Robin", "role": "crew"}
TOKEN = {"id": "3f9a1c07be21", "member": MEMBER["id"], "role": "crew", "label": "l", "made_at": "2026-11-25T10:00:00Z"}
SHARE = {"id": "s-aaaaaaaaaa", "car": "7", "sheet": "baseline", "label": "Lee", "until": "2027-01-01T00:00:00Z"}
PROTECTION = {"car": "7", "sheet": "baseline", "protected": True}
LINE = {"seq": 1, "at": "2026-11-25T10:00:00Z", "actor": "owner", "action": "a", "subject": "s", "chain": "00"}
UNTIL = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
UNAVAILABLE = {"type": "t", "title": "T", "status": 503, "code": "unavailable", "request_id": "r"}
ONCE = {"add_member", "make_token", "make_share"}

CALLS: list[tuple[str, tuple[Any, ...], dict[str, Any], Any, str, str, bytes]] = [
    ("members", (), {}, {"items": [MEMBER], "home": "shop"}, "GET", "/v1/members", b""),
    ("add_member", ("Robin",), {}, MEMBER, "POST", "/v1/members", b'{"name":"Robin"}'),
    (
        *("add_member", ("Trailer",), {"role": "node", "id": "trailer"}, MEMBER),
        *("POST", "/v1/members", b'{"name":"Trailer","role":"node","id":"trailer"}'),
    ),
    ("change_member", ("robin",), {"ended": True}, MEMBER, "PATCH", "/v1/members/robin", b'{"ended":true}'),
    ("change_member", ("robin",), {"role": "chief"}, MEMBER, "PATCH", "/v1/members/robin", b'{"role":"chief"}'),
    ("tokens", (), {}, {"items": [TOKEN]}, "GET", "/v1/tokens", b""),
    (
        *("make_token", ("robin",), {"label": "l", "days": 7, "protected": True}, {"token": "sbk_x", "about": TOKEN}),
        *("POST", "/v1/tokens", b'{"label":"l","member":"robin","days":7,"protected":true}'),
    ),
    ("end_token", ("3f9a1c07be21",), {}, TOKEN, "DELETE", "/v1/tokens/3f9a1c07be21", b""),
    ("shares", (), {}, {"items": [SHARE]}, "GET", "/v1/shares", b""),
    (
        *("make_share", ("7/baseline",), {"label": "Lee", "until": UNTIL}, {"token": "sbk_x", "share": SHARE}),
        *("POST", "/v1/shares", b'{"car":"7","label":"Lee","until":"2027-01-01T00:00:00Z","sheet":"baseline"}'),
    ),
    (
        *("make_share", ("7",), {"label": "Lee", "until": UNTIL}, {"token": "sbk_x", "share": SHARE}),
        *("POST", "/v1/shares", b'{"car":"7","label":"Lee","until":"2027-01-01T00:00:00Z"}'),
    ),
    ("end_share", ("s-aaaaaaaaaa",), {}, SHARE, "DELETE", "/v1/shares/s-aaaaaaaaaa", b""),
    ("protect", ("7/baseline",), {}, PROTECTION, "PUT", "/v1/cars/7/sheets/baseline/protection", b""),
    ("unprotect", ("7/baseline",), {}, PROTECTION, "DELETE", "/v1/cars/7/sheets/baseline/protection", b""),
]


@pytest.mark.parametrize(("name", "args", "named", "answer", "method", "path", "body"), CALLS)
def test_each_method_sends_what_it_says(
    name: str,
    args: tuple[Any, ...],
    named: dict[str, Any],
    answer: Any,
    method: str,
    path: str,
    body: bytes,
    served: Any,
    call: Both,
) -> None:
    served.say(said(served, answer))
    call(served.url, name, *args, **named)
    (asked,) = served.asked
    assert (asked.method, asked.path, asked.body) == (method, path, body)
    # What makes a secret is sent once: a second sending would make another one that nobody was shown.
    served.say(said(served, UNAVAILABLE, status=503), said(served, answer))
    if name in ONCE:
        with pytest.raises(UnavailableError):
            call(served.url, name, *args, **named)
    else:
        call(served.url, name, *args, **named)
    assert len(served.asked) == (2 if name in ONCE else 3)


def test_the_record_is_walked_page_by_page(served: Any, call: Both) -> None:
    served.say(said(served, {"items": [LINE, LINE | {"seq": 2}], "next": 2}), said(served, {"items": [LINE]}))
    assert [line.seq for line in call(served.url, "audit", page=2)] == [1, 2, 1]
    assert [asked.path for asked in served.asked] == ["/v1/audit?after=0&limit=2", "/v1/audit?after=2&limit=2"]


def test_a_share_says_what_it_shows(served: Any, call: Both) -> None:
    served.say(said(served, {"id": "s-aaaaaaaaaa", "name": "Lee", "role": "share", "share": SHARE}))
    me = call(served.url, "me")
    assert (me.role, me.share.car, me.share.until) == ("share", "7", UNTIL)


def test_what_cannot_be_meant_is_not_sent(served: Any, call: Both) -> None:
    naive = dt.datetime(2027, 1, 1)  # noqa: DTZ001 - what is refused
    with pytest.raises(BadRequestError, match="no offset"):
        call(served.url, "make_share", "7", label="Lee", until=naive)
    for shared in ("7/", "No. 7", "7/a/b", ""):
        with pytest.raises(BadReferenceError):
            call(served.url, "make_share", shared, label="Lee", until=UNTIL)
    for name in ("end_token", "end_share", "change_member"):
        with pytest.raises(BadReferenceError):
            call(served.url, name, "../cars")
    assert served.asked == []


@pytest.mark.parametrize(
    ("code", "status", "kind"),
    [("protected", 403, ProtectedError), ("not_home", 409, NotHomeError), ("last_chief", 409, LastChiefError)],
)
def test_a_refusal_is_typed(code: str, status: int, kind: type[Exception], served: Any, call: Both) -> None:
    served.say(said(served, UNAVAILABLE | {"code": code, "status": status}, status=status))
    with pytest.raises(kind):
        call(served.url, "change_member", "robin", ended=True)
