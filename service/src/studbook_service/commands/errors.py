"""How a command ends: quietly when it is stopped, else with one line on standard error and an exit status."""

import asyncio
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from studbook_service.actions.known_peers import UnknownPeer
from studbook_service.commands.output import print_note
from studbook_service.commands.server import ServerError
from studbook_service.embedded import EmbeddedError
from studbook_service.exchange.book import OtherBook
from studbook_service.exchange.driver import PeerFailed
from studbook_service.exchange.frames import BadFrames, CutShort
from studbook_service.settings import BadSetting
from studbook_service.store import StoreError, StoreUnavailable

UNUSABLE, OUT_OF_REACH = 2, 4

_MENDABLE = (
    *(EmbeddedError, StoreError, BadSetting, ServerError),
    *(PeerFailed, UnknownPeer, OtherBook, BadFrames, CutShort),
)
"""Errors that the user can mend; others keep their traceback."""


@contextmanager
def exit_on_error() -> Iterator[None]:
    """End the program in order on Ctrl-C, SIGTERM and errors that its user can mend."""
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    except KeyboardInterrupt:
        sys.exit(0)
    except _MENDABLE as error:
        print_note(str(error))
        sys.exit(OUT_OF_REACH if isinstance(error, StoreUnavailable) else UNUSABLE)


@contextmanager
def stop_on_signals(stop: Callable[[], None]) -> Iterator[None]:
    """Let Ctrl-C and SIGTERM stop a running event loop in order, for the length of a block.

    Args:
        stop: called in the loop.
    """
    loop = asyncio.get_running_loop()
    before = {
        number: signal.signal(number, lambda *_: loop.call_soon_threadsafe(stop))
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
