"""The store: the book in PostgreSQL. The only package that knows the driver."""

from studbook_service.store.access import Access, Bearer, Member
from studbook_service.store.auditing import AuditRow, said
from studbook_service.store.book import Book, open_book
from studbook_service.store.entries import Appended, Entry, EntryHead, Exported, Judged, NewEntry, Pushed, TeamHead
from studbook_service.store.erasing import erase_entries, erase_name
from studbook_service.store.errors import (
    AtHome,
    BookMoved,
    KeyReused,
    LastChief,
    MemberExists,
    MissingParent,
    NotHome,
    PeerMoved,
    ProtectedLine,
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
from studbook_service.store.granting import ShareRow, TokenRow
from studbook_service.store.migrating import make_database, migrate
from studbook_service.store.peers import Peer, Peers, Placed
from studbook_service.store.serving import check_serving
from studbook_service.store.tokens import BadToken, mint, opaque_id, secret_hash

__all__ = [
    "Access",
    "Appended",
    "AtHome",
    "AuditRow",
    "BadToken",
    "Bearer",
    "Book",
    "BookMoved",
    "Entry",
    "EntryHead",
    "Exported",
    "Founded",
    "Judged",
    "KeyReused",
    "LastChief",
    "Member",
    "MemberExists",
    "MissingParent",
    "NewEntry",
    "NotHome",
    "Peer",
    "PeerMoved",
    "Peers",
    "Placed",
    "ProtectedLine",
    "Pushed",
    "SchemaAltered",
    "SchemaBehind",
    "SchemaError",
    "SchemaNewer",
    "ShareRow",
    "StaleTips",
    "StoreError",
    "StoreUnavailable",
    "TeamHead",
    "TokenRow",
    "UnfitRole",
    "UnknownMember",
    "UnknownTeam",
    "any_team",
    "check_serving",
    "erase_entries",
    "erase_name",
    "found_team",
    "make_database",
    "migrate",
    "mint",
    "only_team",
    "opaque_id",
    "open_book",
    "said",
    "secret_hash",
]
