"""The hottest read there is, a document by its full id, answered before the framework is entered.

Nothing is decided here that the handlers would decide otherwise: a request that is not just that, or whose bearer this
process has not met yet, goes on to them.
"""

import re

from litestar import Litestar
from litestar.enums import ScopeType
from litestar.types import HTTPScope, Receive, Scope, Send

from studbook_service.actions.desk import Desk
from studbook_service.http.replies import IMMUTABLE, Reply, tagged

_PATH = re.compile(r"/v1/revisions/([0-9a-f]{64})/document")
_SCHEME = b"Bearer "


class Shortcut:
    """Answers reads of documents by known bearers and passes on all else.

    Example:
        >>> app = Shortcut(Litestar())
    """

    def __init__(self, app: Litestar) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one exchange."""
        reply = await self._reply(scope) if scope["type"] == ScopeType.HTTP else None
        await (reply or self.app)(scope, receive, send)

    async def _reply(self, scope: HTTPScope) -> Reply | None:
        asked = _PATH.fullmatch(scope["path"])
        if asked is None or scope["method"] != "GET" or scope["query_string"]:
            return None
        headers = dict(scope["headers"])
        token, held = headers.get(b"authorization", b""), headers.get(b"if-none-match")
        desk = self._desk()
        bearer = desk.bearers.known(token[len(_SCHEME) :].decode("latin-1")) if token.startswith(_SCHEME) else None
        if bearer is None:
            return None
        document = await desk.document(bearer.team, bytes.fromhex(asked[1]))
        tags = None if held is None else held.decode("latin-1")
        return tagged(tags, document.body, tag=document.content.hex(), cache=IMMUTABLE)

    def _desk(self) -> Desk:
        desk: Desk = self.app.state.desk
        return desk
