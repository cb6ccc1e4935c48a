"""The store's errors, and the one place where the driver's become ours: by SQLSTATE and constraint name."""

from collections.abc import Iterator
from contextlib import contextmanager

import asyncpg


class StoreError(Exception):
    """Something that the store cannot do."""


class StoreUnavailable(StoreError):
    """PostgreSQL does not answer us: down, starting, full, too slow, or no such place. A write may have been kept."""


class UnknownTeam(StoreError):
    """No such team."""


class StaleTips(StoreError):
    """The line has other tips than the caller saw.

    Attributes:
        tips: ids of the tips it has now, sorted; empty when there is no such line.
    """

    def __init__(self, tips: tuple[bytes, ...]) -> None:
        super().__init__(f"the line has other tips: {', '.join(tip.hex()[:8] for tip in tips) or 'none'}")
        self.tips = tips


class BookMoved(StoreError):
    """Something was written meanwhile that the caller would have judged by too."""


class KeyReused(StoreError):
    """The idempotency key was used before, for another request."""


class ParentNotFound(StoreError):
    """A parent is not where it must be: among the tips for a push, on the same line and of the same kind for an append.

    Attributes:
        id: the parent.
    """

    def __init__(self, id: bytes) -> None:  # noqa: A002 - the book's own word
        super().__init__(f"no parent {id.hex()[:8]} to build on")
        self.id = id


class MemberExists(StoreError):
    """The team has a member of this id."""


class UnknownMember(StoreError):
    """The team has no member of this id."""


class LastChief(StoreError):
    """Nobody would be left who may decide: the team keeps a chief."""


class ProtectedLine(StoreError):
    """Only a chief may record on this line."""


class NotHome(StoreError):
    """Access is decided at the team's home node, and this is not it.

    Attributes:
        home: the peer that is.
    """

    def __init__(self, home: str) -> None:
        super().__init__(f"this is decided at the book's home: do it at {home}")
        self.home = home


class AtHome(StoreError):
    """This node is the team's home: it takes no other's word on access."""


class PeerMoved(StoreError):
    """What is kept about a peer changed meanwhile: another exchange with it is under way, or it was taken off."""


class SchemaError(StoreError):
    """The database's tables are not the ones this program needs."""


class SchemaBehind(SchemaError):
    """The database lacks migrations this program knows, or its functions and rights are not this program's."""


class BookTooOld(SchemaError):
    """The database was made before 0.2, with tables that no later program reads."""


class SchemaNewer(SchemaError):
    """The database has migrations this program does not know."""


class SchemaAltered(SchemaError):
    """A migration was applied in another wording than the one this program holds."""


class UnfitRole(SchemaError):
    """The role may do more, or less, than a serving role must."""


_UNAVAILABLE = {
    "57014",  # canceled: it took longer than a statement may
    "57P01",  # shut down by the administrator
    "57P02",  # shut down after a crash
    "57P03",  # starting or stopping
    "3D000",  # no such database
}
_UNAVAILABLE_CLASSES = {
    "08",  # connection
    "28",  # who are you
    "53",  # out of disk, memory or connections
    "58",  # the disk or the system failed
}
_BY_STATE: dict[str, type[StoreError]] = {
    "42501": UnfitRole,
    "SB001": UnknownTeam,
    "SB004": PeerMoved,
    "SB006": AtHome,
    "SB007": UnknownMember,
    "SB008": LastChief,
}
_BY_CONSTRAINT: dict[str, type[StoreError]] = {
    "member_pkey": MemberExists,
    "token_member": UnknownMember,
    "share_maker": UnknownMember,
    "protection_by": UnknownMember,
}


def translated(error: asyncpg.PostgresError) -> StoreError | None:
    """Name a server error in our words.

    Args:
        error: what the driver raised.

    Returns:
        Our error, or None when it is none a caller can act on.
    """
    state = error.sqlstate or ""
    if state == "SB002":
        return ParentNotFound(bytes.fromhex(error.detail))
    if state == "SB005":
        return NotHome(error.detail)
    if state in _BY_STATE:
        return _BY_STATE[state](str(error))
    if state in _UNAVAILABLE or state[:2] in _UNAVAILABLE_CLASSES:
        return StoreUnavailable(str(error))
    ours = _BY_CONSTRAINT.get(error.constraint_name or "")
    return None if ours is None else ours(ours.__doc__)


@contextmanager
def driver_errors() -> Iterator[None]:
    """Raise our errors in place of the driver's.

    Example:
        >>> with driver_errors():
        ...     raise ConnectionRefusedError("nobody there")
        Traceback (most recent call last):
        studbook_service.store.errors.StoreUnavailable: nobody there
    """
    try:
        yield
    except asyncpg.DataError:
        raise
    except asyncpg.PostgresError as error:
        ours = translated(error)
        if ours is None:
            raise
        raise ours from error
    except (asyncpg.InterfaceError, asyncpg.InternalClientError, OSError, TimeoutError) as error:
        raise StoreUnavailable(str(error) or "PostgreSQL did not answer in time") from error
