"""The service's settings: the environment first, flags over it. The only module of the service that reads it."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

RATE = 500
PROXIES = ("127.0.0.1", "::1")


class BadSetting(ValueError):
    """A setting or an argument that cannot be meant; the text says what is wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Where the service keeps its data and where it answers.

    Attributes:
        data: folder of the embedded database and of what is written beside it. STUDBOOK_DATA
        database: address of a PostgreSQL server to use instead of the embedded one, or None. STUDBOOK_DATABASE
        host: address to listen on. STUDBOOK_HOST
        port: TCP port to listen on. STUDBOOK_PORT
        token: whose book a command means, where there are several teams. STUDBOOK_TOKEN
        postgres_bin: folder of PostgreSQL's programs, or None to search. STUDBOOK_POSTGRES_BIN
        rate: requests a second that one token may make, and one address without a good token; four times as many at
            once. 0 sets no limit. STUDBOOK_RATE
        proxies: addresses of the proxies in front whose X-Forwarded-For is believed, `*` for any. STUDBOOK_PROXIES
        background: whether the effects of what is recorded are computed while nobody waits for an answer.
            STUDBOOK_BACKGROUND
        insecure_http: whether a peer on another machine may be reached over plain http. STUDBOOK_INSECURE_HTTP
    """

    data: Path
    database: str | None = None
    host: str = "127.0.0.1"
    port: int = 8710
    token: str | None = None
    postgres_bin: Path | None = None
    rate: int = RATE
    proxies: tuple[str, ...] = PROXIES
    background: bool = True
    insecure_http: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be meant.

        Raises:
            BadSetting: the port is no TCP port.
        """
        if not 0 < self.port < 65536:
            raise BadSetting(f"port {self.port} is no TCP port: 1 to 65535")

    @property
    def url(self) -> str:
        """Where the service answers."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"http://{host}:{self.port}"

    @classmethod
    def from_environment(cls, environ: Mapping[str, str] = os.environ) -> "Settings":
        """Read the settings; an empty variable counts as unset.

        Raises:
            BadSetting: the port is no TCP port, the rate no number, or the background worker neither on nor off.

        Example:
            >>> Settings.from_environment({"STUDBOOK_PORT": "9000", "STUDBOOK_DATA": "/var/lib/studbook"}).port
            9000
        """
        set_ = {name: value for name, value in environ.items() if value}
        binaries = set_.get("STUDBOOK_POSTGRES_BIN")
        return cls(
            data=Path(set_["STUDBOOK_DATA"]) if "STUDBOOK_DATA" in set_ else default_data(set_),
            database=set_.get("STUDBOOK_DATABASE"),
            host=set_.get("STUDBOOK_HOST", "127.0.0.1"),
            port=_port(set_.get("STUDBOOK_PORT", "8710")),
            token=set_.get("STUDBOOK_TOKEN"),
            postgres_bin=Path(binaries) if binaries else None,
            rate=_rate(set_.get("STUDBOOK_RATE", str(RATE))),
            proxies=tuple(set_.get("STUDBOOK_PROXIES", ",".join(PROXIES)).replace(" ", "").split(",")),
            background=_switch("STUDBOOK_BACKGROUND", set_.get("STUDBOOK_BACKGROUND", "on")),
            insecure_http=set_.get("STUDBOOK_INSECURE_HTTP", "").lower() in {"1", "on", "true", "yes"},
        )


def default_data(environ: Mapping[str, str]) -> Path:
    """Name the data folder of the present user, as the XDG Base Directory Specification 0.8 does.

    Example:
        >>> default_data({"XDG_DATA_HOME": "/home/chris/data"}).as_posix()
        '/home/chris/data/studbook'
    """
    home = environ.get("XDG_DATA_HOME", "")
    # The specification has relative paths ignored.
    return (Path(home) if Path(home).is_absolute() else Path.home() / ".local" / "share") / "studbook"


def _port(text: str) -> int:
    if not (text.isascii() and text.isdecimal()):
        raise BadSetting(f"STUDBOOK_PORT is {text!r}, no TCP port: 1 to 65535")
    return int(text)


def _rate(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 7):
        raise BadSetting(f"STUDBOOK_RATE is {text!r}, no number of requests a second: 0 (no limit) to 999999")
    return int(text)


def _switch(name: str, text: str) -> bool:
    if text not in {"on", "off"}:
        raise BadSetting(f"{name} is {text!r}: on or off")
    return text == "on"
