"""Requests that were sent and are not answered, kept in the user's state folder until there is a definite answer.

A pit loses its network between a request and its answer. What was sent is then on the disk, with the random key it was
sent with: sent again with that key, it is recorded once at most. Each is a file of its own, which nobody else may read;
none holds a token.
"""

import datetime as dt
import secrets
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import msgspec

from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.files import read_file, write_file
from studbook.core.bearer_token import BearerToken
from studbook.core.call import Call
from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.row import Operation

_ENDING: Final = ".json"
_MEMBERS: Final = "members"
_MOST: Final = 4 << 20


class UnsentRequest(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A request without a definite answer.

    Attributes:
        name: random; its idempotency key where it has one.
        address: of the service.
        member: id of who sent it.
        line: words of the command line.
        at: when it was first sent.
        method, path, query, headers, body: the request, without the token.
        file: the file that it pushed, in full, and `sha256` of that file.
        before: ids of the tokens or shares there were, where it makes one.
    """

    name: str
    address: str
    member: str
    line: list[str]
    at: dt.datetime
    method: str
    path: str
    query: list[tuple[str, str]]
    headers: dict[str, str]
    body: str | None = None
    file: str | None = None
    sha256: str | None = None
    before: list[str] | None = None

    def call(self) -> Call[Any]:
        """Give the request as it was made."""
        row = row_of(self.method, self.path)
        return Call(
            self.method,
            self.path,
            object if row is None else row.answer,
            query=tuple(self.query),
            headers=self.headers,
            body=None if self.body is None else self.body.encode(),
            repeatable="Idempotency-Key" in self.headers,
            writes=True,
        )


def row_of(method: str, path: str) -> Operation[Any] | None:
    """Find the operation that a request is for.

    Example:
        >>> row_of("POST", "/v1/tokens").name
        'make_token'
    """
    asked = path.split("/")
    for row in OPERATIONS:
        steps = row.path.split("/")
        alike = len(steps) == len(asked) and all(
            step == given or step.startswith("{") for step, given in zip(steps, asked, strict=True)
        )
        if alike and row.method == method:
            return row
    return None


@dataclass(frozen=True, slots=True)
class UnsentStore:
    """The folder of requests without a definite answer.

    Attributes:
        folder: made when the first one is kept.
    """

    folder: Path

    def keep(self, request: UnsentRequest) -> None:
        """Keep a request before it is sent."""
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        data = msgspec.json.format(msgspec.json.encode(request), indent=1)
        write_file(self._file(request), data, mode=0o600)

    def remove(self, request: UnsentRequest) -> None:
        """Forget a request that has its answer."""
        self._file(request).unlink(missing_ok=True)

    def all(self) -> list[UnsentRequest]:
        """Read all requests, the oldest first.

        Raises:
            CommandFailedError: one was damaged.
        """
        if not self.folder.is_dir():
            return []
        found = []
        for file in self.folder.glob(f"*{_ENDING}"):
            try:
                found.append(msgspec.json.decode(read_file(file, most=_MOST), type=UnsentRequest))
            except FileNotFoundError:  # answered at this moment, by another command
                continue
            except msgspec.DecodeError:
                raise CommandFailedError(f"{file} is damaged: it was a request without an answer; remove it") from None
        return sorted(found, key=lambda each: (each.at, each.name))

    def member(self, address: str, token: BearerToken) -> str | None:
        """Give the member whose token this is, if that was asked before."""
        return self._members().get(_bearer(address, token))

    def keep_member(self, address: str, token: BearerToken, member: str) -> None:
        """Remember whose token this is, so that a write needs no question before it."""
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        known = self._members() | {_bearer(address, token): member}
        write_file(self.folder / _MEMBERS, msgspec.json.encode(known), mode=0o600)

    def _members(self) -> dict[str, str]:
        file = self.folder / _MEMBERS
        try:
            return msgspec.json.decode(read_file(file), type=dict[str, str]) if file.exists() else {}
        except msgspec.DecodeError:
            return {}

    def _file(self, request: UnsentRequest) -> Path:
        return self.folder / f"{sha256(request.name.encode()).hexdigest()[:32]}{_ENDING}"


def new_name() -> str:
    """Name a request that has no key of its own."""
    return secrets.token_hex(16)


def _bearer(address: str, token: BearerToken) -> str:
    """Name a token at a service by a hash of both."""
    return sha256(f"{address}\n{token.reveal()}".encode()).hexdigest()[:24]
