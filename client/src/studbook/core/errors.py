"""Everything the client raises: one base, one class per problem code of the service, and what never reached it."""

from collections.abc import Sequence
from typing import Any, ClassVar, Final, Literal

import msgspec
from msgspec import UNSET

from studbook.wire.problem import TITLES, FieldFault, Problem

_BY_CODE: Final[dict[str, type["RefusedError"]]] = {}


Recorded = Literal["", "yes", "no", "not known"]
"""Of an error: whether the write that it ended was recorded all the same; empty where nothing was to be written."""


class StudbookError(Exception):
    """Base of all errors of this client; its text is one line.

    Attributes:
        recorded: after a write, whether it was recorded.
        key: the idempotency key of a write of which that is not known; None where it has none.
        unanswered: the request to give to `send_again`, which asks with the same key and so never records twice;
            None where nothing is left to ask.
    """

    recorded: Recorded = ""
    key: str | None = None
    unanswered: Any = None


class BadTokenError(StudbookError):
    """What was given is no token; the text says why and shows nothing of it."""


class AddressError(StudbookError):
    """What was given is no address of a service, or the token would travel to it unencrypted."""


class ConnectionFailedError(StudbookError):
    """The service could not be reached, or the connection broke and repeating did not help."""


class CertificateError(ConnectionFailedError):
    """The service could not prove who it is, or does not speak TLS; repeating does not help."""


class DeadlineError(StudbookError):
    """The time allowed ran out before there was an answer."""


class UnchangedError(StudbookError):
    """There is nothing to push: the document is what was pulled."""


class UnreadableAnswerError(StudbookError):
    """What answered is not the service, or speaks a form this client does not know."""

    def __init__(self, status: int, reason: str) -> None:
        """Keep the status and what was wrong."""
        super().__init__(f"the answer (status {status}) cannot be read: {_one_line(reason)}")
        self.status = status


class RefusedError(StudbookError):
    """The service answered and refused; a subclass for each problem code.

    Attributes:
        problem: the answer's body.
        code: stable problem code, a key of `studbook.wire.problem.TITLES`.
        faults: each bad or missing field.
        request_id: what to quote when asking about it.
        tag, tips: present state of the line, with `stale` and `split`.
        candidates: full ids, with `ambiguous`.
    """

    of: ClassVar[str] = ""

    def __init_subclass__(cls, *, code: str) -> None:
        """File the class under its problem code."""
        cls.of = code
        _BY_CODE[code] = cls

    def __init__(self, problem: Problem) -> None:
        """Keep the problem."""
        super().__init__(problem)
        self.problem = problem
        self.code = problem.code
        self.faults: list[FieldFault] = problem.errors or []
        self.request_id = problem.request_id
        self.tag = problem.tag or None
        self.tips: list[str] = problem.tips or []
        self.candidates: list[str] = problem.candidates or []

    def __str__(self) -> str:
        """Say it in one line: what, the first field, how many more, the request."""
        text = _one_line(self.problem.detail or self.problem.title)
        if self.faults and self.faults[0].detail not in text:
            text += f": {_one_line(self.faults[0].detail)}"
        if len(self.faults) > 1:
            text += f" (and {len(self.faults) - 1} more)"
        return f"{text} [request {self.request_id}]" if self.request_id else text


class BadRequestError(RefusedError, code="bad_request"):
    """The service could not read the request."""


class BadDocumentError(RefusedError, code="bad_document"):
    """The document holds values that cannot be recorded; `faults` has each."""


class BadReferenceError(RefusedError, code="bad_reference"):
    """That is no name of a revision, sheet or car."""


class CannotCloseError(RefusedError, code="cannot_close"):
    """The linkage cannot be assembled; the text names the corner, the travel and the member."""


class FieldsMissingError(RefusedError, code="fields_missing"):
    """The document lacks fields this answer needs; `faults` names each."""


class KeyReusedError(RefusedError, code="key_reused"):
    """The idempotency key was used for another request."""


class MethodNotAllowedError(RefusedError, code="method_not_allowed"):
    """The address does not take that method."""


class NotAcceptableError(RefusedError, code="not_acceptable"):
    """The address cannot answer in that form."""


class NotFoundError(RefusedError, code="not_found"):
    """There is nothing by that name, for this token's team."""


class AmbiguousError(RefusedError, code="ambiguous"):
    """Several revisions begin like that; `candidates` has them."""


class PreconditionMissingError(RefusedError, code="precondition_missing"):
    """The request did not say what its sender had seen."""


class SplitError(RefusedError, code="split"):
    """The line has several tips (`tips`): say which is meant."""


class ConflictsError(RefusedError, code="conflicts"):
    """The sides of a split sheet differ on some fields: choose a value for each and settle it."""


class StaleError(RefusedError, code="stale"):
    """Someone pushed before you; `tag` and `tips` are the present ones."""


class ExistsError(RefusedError, code="exists"):
    """There is one by that name already."""


class TokenNeededError(RefusedError, code="token_needed"):
    """The request carried no token."""


class TokenRefusedError(RefusedError, code="token_refused"):
    """The token is unknown, expired or revoked."""


class NotAllowedError(RefusedError, code="not_allowed"):
    """The token is good but may not do that."""


class ProtectedError(RefusedError, code="protected"):
    """The sheet is protected: only a chief records on it."""


class NotHomeError(RefusedError, code="not_home"):
    """That is decided at the book's home; the text names the node."""


class ErasedError(RefusedError, code="erased"):
    """The entry stands in the book, its content was erased."""


class LastChiefError(RefusedError, code="last_chief"):
    """The team would be left without a chief."""


class TooManyError(RefusedError, code="too_many"):
    """There were too many requests, and waiting did not help."""


class TooCostlyError(RefusedError, code="too_costly"):
    """The computation is larger than one request may ask for; the text says by how much."""


class TooSlowError(RefusedError, code="too_slow"):
    """The service gave the request up: it took too long."""


class TooLargeError(RefusedError, code="too_large"):
    """The request is larger than the service takes."""


class MediaTypeError(RefusedError, code="media_type"):
    """The address reads bodies of another type."""


class BadFramesError(RefusedError, code="bad_frames"):
    """What was sent to be exchanged are no frames of a book."""


class OtherBookError(RefusedError, code="other_book"):
    """The books are of different teams."""


class NoPeersError(RefusedError, code="no_peers"):
    """The service was not started to exchange with others (`studbook serve --peers`)."""


class PeerFailedError(RefusedError, code="peer_failed"):
    """The other node does not answer, or refuses; the text says which."""


class BusyError(RefusedError, code="busy"):
    """There is too much to do at once, and waiting did not help."""


class UnavailableError(RefusedError, code="unavailable"):
    """The service cannot reach its database."""


class InternalError(RefusedError, code="internal"):
    """Something failed inside the service; quote the request id."""


def refused(status: int, body: bytes) -> StudbookError:
    """Make the error that an answer of 300 or more stands for.

    Example:
        >>> refused(502, b"<html>")
        UnreadableAnswerError('the answer (status 502) cannot be read: no problem document')
    """
    try:
        problem = msgspec.json.decode(body, type=Problem)
    except (msgspec.DecodeError, RecursionError):
        return UnreadableAnswerError(status, "no problem document")
    return _BY_CODE.get(problem.code, RefusedError)(problem)


def local(
    code: str,
    detail: str,
    *,
    tag: str | None = None,
    tips: list[str] | None = None,
    faults: Sequence[FieldFault] = (),
) -> RefusedError:
    """Make the error of a refusal that needs no request, such as a malformed reference.

    Example:
        >>> local("bad_reference", "no such form").code
        'bad_reference'
    """
    problem = Problem(
        type=f"urn:studbook:problem:{code}",
        title=TITLES[code],
        status=0,
        code=code,
        request_id="",
        detail=detail,
        tag=tag or UNSET,
        tips=tips or UNSET,
        errors=list(faults) or UNSET,
    )
    return _BY_CODE[code](problem)


def _one_line(text: str) -> str:
    return " ".join(text.split())
