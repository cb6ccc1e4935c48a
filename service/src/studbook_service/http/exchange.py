"""Exchanging books with other nodes."""

from litestar import get, post
from litestar.params import FromPath
from msgspec import UNSET

from studbook.wire.entries import Request as Nothing
from studbook.wire.exchange import MEDIA_TYPE
from studbook.wire.exchange import SyncQuery as SyncAsked
from studbook_service.actions import exchange, peers
from studbook_service.http.asked import Asked
from studbook_service.http.replies import Reply, plain


@post("/v1/exchange")
async def exchange_entries(request: Asked) -> Reply:
    """Take and give entries."""
    desk, bearer = await request.enter()
    asked = await request.data(MEDIA_TYPE, most=exchange.BODY_MOST_BYTES)
    body = await exchange.exchange(desk, bearer, asked)
    return Reply(body, media_type=MEDIA_TYPE, headers={"cache-control": "no-store"})


@get("/v1/peers")
async def list_peers(request: Asked) -> Reply:
    """List peers."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return plain(await peers.list_peers(desk, bearer))


@post("/v1/peers/{peer:str}/sync", status_code=200)
async def sync_peer(request: Asked, peer: FromPath[str]) -> Reply:
    """Exchange with a peer."""
    desk, bearer = await request.enter()
    asked = request.ask(SyncAsked)
    number = None if asked.number is UNSET else asked.number
    return plain(await peers.sync_peer(desk, bearer, peer, number=number, within_s=asked.within_s))


HANDLERS = [exchange_entries, list_peers, sync_peer]
