"""The book through the asynchronous client: cars, sheets, revisions, merges."""

import datetime as dt
from collections.abc import AsyncIterator, Callable, Iterable, Mapping, Sequence
from typing import Any

from studbook.asynchronous.transport import Transport
from studbook.core import flows, operations
from studbook.core.pulled import Pulled
from studbook.core.references import sheet_name
from studbook.history.canonical import Tree
from studbook.wire.entries import Car, Changes, Pushed, Revision, Sheet, SheetHead
from studbook.wire.exchange import Exchanged, Peer
from studbook.wire.setup import Setup


class Book(Transport):
    """What is kept: cars, sheets and their revisions."""

    async def ready(self) -> bool:
        """Tell that the service and its database answer; else the error says what does not (`Studbook.ready`)."""
        return await self._do(operations.ready())

    async def cars(self) -> list[Car]:
        """List the team's cars (`Studbook.cars`)."""
        return (await self._do(operations.cars())).items

    async def car(self, car: str) -> Car:
        """Give a car by its slug (`Studbook.car`)."""
        return await self._do(operations.car(car))

    async def new_car(
        self, car: str, *, name: str = "", number: str = "", note: str = "", at: dt.datetime | None = None
    ) -> Car:
        """Enter a car.

        Args:
            car: its slug, chosen once: 1 to 48 of a-z, 0-9, _ and -.
            name: what people call it.
            number: what is painted on it.
            note: why.
            at: when, if not now; with an offset.

        Raises:
            ExistsError: there is a car by that slug.
        """
        return await self._do(flows.new_car(car, name=name, number=number, note=note, at=at))

    async def change_car(
        self,
        car: str,
        *,
        name: str | None = None,
        number: str | None = None,
        retired: bool | None = None,
        note: str = "",
    ) -> Car:
        """Change what is given about a car; the rest stays."""
        return await self._do(flows.change_car(car, name=name, number=number, retired=retired, note=note))

    async def sheets(self, car: str) -> list[SheetHead]:
        """List a car's sheets (`Studbook.sheets`)."""
        return (await self._do(operations.sheets(car))).items

    async def sheet(self, sheet: str) -> Sheet:
        """Give a sheet as it stands (`Studbook.sheet`)."""
        return await self._do(operations.sheet(sheet_name(sheet)))

    async def resolve(self, ref: str) -> Revision:
        """Find the revision that a reference names (`Studbook.resolve`)."""
        return await self._do(flows.resolve(ref))

    async def pull(self, ref: str) -> Pulled:
        """Bring a revision with its document (`Studbook.pull`)."""
        return await self._do(flows.pull(ref))

    async def push(
        self,
        pulled: Pulled,
        document: Tree | Setup,
        *,
        note: str = "",
        at: dt.datetime | None = None,
        allow_unknown: bool = False,
    ) -> Pushed:
        """Record what differs from what was pulled.

        Args:
            pulled: what `pull` gave.
            document: what `pulled.document()` or `pulled.setup()` gave, changed. Fields unknown to this version
                survive in both.
            note: why.
            at: when, if not now; with an offset.
            allow_unknown: accept new fields that the schema does not know.

        Raises:
            StaleError: someone pushed since; pull again.
            BadDocumentError: some values cannot be recorded; `faults` has each.
            UnchangedError: nothing differs.
        """
        return await self._do(flows.push(pulled, document, note=note, at=at, allow_unknown=allow_unknown))

    async def edit(
        self,
        sheet: str,
        edits: Mapping[str, Any],
        *,
        remove: Iterable[str] = (),
        note: str = "",
        at: dt.datetime | None = None,
        allow_unknown: bool = False,
    ) -> Pushed:
        """Record a few changes on a sheet's present tip.

        Args:
            sheet: `CAR/SHEET`.
            edits: new values by dotted path, such as `setup.front.rf.upper_stud.length_in`.
            remove: paths to take away.
            note: why.
            at: when, if not now; with an offset.
            allow_unknown: accept new fields that the schema does not know.
        """
        wanted = operations.edits_of(edits, remove)
        return await self._do(flows.edit(sheet, wanted, note=note, at=at, allow_unknown=allow_unknown))

    async def new_sheet(
        self,
        sheet: str,
        document: Tree | Setup,
        *,
        note: str = "",
        at: dt.datetime | None = None,
        carried_from: str | None = None,
        elsewhere: bool = False,
        allow_unknown: bool = False,
    ) -> Pushed:
        """Record the first revision of a sheet that does not exist yet.

        Args:
            sheet: `CAR/SHEET`; the car must exist.
            document: the whole setup.
            note: why.
            at: when, if not now; with an offset.
            carried_from: full id of the revision this content comes from.
            elsewhere: that revision is in another book.
            allow_unknown: accept fields that the schema does not know.

        Raises:
            StaleError: there is a sheet by that name.
        """
        return await self._do(
            flows.new_sheet(
                sheet,
                document,
                note=note,
                at=at,
                carried_from=carried_from,
                elsewhere=elsewhere,
                allow_unknown=allow_unknown,
            )
        )

    async def replace(
        self,
        sheet: str,
        document: Tree | Setup,
        *,
        note: str = "",
        at: dt.datetime | None = None,
        carried_from: str | None = None,
        elsewhere: bool = False,
        parents: Sequence[str] = (),
        allow_unknown: bool = False,
    ) -> Pushed:
        """Record a whole document on a sheet's present tip, whatever that tip holds.

        Args:
            sheet: `CAR/SHEET`.
            document: the whole setup.
            note: why.
            at: when, if not now; with an offset.
            carried_from: full id of the revision this content comes from.
            elsewhere: that revision is in another book.
            parents: full ids of the tips it follows, on a split sheet: one advances that side, all settle it.
            allow_unknown: accept new fields that the schema does not know.
        """
        return await self._do(
            flows.replace(
                sheet,
                document,
                note=note,
                at=at,
                carried_from=carried_from,
                elsewhere=elsewhere,
                parents=parents,
                allow_unknown=allow_unknown,
            )
        )

    async def carry(
        self,
        source: str | Pulled,
        sheet: str,
        *,
        fields: Sequence[str] = (),
        note: str = "",
        at: dt.datetime | None = None,
        new: bool = False,
    ) -> Pushed:
        """Record a revision's document, or chosen fields of it, again: on its own sheet (a revert), or another one.

        Args:
            source: the revision to take it from; what another book's `pull` gave, to carry from that book.
            sheet: `CAR/SHEET` to record it on.
            fields: dotted paths to carry, single fields or groups with all in them; everything if not given.
            note: why.
            at: when, if not now; with an offset.
            new: the sheet does not exist yet.

        Raises:
            BadReferenceError: the source has no such field.
            UnchangedError: the sheet has these fields as they are.
        """
        return await self._do(flows.carry(source, sheet, fields=fields, note=note, at=at, new=new))

    async def accept(self, seen: Sheet) -> Pushed:
        """Record the merge of a split sheet in which nothing is in conflict.

        Whoever accepts the same merge makes the same revision, on whatever node: it is nobody's in particular.

        Args:
            seen: the split sheet, from `sheet`.

        Raises:
            ConflictsError: some fields need a choice; `settle` it.
            StaleError: the sheet is not as it was seen any more.
        """
        return await self._do(flows.accept(seen))

    async def settle(
        self,
        seen: Sheet,
        choices: Mapping[str, Any],
        *,
        remove: Iterable[str] = (),
        note: str = "",
        at: dt.datetime | None = None,
        allow_unknown: bool = False,
    ) -> Pushed:
        """Record the merge of a split sheet with what was chosen for each field in conflict.

        Args:
            seen: the split sheet, from `sheet`; its `merge.conflicts` say what there is to choose from.
            choices: values by dotted path, for each conflict one, and for other fields as wanted.
            remove: paths to leave out; a conflict may be settled so.
            note: why.
            at: when, if not now; with an offset.
            allow_unknown: accept new fields that neither the schema nor a tip knows.

        Raises:
            ConflictsError: a conflict has no choice.
            StaleError: the sheet is not as it was seen any more.
        """
        return await self._do(flows.settle(seen, choices, remove=remove, note=note, at=at, allow_unknown=allow_unknown))

    async def history(self, sheet: str, *, page: int = 50) -> AsyncIterator[Revision]:
        """Walk a sheet's revisions, newest first; pages are fetched as the walk goes on (`Studbook.history`)."""
        name = sheet_name(sheet)
        cursor: str | None = None
        while True:
            found = await self._do(operations.history(name, limit=page, cursor=cursor))
            for item in found.items:
                yield item
            if not found.next:
                return
            cursor = found.next

    async def diff(self, since: str, ref: str) -> Changes:
        """List the leaves that differ from one revision to another, of any sheets (`Studbook.diff`)."""
        return await self._do(flows.diff(since, ref))

    async def peers(self) -> list[Peer]:
        """List the other nodes that hold the same book (`Studbook.peers`)."""
        return (await self._do(operations.peers())).items

    async def sync(
        self, peer: str | None = None, *, progress: Callable[[Exchanged], object] | None = None
    ) -> list[Exchanged]:
        """Have the service exchange with other nodes, and wait until it has (`Studbook.sync`)."""
        done: list[Exchanged] = []
        for name in [peer] if peer is not None else [each.name for each in await self.peers()]:
            within_s = flows.SYNC_WAIT_S if progress is None else flows.PROGRESS_EVERY_S
            state = await self._do(operations.sync(name, within_s=within_s))
            while state.running:
                if progress is not None:
                    progress(state)
                state = await self._do(operations.sync(name, number=state.number, within_s=within_s))
            done.append(state)
        return done
