"""Every operation of the API with its types: the table that the description is made from.

A handler and its row bear the same name; a test holds the two sets against each other.
"""

from typing import Final

import msgspec

from studbook.wire.answers import Effects, FrontAnswer, Travels, WhatIf
from studbook.wire.attitude import Attitude, AttitudeAnswer
from studbook.wire.damping import DampingAnswer, DampingQuery
from studbook.wire.entries import (
    Car,
    CarChange,
    Cars,
    Changes,
    History,
    NewCar,
    NewRevision,
    Pushed,
    Revision,
    Sheet,
    Sheets,
)
from studbook.wire.exchange import MEDIA_TYPE as FRAMES
from studbook.wire.exchange import Exchanged, Peers
from studbook.wire.export import CSV, NDJSON, ExportQuery, Tables
from studbook.wire.joints import JointsAnswer, WheelForces
from studbook.wire.loads import Cornering, CorneringAnswer, LoadsAnswer, PerchesAnswer, PerchSearch
from studbook.wire.rear import BumpRolls, RearAnswer
from studbook.wire.searches import CarryOver, CarryOverAnswer, StudSearch, StudSearchAnswer
from studbook.wire.season import SeasonQuery, SeasonReport
from studbook.wire.setup import Setup
from studbook_service.http.access_operations import ACCESS_OPERATIONS
from studbook_service.http.around_scales_operations import AROUND_SCALES_OPERATIONS
from studbook_service.http.operation import OF_BODY, OF_DOCUMENT, OF_ENGINE, OF_REFERENCE, Operation
from studbook_service.http.queries import Page, Since, SinceTravels, SyncAsked
from studbook_service.http.record_operations import RECORD_OPERATIONS
from studbook_service.http.working_operations import WORKING_OPERATIONS


class State(msgspec.Struct):
    """What the service says of itself."""

    status: str


_STUD_EDIT = {"path": "setup.front.rf.upper_stud.length_in", "value": 1.7}

OPERATIONS: Final = (
    Operation(method="get", path="/v1/cars", name="list_cars", about="List the team's cars", answer=Cars),
    Operation(
        method="post",
        path="/v1/cars",
        name="add_car",
        about="Enter a car in the book",
        answer=Car,
        body=NewCar,
        example={"car": "7", "name": "Old blue", "number": "7"},
        statuses=(200, 201),
        problems=("bad_reference", "exists", "key_reused", *OF_BODY),
        sends=("Idempotency-Key",),
        gives=("ETag", "Location"),
    ),
    Operation(
        method="get",
        path="/v1/cars/{car}",
        name="read_car",
        about="Read one car",
        answer=Car,
        problems=("bad_reference", "not_found"),
    ),
    Operation(
        method="patch",
        path="/v1/cars/{car}",
        name="change_car",
        about="Change a car's name or number, or retire it",
        answer=Car,
        body=CarChange,
        example={"retired": True, "note": "sold the motor"},
        problems=(
            *("bad_reference", "not_found", "precondition_missing", "stale", "split", "conflicts", "key_reused"),
            *("erased", "too_costly", "busy", *OF_BODY),
        ),
        sends=("If-Match", "Idempotency-Key"),
    ),
    Operation(
        method="get",
        path="/v1/cars/{car}/sheets",
        name="list_sheets",
        about="List a car's sheets, without their documents",
        answer=Sheets,
        problems=("bad_reference", "not_found"),
    ),
    Operation(
        method="get",
        path="/v1/cars/{car}/sheets/{sheet}",
        name="read_sheet",
        about="Read a sheet: its tips, and its document while they hold one, else their merge with its conflicts; "
        "neither where it was erased",
        answer=Sheet,
        problems=("bad_reference", "not_found", "busy"),
    ),
    Operation(
        method="post",
        path="/v1/cars/{car}/sheets/{sheet}/revisions",
        name="push_revision",
        about="Push a revision: edits on the tip, or a whole document. If-Match names the tag that was seen; "
        "If-None-Match: * makes a new sheet",
        answer=Pushed,
        body=NewRevision,
        example={"note": "longer upper stud", "edits": [_STUD_EDIT]},
        statuses=(200, 201),
        problems=(
            *("bad_reference", "not_found", "precondition_missing", "stale", "split", "bad_document", "key_reused"),
            *("protected", "erased", *OF_BODY),
        ),
        sends=("If-Match", "If-None-Match", "Idempotency-Key"),
        gives=("ETag", "Location"),
    ),
    Operation(
        method="post",
        path="/v1/cars/{car}/sheets/{sheet}/merge",
        name="accept_merge",
        about="Record the merge of a split sheet as it is read, when nothing in it is in conflict; whoever accepts the "
        "same merge makes the same revision. If-Match names the tag that was seen. Conflicts are settled by pushing a "
        "document with all tips as parents",
        answer=Pushed,
        statuses=(200, 201),
        problems=(
            *("bad_reference", "not_found", "precondition_missing", "stale", "conflicts", "key_reused"),
            *("protected", "erased", "too_costly", "busy"),
        ),
        sends=("If-Match", "Idempotency-Key"),
        gives=("ETag", "Location"),
    ),
    Operation(
        method="get",
        path="/v1/cars/{car}/sheets/{sheet}/history",
        name="read_history",
        about="Read a page of a sheet's revisions, newest first",
        answer=History,
        query=Page,
        problems=("bad_reference", "not_found"),
        gives=("ETag", "Link"),
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}",
        name="read_revision",
        about="Read a revision by its id, or the first 6 or more digits of it",
        answer=Revision,
        problems=OF_REFERENCE,
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/document",
        name="read_document",
        about="Read a revision's document as canonical JSON; under its full id it never changes",
        answer=Setup,
        problems=OF_DOCUMENT,
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/changes",
        name="read_changes",
        about="List the leaves that differ from one revision to another, of any sheets and cars",
        answer=Changes,
        query=Since,
        problems=OF_DOCUMENT,
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/front",
        name="read_front",
        about="Answer how the front end stands, moves and steers",
        answer=FrontAnswer,
        query=Travels,
        problems=(*OF_DOCUMENT, *OF_ENGINE),
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/rear",
        name="read_rear",
        about="Answer how the rear axle is held by its rods, stands, and moves over bump and axle roll",
        answer=RearAnswer,
        query=BumpRolls,
        problems=(*OF_DOCUMENT, *OF_ENGINE, "too_costly"),
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/joints",
        name="read_joints",
        about="Answer what the front joints cost in friction, how far they swing, and what they and their studs carry "
        "under stated forces",
        answer=JointsAnswer,
        query=WheelForces,
        problems=(*OF_DOCUMENT, *OF_ENGINE),
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/damping",
        name="read_damping",
        about="Answer what the shocks, springs, bars, tires and gears come to",
        answer=DampingAnswer,
        query=DampingQuery,
        problems=(*OF_DOCUMENT, *OF_ENGINE),
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/loads",
        name="read_loads",
        about="Answer what the car weighs at each wheel, how stiff its axles are, where its weight is, and what one "
        "step of each perch, gas and tire does",
        answer=LoadsAnswer,
        problems=(*OF_DOCUMENT, *OF_ENGINE),
    ),
    Operation(
        method="get",
        path="/v1/revisions/{ref}/effects",
        name="read_effects",
        about="Answer what the change from one revision to another does: as fitted, and after putting it right",
        answer=Effects,
        query=SinceTravels,
        problems=(*OF_DOCUMENT, *OF_ENGINE),
    ),
    Operation(
        method="post",
        path="/v1/what-if",
        name="try_edits",
        about="Answer what edits would do to a revision; nothing is stored",
        answer=Effects,
        body=WhatIf,
        example={"revision": "0f3a9c", "edits": [_STUD_EDIT]},
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY),
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/cornering",
        name="try_cornering",
        about="Answer how a revision's car stands in a left-hand corner: loads, transfers, roll, travels, camber to "
        "the track; give speed_mph, or time_s, distance_ft and corner_speed_ratio. Nothing is stored",
        answer=CorneringAnswer,
        body=Cornering,
        example={"revision": "0f3a9c", "speed_mph": 55, "radius_ft": 300, "banking_deg": 6, "drive_force_lb": 400},
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY),
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/attitude",
        name="try_attitude",
        about="Answer how a revision's car stands on its four wheels at a heave, roll, pitch and steering, its tires "
        "squashed as their loads there say, beside its ride height; with edits, what they do there. Nothing is stored",
        answer=AttitudeAnswer,
        body=Attitude,
        example={"revision": "0f3a9c", "heave_in": -1.5, "roll_deg": 2.5, "pitch_deg": 0.5},
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY),
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/exchange",
        name="exchange_entries",
        about="Exchange entries with another node: frames of what it has, answered by frames of what it lacks",
        answer=FRAMES,
        reads=FRAMES,
        problems=("bad_frames", "other_book", *OF_BODY),
        sends=(),
        gives=(),
    ),
    Operation(
        method="get",
        path="/v1/export",
        name="list_tables",
        about="List the tables that the book is exported as: their columns with types and units; and where it stands",
        answer=Tables,
        sends=(),
        gives=(),
    ),
    Operation(
        method="get",
        path="/v1/export/{table}",
        name="export_table",
        about="Export a table, or what it gained since a cursor, streamed in the order in which entries were written",
        answer=(NDJSON, CSV),
        query=ExportQuery,
        problems=("not_found",),
        sends=(),
        gives=("Studbook-Cursor",),
    ),
    Operation(
        method="get",
        path="/v1/reports/season",
        name="report_season",
        about="Report a season, of one car or of all: what was run and changed each night and what came of it, as far "
        "as the numbers carry it; best and worst, part life, preloads, money, time",
        answer=SeasonReport,
        query=SeasonQuery,
        problems=("not_found", "busy"),
    ),
    Operation(
        method="get",
        path="/v1/peers",
        name="list_peers",
        about="List the nodes that this one exchanges with: when each was last reached, what waits, what was refused",
        answer=Peers,
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/peers/{peer}/sync",
        name="sync_peer",
        about="Exchange with another node: what it came to, or after a while how far it is; ask again with its number",
        answer=Exchanged,
        query=SyncAsked,
        problems=("not_found", "no_peers", "peer_failed"),
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/searches/studs",
        name="search_studs",
        about="Search for the studs, shims, spacers and rod at one front corner that come closest to a camber curve: "
        "every combination of what is at hand is tried",
        answer=StudSearchAnswer,
        body=StudSearch,
        example={
            "revision": "0f3a9c",
            "corner": "rf",
            "camber_target": [[-2, -1.5], [0, -4], [2, -7.2]],
            "studs": [{"joint": "upper", "length_in": 1.7}],
        },
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY, "too_costly"),
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/searches/carry-over",
        name="search_carry_over",
        about="Search for the parts by which one car reads at the front like another: outcomes are matched, not parts",
        answer=CarryOverAnswer,
        body=CarryOver,
        example={"source": "0f3a9c", "revision": "7be210", "studs": [{"joint": "upper", "length_in": 1.7}]},
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY, "too_costly"),
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/searches/perches",
        name="search_perches",
        about="Answer which turns of which perches bring a revision's car to a cross weight, the ride heights held or "
        "disturbed least. Nothing is stored",
        answer=PerchesAnswer,
        body=PerchSearch,
        example={"revision": "0f3a9c", "cross_percent": 51, "perches": ["lr", "rr"], "step_turns": 0.5},
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY),
        sends=(),
        gives=(),
    ),
    *AROUND_SCALES_OPERATIONS,
    *WORKING_OPERATIONS,
    *RECORD_OPERATIONS,
    *ACCESS_OPERATIONS,
    Operation(
        method="get",
        path="/livez",
        name="live",
        about="Say that the process answers",
        answer=State,
        sends=(),
        gives=(),
        public=True,
    ),
    Operation(
        method="get",
        path="/readyz",
        name="ready",
        about="Say that the database answers and its schema is current",
        answer=State,
        sends=(),
        gives=(),
        public=True,
    ),
    Operation(
        method="get",
        path="/metrics",
        name="measure",
        about="Say what this process counted, as Prometheus reads it; not found through a proxy",
        answer="text/plain",
        problems=("not_found",),
        sends=(),
        gives=(),
        public=True,
    ),
    Operation(
        method="get",
        path="/openapi.json",
        name="describe",
        about="Describe the API",
        answer="application/json",
        public=True,
    ),
    Operation(
        method="get", path="/docs", name="show_page", about="Show the API as a page", answer="text/html", public=True
    ),
    Operation(
        method="get",
        path="/docs/{file}",
        name="show_file",
        about="Give a part of that page; needs nothing from any other place",
        answer="*/*",
        problems=("not_found",),
        public=True,
    ),
)
"""All of them, in the order of the page."""
