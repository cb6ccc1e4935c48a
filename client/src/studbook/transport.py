"""What both clients know of the library that sends: its options, its errors, and how much of an answer is read.

None of its errors leaves the clients, not as a cause either: their tracebacks go through functions whose variables hold
the header with the token. The environment is the command's affair: no proxies or certificates are read from it here.
"""

from typing import Any, Final

from studbook.core.address import checked_address
from studbook.core.bearer_token import BearerToken, token_fault
from studbook.core.call import Call, Response
from studbook.core.errors import BadTokenError, CertificateError, ConnectionFailedError, UnreadableAnswerError
from studbook.core.retry import NoResponse, RetryPolicy

ANSWER_MOST: Final = 16 << 20
"""Bytes of an answer that is read whole; the largest of a real book is a hundredth of it."""

PROBLEM_MOST: Final = 1 << 20
"""Bytes of a refusal."""


class Client:
    """A client of the service that cannot send yet: `Studbook` and `AsyncStudbook` can."""

    def __init__(
        self, url: str, token: str | BearerToken, *, timeout_s: float = 30.0, insecure_http: bool = False
    ) -> None:
        fault = token_fault(token) if isinstance(token, str) else None
        held = None if fault is not None else BearerToken(token) if isinstance(token, str) else token
        del token  # an error's traceback may show the variables of each function that it came through
        if held is None:
            raise BadTokenError(fault)
        self._bearer = held
        self._url = checked_address(url, insecure_http=insecure_http)
        self._policy = RetryPolicy(timeout_s=timeout_s)
        self._transport: Any = None

    def _open(self, kind: Any) -> Any:
        """Open a transport of httpx2; where nothing is encrypted, reading the authorities' certificates costs 40 ms.

        Nothing compressed is asked for, and none is read: a small answer could unfold to any size.
        """
        return kind(
            trust_env=False,
            verify=not self._url.startswith("http:"),
            headers={"Authorization": f"Bearer {self._bearer.reveal()}", "Accept-Encoding": "identity"},
        )

    def _request(self, call: Call[Any], timeout_s: float | None) -> dict[str, Any]:
        """Give the arguments of one request."""
        return {
            "method": call.method,
            "url": self._url + call.path,
            "params": list(call.query),
            "headers": dict(call.headers),
            "content": call.body,
            "timeout": timeout_s,
        }

    def _failure(self, error: BaseException) -> NoResponse:
        """Say what an error of the transport means, and drop it with its traceback.

        Raises:
            BaseException: the error itself, where it is none of the transport's; without the transport's own frames.
        """
        import httpx2  # noqa: PLC0415 - imported by now

        untrusted = untrusted_reason(error)
        drop_traces(error)
        if isinstance(error, TimeoutError | httpx2.TimeoutException):
            sent = not isinstance(error, httpx2.ConnectTimeout | httpx2.PoolTimeout)
            return NoResponse("no answer in time", timed_out=True, sent=sent)
        if not isinstance(error, httpx2.HTTPError | httpx2.InvalidURL):
            raise error
        text = self._bearer.hide(" ".join(str(error).split())) or type(error).__name__
        if untrusted is not None:
            why = CertificateError(f"{self._url}: {untrusted}")
            return NoResponse(str(why), sent=False, final=why)
        reason = f"{self._url} does not answer: {text}"
        if isinstance(error, httpx2.InvalidURL | httpx2.UnsupportedProtocol | httpx2.LocalProtocolError):
            return NoResponse(reason, sent=False, final=ConnectionFailedError(reason))
        return NoResponse(reason, sent=not isinstance(error, httpx2.ConnectError))

    def _broken(self, error: BaseException) -> ConnectionFailedError:
        """Make the error of a stream that broke off, and drop what the transport raised."""
        return ConnectionFailedError(f"the answer broke off: {self._failure(error).reason}")


class Body:
    """The body of an answer, piece by piece, and no more of it than is allowed.

    Args:
        response: of httpx2, its body not read yet.
        token: taken out of the answer where it stands in it.
    """

    def __init__(self, response: Any, token: BearerToken) -> None:
        self._response, self._token = response, token
        self._most = ANSWER_MOST if response.is_success else PROBLEM_MOST
        self._pieces: list[bytes] = []
        self._size = 0

    def refusal(self) -> NoResponse | None:
        """Say why the body is not going to be read, by the answer's head."""
        reason = refused_encoding(self._response)
        length = self._response.headers.get("content-length", "")
        if reason is None and length.isdecimal() and (len(length) > 15 or int(length) > self._most):
            reason = self._too_large()
        return None if reason is None else self._unreadable(reason)

    def add(self, piece: bytes) -> NoResponse | None:
        """Take a piece, or say why no more is read."""
        self._pieces.append(piece)
        self._size += len(piece)
        return self._unreadable(self._too_large()) if self._size > self._most else None

    def whole(self) -> Response:
        """Give the answer."""
        body = self._token.hide_bytes(b"".join(self._pieces))
        return Response(self._response.status_code, dict(self._response.headers), body)

    def _too_large(self) -> str:
        return f"it is larger than {self._most >> 20} MiB"

    def _unreadable(self, reason: str) -> NoResponse:
        self._pieces.clear()
        return NoResponse(reason, final=UnreadableAnswerError(self._response.status_code, reason))


def refused_encoding(response: Any) -> str | None:
    """Say why an answer's coding is not read; None where it has none."""
    coding = response.headers.get("content-encoding", "identity").strip().lower()
    return None if coding in {"", "identity"} else "it is compressed, which was not asked for"


def drop_traces(error: BaseException) -> None:
    """Cut an error of the transport off from where it came from: the functions there have the token in variables."""
    for each in _with_causes(error):
        each.__traceback__ = each.__cause__ = each.__context__ = None


def untrusted_reason(error: BaseException) -> str | None:
    """Say why a service is not believed to be what its address says; None where that is not what failed."""
    import ssl  # noqa: PLC0415 - httpx2 has imported it by now

    for each in _with_causes(error):
        if isinstance(each, ssl.SSLCertVerificationError):
            return f"its certificate is not accepted: {each.verify_message or 'verification failed'}"
        if isinstance(each, ssl.SSLError) and each.reason in {"WRONG_VERSION_NUMBER", "HTTP_REQUEST"}:
            return "it does not speak https there: is it http, or another port?"
    return None


def _with_causes(error: BaseException) -> list[BaseException]:
    """List an error and what it comes from."""
    found = [error]
    for each in found:
        found += [cause for cause in (each.__cause__, each.__context__) if cause is not None and cause not in found]
    return found
