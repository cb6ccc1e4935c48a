"""Other nodes of the same book, and the exchange with them."""

from collections.abc import Callable

from studbook.core.call import Flow
from studbook.core.request import call
from studbook.wire.exchange import Exchanged, Peer
from studbook.wire.operations.book import LIST_PEERS, SYNC_PEER

SYNC_WAIT_S, PROGRESS_EVERY_S = 10.0, 1.0
"""How long the service waits for the end of an exchange before it says how far it is, s."""


def peers() -> Flow[list[Peer]]:
    """List the other nodes that hold the same book: when each was last reached and what waits for it."""
    return (yield from call(LIST_PEERS)).items


def sync(peer: str | None = None, *, progress: Callable[[Exchanged], object] | None = None) -> Flow[list[Exchanged]]:
    """Have the service exchange with the other nodes that hold the book, and wait until it has.

    Args:
        peer: one of `peers`; all of them if not given.
        progress: called about once a second with how far it is.

    Returns:
        What it came to with each: entries and bytes either way, lines that are split now, what was refused.

    Raises:
        NoPeersError: the service was not started to exchange.
        PeerFailedError: a peer does not answer, or refuses.
    """
    within_s = SYNC_WAIT_S if progress is None else PROGRESS_EVERY_S
    done: list[Exchanged] = []
    for name in [peer] if peer is not None else [each.name for each in (yield from peers())]:
        state = yield from call(SYNC_PEER, name, query={"within_s": within_s}, renews=True)
        while state.running:
            if progress is not None:
                progress(state)
            query = {"within_s": within_s, "number": state.number}
            state = yield from call(SYNC_PEER, name, query=query, renews=True)
        done.append(state)
    return done
