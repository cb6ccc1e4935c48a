"""Where a service answers: what is an address, and where a token may be sent unencrypted."""

import re
from typing import Final
from urllib.parse import urlsplit

from studbook.core.errors import AddressError

_HOST: Final = re.compile(r"[A-Za-z0-9_.:-]+(%[A-Za-z0-9_.-]+)?")
_LOOPBACK: Final = re.compile(r"localhost|127\.\d{1,3}\.\d{1,3}\.\d{1,3}|::1")


def checked_address(url: str, *, insecure_http: bool = False) -> str:
    """Check the address of a service.

    Args:
        url: the address.
        insecure_http: whether plain http is allowed to another machine, where all on the way read the token.

    Returns:
        It, without a slash at its end.

    Raises:
        AddressError: it is none, or the token would travel unencrypted.

    Example:
        >>> checked_address("https://book.example/")
        'https://book.example'
    """
    try:
        parts = urlsplit(url.strip())
        host, port = parts.hostname or "", parts.port
    except ValueError:
        raise AddressError(f"{_shown(url)} is no address: write https://HOST or http://HOST:PORT") from None
    if parts.scheme not in {"http", "https"}:
        raise AddressError(f"{_shown(url)} is no address: write https://HOST, or http://HOST:PORT on this machine")
    if not _HOST.fullmatch(host) or port == 0:
        raise AddressError(f"{_shown(url)} is no address, it names no host: write https://HOST or http://HOST:PORT")
    if parts.username is not None or parts.query or parts.fragment:
        raise AddressError(
            "that is no address, it holds a user, a password, ? or #: write https://HOST or http://HOST:PORT"
        )
    if parts.scheme == "http" and not insecure_http and not is_loopback(host):
        raise AddressError(
            f"http://{host} is not encrypted: all on the way could read the token and the book; write https://, or "
            "allow it for this network with --insecure-http (STUDBOOK_INSECURE_HTTP=1, insecure_http=True)"
        )
    return url.strip().rstrip("/")


def is_loopback(host: str) -> bool:
    """Whether a host is this machine.

    Example:
        >>> is_loopback("127.0.0.1"), is_loopback("127.0.0.1.example")
        (True, False)
    """
    return _LOOPBACK.fullmatch(host.lower()) is not None


def _shown(url: str) -> str:
    """Show an address that may be anything: what stands before an @ may be a password."""
    return repr(url.strip().rpartition("@")[2][:80])
