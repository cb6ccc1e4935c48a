"""How we stand with other nodes, and exchanging with one on request."""

from uuid import UUID

from msgspec import UNSET

from studbook.wire.exchange import Exchanged, Peer, Peers, SyncQuery
from studbook.wire.operations import book as operations
from studbook_service import store
from studbook_service.actions.context import Context
from studbook_service.actions.exchanges import Exchanges
from studbook_service.actions.known_peers import UnknownPeer
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.team_book import read_peer_state
from studbook_service.exchange.driver import PeerFailed
from studbook_service.exchange.initiator import peer_via
from studbook_service.store import Bearer


@carries_out(operations.LIST_PEERS)
async def list_peers(context: Context, bearer: Bearer) -> Peers:
    """Say of each peer when it was last reached and what waits for it."""
    return await shown_peers(context.book, bearer.team, context.exchanges)


@carries_out(operations.SYNC_PEER)
async def sync_peer(context: Context, bearer: Bearer, peer: str, query: SyncQuery) -> Exchanged:
    """Exchange with a peer, and say what it came to, or how far it is after a while.

    Raises:
        Refusal: `no_peers`, this service was not started to exchange; `not_found`, no such peer; `peer_failed`.
    """
    if context.exchanges is None:
        raise Refusal("no_peers", "it was started without --peers")
    try:
        return await context.exchanges.ask(bearer.team, peer, number=query.number or None, within_s=query.within_s)
    except UnknownPeer as error:
        raise Refusal("not_found", str(error)) from None
    except PeerFailed as error:
        raise Refusal("peer_failed", str(error)) from None


async def shown_peers(books: store.BookStore, team: UUID, exchanges: Exchanges | None = None) -> Peers:
    """Say the same of any team's peers."""
    home = await books.access.home(team)
    items = [await _shown(books, team, peer) for peer in await books.peers.list(team)]
    for each in items:
        each.home = each.name == home
        running = exchanges and exchanges.running(team, each.name)
        each.running = running or UNSET
    return Peers(items=items)


async def _shown(books: store.BookStore, team: UUID, peer: store.PeerRow) -> Peer:
    state = read_peer_state(peer)
    return Peer(
        name=peer.name,
        url=peer.url,
        waiting=await books.peers.waiting(team, after=state.sent, via=peer_via(peer.name)),
        reached_at=state.reached_at or UNSET,
        failed_at=state.failed_at or UNSET,
        failure=state.failure or UNSET,
        refused=list(state.refused),
    )
