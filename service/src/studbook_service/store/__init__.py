"""The store: the book in PostgreSQL. The only package that knows the driver."""

from studbook_service.store.access import Access, Bearer, Member
from studbook_service.store.book import Book, open_book
from studbook_service.store.entries import Appended, Entry, EntryHead, NewEntry, Pushed, TeamHead
from studbook_service.store.errors import (
    KeyReused,
    MemberExists,
    MissingParent,
    PeerMoved,
    SchemaAltered,
    SchemaBehind,
    SchemaError,
    SchemaNewer,
    StaleTips,
    StoreError,
    StoreUnavailable,
    UnfitRole,
    UnknownMember,
    UnknownTeam,
)
from studbook_service.store.founding import Founded, any_team, found_team, only_team
from studbook_service.store.migrating import make_database, migrate
from studbook_service.store.peers import Peer, Peers, Placed
from studbook_service.store.serving import check_serving
from studbook_service.store.tokens import BadToken, mint, secret_hash

__all__ = [
    "Access",
    "Appended",
    "BadToken",
    "Bearer",
    "Book",
    "Entry",
    "EntryHead",
    "Founded",
    "KeyReused",
    "Member",
    "MemberExists",
    "MissingParent",
    "NewEntry",
    "Peer",
    "PeerMoved",
    "Peers",
    "Placed",
    "Pushed",
    "SchemaAltered",
    "SchemaBehind",
    "SchemaError",
    "SchemaNewer",
    "StaleTips",
    "StoreError",
    "StoreUnavailable",
    "TeamHead",
    "UnfitRole",
    "UnknownMember",
    "UnknownTeam",
    "any_team",
    "check_serving",
    "found_team",
    "make_database",
    "migrate",
    "mint",
    "only_team",
    "open_book",
    "secret_hash",
]
