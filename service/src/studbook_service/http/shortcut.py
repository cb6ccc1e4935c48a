"""The hottest read there is, a document by its full id, answered before the framework is entered.

Nothing is decided here that the routes would decide otherwise: a request that is not just that, or whose bearer this
process has not met yet, goes on to them.
"""

import re

from litestar.enums import ScopeType
from litestar.types import HTTPScope, Receive, Scope, Send

from studbook_service.actions.context import Context
from studbook_service.http.replies import IMMUTABLE, HttpReply, tagged
from studbook_service.http.time_limit import TimeLimit
from studbook_service.store import Bearer

_PATH = re.compile(r"/v1/revisions/([0-9a-f]{64})/document")
ROUTE = "/v1/revisions/{ref}/document"


class Shortcut:
    """Answers reads of documents by known bearers, as the envelope knows them, and passes on all else.

    Example:
        >>> from litestar import Litestar
        >>> app = Shortcut(TimeLimit(Litestar()))
    """

    def __init__(self, app: TimeLimit) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one exchange."""
        reply = await self._reply(scope, scope["user"]) if scope["type"] == ScopeType.HTTP else None
        await (reply or self.app)(scope, receive, send)

    async def _reply(self, scope: HTTPScope, bearer: Bearer | None) -> HttpReply | None:
        found = _PATH.fullmatch(scope["path"])
        if found is None or scope["method"] != "GET" or scope["query_string"]:
            return None
        if bearer is None or bearer.scope is not None:  # a share sees a part of the book only
            return None
        scope["path_template"] = ROUTE
        document = await self._context().document(bearer.team, bytes.fromhex(found[1]))
        held = next((value for name, value in scope["headers"] if name == b"if-none-match"), None)
        tags = None if held is None else held.decode("latin-1")
        return tagged(tags, document.body, tag=document.content.hex(), cache=IMMUTABLE)

    def _context(self) -> Context:
        context: Context = self.app.state.context
        return context
