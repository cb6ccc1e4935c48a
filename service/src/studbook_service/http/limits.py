"""How often one may ask: a token bucket for each good token, and for each address that shows none.

A request counts against its token only once that is known to be good, else against its address: guesses make no
buckets. The framework's own middleware rewrites a list for each request. The headers RateLimit-Policy and RateLimit are
those of draft-ietf-httpapi-ratelimit-headers-10: `q` requests in `w` seconds, `r` of them left, more in `t` seconds.
"""

from collections.abc import Callable
from ipaddress import IPv6Address
from time import monotonic
from typing import Final, NamedTuple

WINDOW_S: Final = 4
"""A bucket holds what comes in so many seconds."""

BUCKETS_MOST: Final = 20_000
OTHERS: Final = "others"
_ROUNDING: Final = 1e-6

Headers = list[tuple[bytes, bytes]]


class Buckets:
    """Buckets that fill at one rate, by key; few bytes each, and never more than twice `most`.

    Of a bucket only the moment is kept at which it is full again. One that nobody took from for `WINDOW_S` is full, so
    it is forgotten with its generation. Where there are too many, newcomers share one.

    Args:
        rate: how many come in a second, 1 or more.
        most: keys in one generation.
        clock: seconds, growing.

    Example:
        >>> buckets = Buckets(1, clock=lambda: 0.0)
        >>> [buckets.take("ada") for _ in range(5)]
        [3, 2, 1, 0, None]
    """

    def __init__(self, rate: int, *, most: int = BUCKETS_MOST, clock: Callable[[], float] = monotonic) -> None:
        self._rate, self._most, self._clock = rate, most, clock
        self._young: dict[str, float] = {}
        self._old: dict[str, float] = {}
        self._turn_at = clock() + WINDOW_S

    def __len__(self) -> int:
        return len(self._young) + len(self._old)

    def take(self, key: str) -> int | None:
        """Take one out of a bucket.

        Returns:
            How many are left, or None when it was empty.
        """
        now = self._clock()
        if now >= self._turn_at:
            self._old, self._young, self._turn_at = self._young, {}, now + WINDOW_S
        full_at = self._young.get(key)
        if full_at is None:
            if len(self._young) >= self._most:
                key = OTHERS
            full_at = self._young.get(key) or self._old.get(key, now)
        full_at = max(full_at, now)
        left = int((now + WINDOW_S - full_at) * self._rate + _ROUNDING) - 1
        self._young[key] = full_at if left < 0 else full_at + 1 / self._rate
        return None if left < 0 else left


class Admitted(NamedTuple):
    """Whether a request is let in, and the headers that its answer gets."""

    by: str
    let_in: bool
    headers: Headers


class Limits:
    """The limits of one process.

    Args:
        rate: requests a second for one token, and for one address without a good one; four times as many at once. 0
            sets no limit.

    Example:
        >>> Limits(500).admit(token=None, address="192.0.2.7").headers[0]
        (b'ratelimit-policy', b'"address";q=2000;w=4')
    """

    def __init__(self, rate: int) -> None:
        self._buckets = Buckets(rate) if rate else None
        self._policies = {
            by: (b"ratelimit-policy", f'"{by}";q={rate * WINDOW_S};w={WINDOW_S}'.encode())
            for by in ("token", "address")
        }
        self._left = {by: f'"{by}";r=%d;t=1'.encode() for by in self._policies}

    def admit(self, *, token: str | None, address: str) -> Admitted:
        """Count a request.

        Args:
            token: id of the good token it shows, the beginning of its hash; None without one.
            address: where it comes from.
        """
        by = "address" if token is None else "token"
        if self._buckets is None:
            return Admitted(by, let_in=True, headers=[])
        left = self._buckets.take(place(address) if token is None else token)
        headers = [self._policies[by], (b"ratelimit", self._left[by] % (left or 0))]
        return Admitted(by, left is not None, headers)


def place(address: str) -> str:
    """Name where an address is: an IPv6 one by its first 64 bits, which one host has to itself (RFC 6177).

    Example:
        >>> place("192.0.2.7"), place("2001:db8::7")
        ('192.0.2.7', '20010db800000000')
    """
    if ":" not in address:
        return address[:64]
    try:
        whole = IPv6Address(address.partition("%")[0])
    except ValueError:
        return address[:64]
    return str(whole.ipv4_mapped) if whole.ipv4_mapped else whole.packed[:8].hex()
