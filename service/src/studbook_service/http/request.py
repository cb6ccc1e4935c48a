"""A request as routes see it: who asks, what is in the body, what was seen before.

A body that holds a token is refused, as the book would keep it for good; so is one with more values than any document
that is kept, before it is parsed.
"""

import contextlib
import dataclasses
import re
from collections.abc import Sequence
from hashlib import sha256
from typing import Any, TypeVar

import msgspec
from litestar import Request
from litestar.datastructures import State
from litestar.exceptions import InternalServerException
from msgspec import UNSET

from studbook.history.canonical import MAX_DEPTH, UnrecordableError, parse
from studbook.wire.fields import misfit
from studbook.wire.problem import FieldFault
from studbook_service.actions.context import Context
from studbook_service.actions.documents import DOCUMENT_MOST_BYTES
from studbook_service.actions.entries import Precondition
from studbook_service.actions.refusals import Refusal, unfit
from studbook_service.actions.rights import refuse_unless_allowed
from studbook_service.http import replies
from studbook_service.http.replies import JSON, REVALIDATED, HttpReply
from studbook_service.store import Bearer

BODY_MOST_BYTES = 1024 * 1024
VALUES_MOST = DOCUMENT_MOST_BYTES // 2
"""No document that is kept has more; without this bound small ones by the hundred thousand keep a process busy."""

T = TypeVar("T", bound=msgspec.Struct)

_KEY = re.compile(r"[\x21-\x7e]{1,200}")
_TOKEN = re.compile(rb"sbk_[A-Za-z0-9]{38}")  # it would stand in the book for good
_TAGS = re.compile(r'\s*(W/)?"([\x21\x23-\x7e]*)"\s*(?:,|$)')
_PLACE = re.compile(r" - at `\$(.*)`$", re.DOTALL)
_MEMBER = re.compile(r"unknown field `(.*)`", re.DOTALL)
_UNWRITABLE = re.compile("[\0\ud800-\udfff]")
_MISSING = re.compile(r"missing required field `(.*)`")


class ApiRequest(Request[Bearer, None, State]):
    """One request."""

    async def enter(self) -> tuple[Context, Bearer]:
        """Find who asks, whether they may, and how much of the book they see.

        Raises:
            Refusal: `token_needed`, `token_refused`, `not_allowed`.
        """
        context: Context = self.app.state.context
        scheme, _, token = self.headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            raise Refusal("token_needed", "send Authorization: Bearer and the token")
        bearer = await context.bearers.holder(token.strip())
        refuse_unless_allowed(bearer, self.route_handler.opt["operation"])
        return (context if bearer.scope is None else context.within(bearer.scope)), bearer

    async def content(self, form: type[T]) -> T:
        """Read the body into a Struct, refusing all that is not exactly of its form.

        Raises:
            Refusal: `media_type`, `too_large` in bytes or values, `bad_request` with the place.
        """
        data = await self.raw(JSON)
        if data.count(b",") > VALUES_MOST:
            raise Refusal("too_large", f"more than {VALUES_MOST} values were sent")
        try:
            tree = parse(data)
            if b"\\u" in data:
                _refuse_unwritable(tree, ())
        except UnrecordableError as error:
            raise _unreadable(error) from None
        return _converted(tree, form, strict=True)

    async def raw(self, wanted: str) -> bytes:
        """Read the body as it is.

        Args:
            wanted: the media type it must be of.

        Raises:
            Refusal: `media_type`, `too_large`, `bad_request` for a body that was cut off.
        """
        media_type = self.headers.get("content-type", "").partition(";")[0].strip().lower()
        if media_type != wanted:
            raise Refusal("media_type", f"{media_type[:80] or 'nothing'} was sent; {wanted} is read")
        coding = self.headers.get("content-encoding", "identity")
        if coding.lower() != "identity":
            raise Refusal("media_type", f"the body is coded as {coding[:80]}; it is read as it is")
        try:
            data = await self.body()
        except InternalServerException:
            raise Refusal("bad_request", "the body was cut off") from None
        if len(data) > BODY_MOST_BYTES:
            raise Refusal("too_large", f"{len(data)} bytes were sent, {BODY_MOST_BYTES} are read")
        if _TOKEN.search(data):
            raise Refusal("bad_request", "the body holds an access token: end that token, and leave it out")
        return data

    def query(self, form: type[T]) -> T:
        """Read the query into a Struct.

        Raises:
            Refusal: `bad_request` naming the parameter.
        """
        given = list(self.query_params.multi_items())
        if len(given) > len(dict(given)):
            raise Refusal("bad_request", "a query parameter stands twice")
        return _converted(dict(given), form, strict=False)

    async def precondition(self) -> Precondition:
        """Read what the author of a change has seen, and the key of a retry.

        Raises:
            Refusal: `precondition_missing`, or `bad_request` for a header that cannot be read.
        """
        match, none_match = self.headers.get("if-match"), self.headers.get("if-none-match")
        if (match is None) is (none_match is None):
            raise Refusal(
                "precondition_missing" if match is None else "bad_request", "send one of If-Match and If-None-Match"
            )
        if match is None and (none_match or "").strip() != "*":
            raise Refusal("bad_request", "If-None-Match: only * makes sense here")
        tags = frozenset() if match is None else _strong_tags(match)
        if match is not None and not tags:
            raise Refusal("precondition_missing", "If-Match: name the tag you saw, in double quotes")
        return await self.keyed(Precondition(tags=tags, new=match is None))

    async def keyed(self, precondition: Precondition) -> Precondition:
        """Add the idempotency key, if one was sent, and the hash of the request it stands for."""
        key = self.headers.get("idempotency-key")
        if key is None:
            return precondition
        if not _KEY.fullmatch(key) or _TOKEN.search(key.encode()):
            raise Refusal("bad_request", "Idempotency-Key: 1 to 200 visible ASCII characters, and no token")
        parts = (self.method, self.url.path, self.headers.get("if-match", ""))
        fingerprint = sha256("\n".join(parts).encode() + b"\n" + await self.body()).digest()
        return dataclasses.replace(precondition, key=key, fingerprint=fingerprint)

    def tagged(
        self, answer: Any, *, tag: str | None = None, cache: str = REVALIDATED, headers: dict[str, str] | None = None
    ) -> HttpReply:
        """Reply with an answer and its tag, or 304."""
        held = self.headers.get("if-none-match")
        return replies.tagged(held, replies.encoded(answer), tag=tag, cache=cache, headers=headers)

    def has(self, tag: str) -> bool:
        """Say whether the client holds just this."""
        return replies.holds(self.headers.get("if-none-match"), tag)


def _strong_tags(header: str) -> frozenset[str]:
    """List the states that If-Match names; a weak tag never matches (RFC 9110, 13.1.1).

    Of how a state was shown (`results.state_tag`) a change does not depend.
    """
    return frozenset(tag.partition(".")[0] for weak, tag in _TAGS.findall(header) if not weak)


def _unreadable(error: UnrecordableError) -> Refusal:
    """Point at what cannot be read (RFC 6901), whatever letters its name has."""
    steps = "".join("/" + step.replace("~", "~0").replace("/", "~1") for step in error.path)
    pointer = steps.encode(errors="replace").decode()[:400]
    return Refusal("bad_request", error.reason, errors=[FieldFault(pointer=pointer, detail=error.reason)])


def _converted(tree: Any, form: type[T], *, strict: bool) -> T:
    try:
        return msgspec.convert(tree, form, strict=strict)
    except msgspec.ValidationError as error:
        raise _misfit(str(error), tree, form, body=strict) from None


def _misfit(message: str, tree: Any, form: type[msgspec.Struct], *, body: bool) -> Refusal:
    """Say which member does not fit, and why: value, bound and unit where its type tells them."""
    place = _PLACE.search(message)
    reason = message[: place.start()] if place else message
    steps = (place[1] if place else "").replace("[", ".").replace("]", "").split(".")[1:]
    missing = _MISSING.search(reason)
    if named := _MEMBER.search(reason) or missing:
        steps.append(named[1])
    name = ".".join(steps)[:200]
    pointer = ("/" + "/".join(steps) if body and steps else name)[:400]
    if missing:
        return unfit(pointer, f"{name}: is missing")
    if fault := misfit(form, tuple(steps), _sent(tree, steps, body=body)):
        return Refusal(
            "bad_request", fault.detail, errors=[msgspec.structs.replace(fault, pointer=pointer, path=UNSET)]
        )
    return unfit(pointer, f"{name or 'the body'}: {reason[:400]}")


def _sent(tree: Any, steps: Sequence[str], *, body: bool) -> Any:
    """Find what was sent at a place; a query's number comes as text."""
    here = tree
    for step in steps:
        if isinstance(here, dict):
            here = here.get(step)
        elif isinstance(here, list) and step.isdecimal() and int(step) < len(here):
            here = here[int(step)]
    if not body and isinstance(here, str):
        with contextlib.suppress(ValueError):
            return float(here)
    return here


def _refuse_unwritable(value: Any, path: tuple[str, ...]) -> None:
    """Refuse text that no database and no other program can take: NUL, and half of a surrogate pair."""
    if len(path) > MAX_DEPTH:
        raise UnrecordableError(path[:4], f"nested deeper than {MAX_DEPTH} levels")
    if isinstance(value, str):
        if _UNWRITABLE.search(value):
            raise UnrecordableError(path, "text holds NUL or half of a surrogate pair")
    elif isinstance(value, dict):
        for key, item in value.items():
            _refuse_unwritable(key, path)
            _refuse_unwritable(item, (*path, key))
    elif isinstance(value, list):
        for place, item in enumerate(value):
            _refuse_unwritable(item, (*path, str(place)))
