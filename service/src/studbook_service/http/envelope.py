"""What every exchange gets, whatever answers it.

A request id, a place within the rate, HEAD where there is GET, a problem for a failure, a count.
"""

from secrets import token_hex
from typing import Final

from litestar.datastructures import State
from litestar.enums import ScopeType
from litestar.types import ASGIApp, HTTPScope, Message, Receive, Scope, Send

from studbook_service.actions.context import Context
from studbook_service.actions.refusals import Refusal
from studbook_service.http import problems
from studbook_service.http.denials import STATUSES, DenialLog, hidden
from studbook_service.http.limits import Headers, Limits
from studbook_service.http.metrics import Metrics

ADDRESS_MOST_BYTES: Final = 8192
_METHODS: Final = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})


class Envelope:
    """Wraps the whole application, so that unknown addresses and failures are marked too.

    Args:
        app: the application.
        state: its state, which holds the context once it has started.
        limits: how often one may ask.
        metrics: where requests are counted.

    Example:
        >>> from litestar import Litestar
        >>> app = Litestar()
        >>> envelope = Envelope(app, state=app.state, limits=Limits(0), metrics=Metrics())
    """

    def __init__(self, app: ASGIApp, *, state: State, limits: Limits, metrics: Metrics) -> None:
        self.app = app
        self._state, self._limits, self._metrics = state, limits, metrics
        self._denials = DenialLog()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one exchange."""
        if scope["type"] == ScopeType.HTTP:
            await self._exchange(scope, receive, send)
        else:
            await self.app(scope, receive, send)

    async def _exchange(self, scope: HTTPScope, receive: Receive, send: Send) -> None:
        request_id = token_hex(8)
        headers: Headers = [(b"x-request-id", request_id.encode())]
        method, status = scope["method"], 0
        if method == "HEAD":
            scope["method"] = "GET"

        async def marked(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [*message["headers"], *headers]
            elif method == "HEAD" and message["type"] == "http.response.body":
                message["body"] = b""
            await send(message)

        try:
            self._admit(scope, headers)
            await self.app(scope, receive, marked)
        except Exception as error:  # the one door for errors: whatever was raised becomes an answer
            if status:
                raise
            refusal = problems.refusal(error)
            target = hidden(f"{method} {ascii(scope['path'][:200])[1:-1]}")
            await problems.reply(error, request_id=request_id, target=target)(scope, receive, marked)
            if status in STATUSES:
                self._metrics.denials[refusal.code] += 1
                self._denials.write(request_id=request_id, code=refusal.code, token=_token(scope), target=target)
        finally:
            known = str(method) if method in _METHODS else "other"
            self._metrics.requests[known, scope.get("path_template", ""), str(status)] += 1

    def _admit(self, scope: HTTPScope, headers: Headers) -> None:
        """Count the request against its token, once that is known to be good, else against its address."""
        token, client, context = _token(scope), scope.get("client"), self._context()
        context.engine_thread.request_came()
        bearer = context.bearers.known(token) if token else None
        scope["user"] = bearer
        admitted = self._limits.admit(
            token=None if bearer is None else bearer.token, address=client[0] if client else ""
        )
        headers += admitted.headers
        if not admitted.let_in:
            self._metrics.limited[admitted.by] += 1
            raise Refusal("too_many", f"this {admitted.by} asks too often", retry_after_s=1)
        length = len(scope["raw_path"]) + len(scope["query_string"])
        if length > ADDRESS_MOST_BYTES:
            raise Refusal("too_large", f"the address has {length} bytes, {ADDRESS_MOST_BYTES} are read")

    def _context(self) -> Context:
        context: Context = self._state.context
        return context


def _token(scope: HTTPScope) -> str:
    """Give what is shown as a token; empty where nothing is."""
    for name, value in scope["headers"]:
        if name == b"authorization":
            scheme, _, token = value.decode("latin-1").partition(" ")
            return token.strip() if scheme.lower() == "bearer" else ""
    return ""
