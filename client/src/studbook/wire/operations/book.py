"""The book as a whole: exchanged with other nodes, exported as tables, reported as a season."""

from typing import Final

from studbook.wire.exchange import MEDIA_TYPE, Exchanged, Peers, SyncQuery
from studbook.wire.export import CSV, NDJSON, ExportQuery, Tables
from studbook.wire.operations.row import EXCHANGING, MEMBERS, PEOPLE, RECORDING, Operation, reading
from studbook.wire.season import SeasonQuery, SeasonReport

EXCHANGE_ENTRIES: Final = Operation(
    name="exchange_entries",
    method="POST",
    path="/v1/exchange",
    about="Exchange entries with another node: frames of what it has, answered by frames of what it lacks",
    roles=EXCHANGING,
    answer=bytes,
    media=(MEDIA_TYPE,),
    reads=MEDIA_TYPE,
    problems=("bad_frames", "other_book"),
)

LIST_TABLES: Final = Operation(
    name="list_tables",
    method="GET",
    path="/v1/export",
    about="List the tables that the book is exported as: their columns with types and units; and where it stands",
    roles=PEOPLE,
    answer=Tables,
)

EXPORT_TABLE: Final = Operation(
    name="export_table",
    method="GET",
    path="/v1/export/{table}",
    about="Export a table, or what it gained since a cursor, streamed in the order in which entries were written",
    roles=PEOPLE,
    answer=bytes,
    media=(NDJSON, CSV),
    query=ExportQuery,
    problems=("not_found",),
    gives=("Studbook-Cursor",),
)

REPORT_SEASON: Final = reading(
    "report_season",
    "/v1/reports/season",
    roles=PEOPLE,
    answer=SeasonReport,
    query=SeasonQuery,
    problems=("not_found", "busy"),
    about="Report a season, of one car or of all: what was run and changed each night and what came of it, as far "
    "as the numbers carry it; best and worst, part life, preloads, money, time",
)

LIST_PEERS: Final = Operation(
    name="list_peers",
    method="GET",
    path="/v1/peers",
    about="List the nodes that this one exchanges with: when each was last reached, what waits, what was refused",
    roles=MEMBERS,
    answer=Peers,
)

SYNC_PEER: Final = Operation(
    name="sync_peer",
    method="POST",
    path="/v1/peers/{peer}/sync",
    about="Exchange with another node: what it came to, or after a while how far it is; ask again with its number",
    roles=RECORDING,
    answer=Exchanged,
    query=SyncQuery,
    problems=("not_found", "no_peers", "peer_failed"),
)
