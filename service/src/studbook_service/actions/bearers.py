"""Who holds which token, kept until access changes anywhere.

These lookups, and the watch on changes, have connections of their own: a full book makes no revocation late.
"""

import asyncio
import datetime as dt
from collections.abc import Callable
from hashlib import sha256
from uuid import UUID

from studbook_service.actions.refusals import Refusal
from studbook_service.store import AccessStore, BadToken, Bearer, StoreUnavailable, secret_hash

POLL_EVERY_S = 0.3
# With the pause between polls this keeps a revoked token's life below 1 s even when the database hangs.
POLL_WITHIN_S = 0.6


class Bearers:
    """Finds the holders of tokens, asking the store once for each until the access epoch moves.

    Attributes:
        met: called with the team of whoever was looked up in the store.

    Example::
        bearer = await Bearers(book.access).holder("sbk_...")
    """

    met: Callable[[UUID], None]

    def __init__(self, access: AccessStore) -> None:
        self.met = lambda _: None
        self._access = access
        self._known: dict[bytes, Bearer] = {}
        self._epoch: int | None = None
        self._last: int | None = None

    async def holder(self, token: str) -> Bearer:
        """Find who holds a token.

        Raises:
            Refusal: `token_refused`, it is mistyped, unknown, expired or revoked.
        """
        return self.known(token) or await self._looked_up(token)

    def known(self, token: str) -> Bearer | None:
        """Give the holder if it was found before and access did not change since."""
        bearer = self._known.get(sha256(token.encode()).digest())
        return bearer if bearer is not None and _lives(bearer) else None

    async def watch(self, moved: Callable[[], None] = lambda: None) -> None:
        """Forget all holders whenever access changed, or when that cannot be known; until canceled.

        Args:
            moved: called when access changed, so that what was read under the former is forgotten too.
        """
        try:
            while True:
                epoch = await self._read_epoch()
                if epoch is None or epoch != self._epoch:
                    # A new dict, not a cleared one: a lookup that began before goes into the old one and is forgotten.
                    self._known, self._epoch = {}, epoch
                if epoch is not None and epoch != self._last:
                    self._last = epoch
                    moved()
                await asyncio.sleep(POLL_EVERY_S)
        finally:
            # Whatever ended the watch, from here on every token is looked up.
            self._known, self._epoch = {}, None

    async def _read_epoch(self) -> int | None:
        try:
            async with asyncio.timeout(POLL_WITHIN_S):
                return await self._access.epoch()
        except (StoreUnavailable, TimeoutError):
            return None

    async def _looked_up(self, token: str) -> Bearer:
        try:
            hashed = secret_hash(token)
        except BadToken:
            raise Refusal("token_refused", "that is no token: it was cut short or mistyped") from None
        known, watched = self._known, self._epoch is not None
        bearer = await self._access.bearer(hashed)
        if bearer is None or not _lives(bearer):
            raise Refusal("token_refused", "this token is unknown, expired or ended")
        self.met(bearer.team)
        if watched:
            known[hashed] = bearer
        return bearer


def _lives(bearer: Bearer) -> bool:
    return bearer.expires is None or bearer.expires > dt.datetime.now(dt.UTC)
