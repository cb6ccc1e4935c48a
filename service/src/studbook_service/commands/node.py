"""This node's own book, for commands: the running service's database, or the embedded one started for the while."""

from collections.abc import AsyncIterator, Iterator
from contextlib import ExitStack, asynccontextmanager, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from uuid import UUID

from studbook_service.actions.known_peers import PeerTokens
from studbook_service.actions.team_book import TeamBook
from studbook_service.commands.first_token import found_first_team
from studbook_service.commands.output import print_note
from studbook_service.embedded import DATABASE, OWNER, SERVING_ROLE, Cluster, EmbeddedError, find_binaries, held
from studbook_service.settings import BadSetting, Settings
from studbook_service.store import (
    BadToken,
    Bearer,
    BookStore,
    make_database,
    migrate,
    only_team,
    open_book,
    secret_hash,
)
from studbook_service.store.auditing import OWNER as THE_OWNER


@dataclass(frozen=True)
class NodeBook:
    """A team's book here.

    Attributes:
        books: the books of all teams.
        team: whose.
        actor: the member whose token it is, or `owner` of an embedded database.
        role: what the caller's token allows; the owner of an embedded database may do what a chief may.
        book: the team's, as exchanges see it.
        tokens: the tokens that peers gave us.
    """

    books: BookStore
    team: UUID
    actor: str
    role: str
    book: TeamBook
    tokens: PeerTokens


@dataclass(frozen=True)
class OwnerBook:
    """A team's book, with its owner's rights.

    Attributes:
        books: the books of all teams.
        team: whose.
        owner_dsn: address of the role that owns the tables.
    """

    books: BookStore
    team: UUID
    owner_dsn: str


def read_settings(data: Path | None, database: str | None) -> Settings:
    """Read the settings, flags over the environment."""
    settings = Settings.from_environment()
    return replace(settings, data=data or settings.data, database=database or settings.database)


def owner_settings(data: Path | None, database: str | None) -> Settings:
    """Read the settings for what only the owner of the tables may do.

    Raises:
        BadSetting: the environment names a database, and no flag gives its owner's address.
    """
    settings = read_settings(data, database)
    if settings.database is not None and database is None:
        raise BadSetting("this takes the address of the role that owns the tables: --database")
    return settings


@asynccontextmanager
async def open_node(settings: Settings, *, begins: bool = False) -> AsyncIterator[NodeBook]:
    """Open this node's book for the length of a block.

    The team is that of the token in STUDBOOK_TOKEN, or the only one of an embedded database.

    Args:
        settings: where the book is.
        begins: let a new book begin where there is none.

    Raises:
        BadSetting: there is none, or it is unclear which team is meant.
    """
    if not begins:
        _check_book(settings)
    with _running_database(settings) as (serving, owner):
        if owner is not None:
            await _prepare(settings, owner)
        books = await open_book(serving, size=2)
        try:
            team, actor, role = await _caller(settings, books, owner)
            yield NodeBook(books, team, actor, role, TeamBook(books, team), PeerTokens(settings.data))
        finally:
            await books.close()


@asynccontextmanager
async def open_as_owner(settings: Settings, team: UUID | None) -> AsyncIterator[OwnerBook]:
    """Open a book with its owner's rights for the length of a block: what `migrate` may, and the service may not.

    Args:
        settings: the database's address is its owner's.
        team: whose; None takes it from the token in STUDBOOK_TOKEN, or there is only one.

    Raises:
        BadSetting: there is no book, or it is unclear which team is meant.
    """
    _check_book(settings)
    with _running_database(settings) as (given, owner):
        dsn = owner or given
        books = await open_book(dsn, size=2)
        try:
            bearer = await _bearer(settings, books)
            found = team or (bearer.team if bearer else await only_team(dsn))
            if found is None:
                raise BadSetting("whose book? Give --team, or set STUDBOOK_TOKEN to a token of the team")
            yield OwnerBook(books, found, dsn)
        finally:
            await books.close()


def _check_book(settings: Settings) -> None:
    """Refuse a data folder without a book, before anything is made in it."""
    if settings.database is None and not (settings.data / "postgres").exists():
        where = "STUDBOOK_DATA or --data says where another is"
        raise BadSetting(f"there is no book in {settings.data}: {where}; studbook serve begins one")


@contextmanager
def _running_database(settings: Settings) -> Iterator[tuple[str, str | None]]:
    """Give the addresses for the serving and, of an embedded database, the owning role."""
    if settings.database is not None:
        yield settings.database, None
        return
    cluster = Cluster(settings.data, find_binaries(settings.postgres_bin))
    with ExitStack() as stack:
        if _hold(settings, stack):
            cluster.start()
            stack.callback(cluster.stop)
        yield cluster.dsn(SERVING_ROLE, DATABASE), cluster.dsn(OWNER, DATABASE)


def _hold(settings: Settings, stack: ExitStack) -> bool:
    """Hold the data folder; False when a service does, whose database then runs."""
    try:
        stack.enter_context(held(settings.data, address="a command"))
    except EmbeddedError:
        return False
    return True


async def _prepare(settings: Settings, owner: str) -> None:
    """Make an embedded database as a service would; nothing happens where one did."""
    await make_database(owner.replace(f"/{DATABASE}?", "/postgres?"), DATABASE)
    await migrate(owner, serving_role=SERVING_ROLE)
    if await found_first_team(owner, settings.data / "first-token"):
        print_note(f"there was no book in {settings.data}: a new one begins there")


async def _caller(settings: Settings, books: BookStore, owner: str | None) -> tuple[UUID, str, str]:
    """Find the caller's team, who they are, and their role."""
    bearer = await _bearer(settings, books)
    if bearer is not None:
        return bearer.team, bearer.member, bearer.role
    team = None if owner is None else await only_team(owner)
    if team is None:
        raise BadSetting("whose book? Set STUDBOOK_TOKEN to a token of the team")
    return team, THE_OWNER, "chief"


async def _bearer(settings: Settings, books: BookStore) -> Bearer | None:
    """Find the member whose token is set; another team's share has no book here."""
    if settings.token is None:
        return None
    try:
        hashed = secret_hash(settings.token)
    except BadToken:
        raise BadSetting("STUDBOOK_TOKEN is no token: it was cut short or mistyped") from None
    bearer = await books.access.bearer(hashed)
    return bearer if bearer is not None and bearer.scope is None else None
