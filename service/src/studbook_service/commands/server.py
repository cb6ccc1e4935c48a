"""The HTTP server, in this very process.

granian is embedded rather than started as processes: kill -9 leaves no worker behind, and it was measured as fast as
the multiprocess server. It shares a taken port silently, hence `check_port_free`.
"""

import asyncio
import socket
from collections.abc import Callable, Sequence
from typing import Any, Final

from granian.constants import HTTPModes, Interfaces
from granian.errors import FatalError
from granian.http import HTTP1Settings
from granian.log import LogLevels
from granian.server.embed import Server
from granian.utils.proxies import wrap_asgi_with_proxy_headers

HEAD_MOST_BYTES: Final = 64 * 1024
"""Request line and headers; from about twice as much on the server itself answers 431, as it does above 100 headers."""

HEAD_WITHIN_S: Final = 15
CONNECTIONS_MOST: Final = 1024
_LOOK_EVERY_S = 0.02
_FINISH_WITHIN_S = 10


class ServerError(Exception):
    """The service cannot answer at its address."""


def check_port_free(host: str, port: int) -> None:
    """Refuse an address somebody listens on; the server itself would share it silently.

    Raises:
        ServerError: the address is taken, or none of this machine's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise ServerError(f"cannot listen on {host} port {port}: {error.strerror}") from error


class HttpServer:
    """An ASGI application at an address.

    Args:
        app: the application; its lifespan is run.
        host: address to listen on.
        port: TCP port.
        proxies: addresses whose X-Forwarded-For is believed.

    Example::

        await HttpServer(app, host="127.0.0.1", port=8710).run(ready=lambda: print("ready"))
    """

    def __init__(self, app: Any, *, host: str, port: int, proxies: Sequence[str] = ()) -> None:
        self._address = (host, port)
        self._server = Server(
            wrap_asgi_with_proxy_headers(app, list(proxies)),
            host,
            port,
            interface=Interfaces.ASGI,
            http=HTTPModes.http1,  # what proxies and clients speak without TLS
            http1_settings=HTTP1Settings(header_read_timeout=HEAD_WITHIN_S * 1000, max_buffer_size=HEAD_MOST_BYTES),
            backlog=CONNECTIONS_MOST,
            backpressure=CONNECTIONS_MOST,
            websockets=False,
            log_level=LogLevels.error,
        )
        self._server.workers_kill_timeout = _FINISH_WITHIN_S

    def stop(self) -> None:
        """Stop, once responses under way are finished."""
        self._server.stop()  # type: ignore[no-untyped-call]  # granian's own

    async def run(self, *, ready: Callable[[], None]) -> None:
        """Serve until stopped.

        Args:
            ready: called once, when the port accepts connections.

        Raises:
            ServerError: the application did not start, or ended by itself.
        """
        announcing = asyncio.create_task(self._announce(ready))
        try:
            await self._server.serve()
        except FatalError as error:
            raise ServerError("the service did not start") from error
        except TimeoutError:
            return  # a response took longer than the server waits for at its end, and was cut off
        finally:
            announcing.cancel()
        if not self._server.interrupt_signal:
            raise ServerError("the service ended by itself")

    async def _announce(self, ready: Callable[[], None]) -> None:
        while True:
            try:
                _, writer = await asyncio.open_connection(*self._address)
            except OSError:
                await asyncio.sleep(_LOOK_EVERY_S)
            else:
                writer.close()
                ready()
                return
