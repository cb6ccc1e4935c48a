"""A user's script with both clients, type-checked by `test_types.py` as a user would; it is never run."""

import datetime as dt
from collections.abc import AsyncIterator, Iterator, Mapping
from typing import Any, assert_type

from studbook import AsyncStudbook, Pulled, RefusedError, StaleError, Studbook, StudbookError
from studbook.wire.access import AuditLine, Members, ShareMade, TokenMade
from studbook.wire.answers import Effects, FrontAnswer, Travels
from studbook.wire.around_scales import RaceAnswer, RaceTerms, ReturnedAnswer, SessionWeights
from studbook.wire.entries import Car, Changes, Pushed, Revision, Sheet
from studbook.wire.exchange import Exchanged
from studbook.wire.export import Tables
from studbook.wire.loads import CorneringAnswer, CornerPath
from studbook.wire.problem import FieldFault
from studbook.wire.records import Record
from studbook.wire.searches import CamberWanted, StudSearchAnswer
from studbook.wire.season import SeasonReport
from studbook.wire.setup import Setup
from studbook.wire.shelf import Shelf
from studbook.wire.work import WorkCard, WorkQuery

STUD = "setup.front.rf.upper_stud.length_in"


def saturday(url: str, token: str) -> None:
    with Studbook(url, token, timeout_s=10) as book:
        assert_type(book, Studbook)
        assert_type(book.cars(), list[Car])
        assert_type(book.new_car("7", name="Old blue", at=dt.datetime.now(dt.UTC)), Car)
        pulled = book.pull("7/baseline~2")
        assert_type(pulled, Pulled)
        assert_type(pulled.document(), dict[str, Any])
        setup = pulled.setup()
        assert_type(setup, Setup)
        try:
            assert_type(book.push(pulled, setup, note="longer stud"), Pushed)
        except StaleError as error:
            assert_type(error.tips, list[str])
            book.edit("7/baseline", {STUD: 1.7}, remove=["notes"])
        except RefusedError as error:
            assert_type(error.faults, list[FieldFault])
        assert_type(book.history("7/baseline", page=20), Iterator[Revision])
        for revision in book.history("7/baseline"):
            assert_type(revision.author.name, str)
        assert_type(book.what_if("7/baseline", {STUD: 1.7}, travels=Travels(low_in=-3)), Effects)
        assert_type(book.effects("7/baseline", since="3f9a1c").headline, list[str])
        assert_type(book.front("7/baseline"), FrontAnswer)
        assert_type(book.cornering("7/baseline", CornerPath(radius_ft=300, speed_mph=55)), CorneringAnswer)
        search = CamberWanted(corner="rf", camber_target=[(0.0, -4.0)])
        assert_type(book.search_studs("7/baseline", search), StudSearchAnswer)
        assert_type(book.after_race("7/baseline", RaceTerms(fuel_burned_lb=40)), RaceAnswer)
        assert_type(book.on_the_car("7/baseline"), tuple[Pulled, dict[str, Any]])
        assert_type(book.take_logs("7/baseline"), Pushed | None)
        assert_type(book.records("outing", car="7"), Iterator[Record])
        assert_type(book.new_event("2026-05-02-north", {"date": "2026-05-02"}), Record)
        assert_type(book.work("7/baseline", wanted=WorkQuery(crew=2)), WorkCard)
        assert_type(book.season(car="7", since=dt.date(2026, 5, 1)), SeasonReport)
        assert_type(book.tables(), Tables)
        assert_type(book.sync(progress=progress), list[Exchanged])
        rows = list(book.export("laps", after=None))
        assert_type(rows, list[dict[str, Any]])


def progress(state: Exchanged) -> None:
    assert_type(state.received, int)


async def monday(url: str, token: str) -> None:
    async with AsyncStudbook(url, token) as book:
        assert_type(book, AsyncStudbook)
        pulled = await book.pull("7/baseline")
        assert_type(pulled, Pulled)
        assert_type(await book.push(pulled, pulled.document(), note="as it was"), Pushed)
        assert_type(await book.sheet("7/baseline"), Sheet)
        assert_type(await book.diff("7/baseline~1", "7/baseline"), Changes)
        assert_type(await book.edit("7/baseline", {STUD: 1.7}), Pushed)
        assert_type(await book.what_if("7/baseline", {STUD: 1.7}), Effects)
        assert_type(await book.effects("7/baseline"), Effects)
        assert_type(book.history("7/baseline"), AsyncIterator[Revision])
        async for revision in book.history("7/baseline"):
            assert_type(revision, Revision)
        assert_type([row async for row in book.export("laps")], list[dict[str, Any]])
        assert_type(await book.record("outing", "2026-05-02-north/7/heat-1"), Record)
        assert_type(await book.work("7/baseline"), WorkCard)
        assert_type(await book.season(), SeasonReport)
        assert_type(await book.shelf(car="7"), Shelf)
        assert_type(await book.session_weights("7/2026-05-01-1810"), SessionWeights)
        assert_type(await book.check_findings("7/2026-05-04-0930"), ReturnedAnswer)
        assert_type(await book.members(), Members)
        assert_type(await book.make_token(label="laptop", days=7), TokenMade)
        assert_type(await book.make_share("7", label="Lee", until=dt.datetime.now(dt.UTC)), ShareMade)
        assert_type(book.audit(), AsyncIterator[AuditLine])


class Careful(Studbook):
    """A user's own client, with a method of its own kind."""

    def edit(
        self,
        sheet: str,
        edits: Mapping[str, Any],
        *,
        remove: Any = (),
        note: str = "",
        at: dt.datetime | None = None,
        allow_unknown: bool = False,
    ) -> Pushed:
        try:
            return super().edit(sheet, edits, remove=remove, note=note or "by hand", at=at, allow_unknown=allow_unknown)
        except StudbookError as error:
            raise SystemExit(str(error)) from error
