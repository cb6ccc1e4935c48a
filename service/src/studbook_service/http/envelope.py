"""What every exchange gets, whatever answers it: a request id, HEAD where there is GET, and a problem for a failure."""

from secrets import token_hex

from litestar.enums import ScopeType
from litestar.types import ASGIApp, HTTPScope, Message, Receive, Scope, Send

from studbook_service.http import problems


class Envelope:
    """Wraps the whole application, so that unknown addresses and failures are marked too.

    Example:
        >>> from litestar import Litestar
        >>> app = Envelope(Litestar())
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one exchange."""
        if scope["type"] == ScopeType.HTTP:
            await self._exchange(scope, receive, send)
        else:
            await self.app(scope, receive, send)

    async def _exchange(self, scope: HTTPScope, receive: Receive, send: Send) -> None:
        request_id = token_hex(8)
        header = (b"x-request-id", request_id.encode())
        started, bodiless = False, scope["method"] == "HEAD"
        if bodiless:
            scope["method"] = "GET"

        async def marked(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                message["headers"] = [*message["headers"], header]
            elif bodiless and message["type"] == "http.response.body":
                message["body"] = b""
            await send(message)

        try:
            await self.app(scope, receive, marked)
        except Exception as error:  # the one door for errors: whatever was raised becomes an answer
            if started:
                raise
            asked = f"{scope['method']} {scope['path']}"
            await problems.reply(error, request_id=request_id, asked=asked)(scope, receive, marked)
