"""The book through the blocking client: cars, sheets, revisions, merges."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from studbook.blocking.transport import Transport
from studbook.core import flows, operations
from studbook.core.pulled import Pulled
from studbook.core.references import sheet_name
from studbook.history.canonical import Tree
from studbook.wire.entries import Car, Changes, Pushed, Revision, Sheet, SheetHead
from studbook.wire.exchange import Exchanged, Peer
from studbook.wire.setup import Setup


class Book(Transport):
    """What is kept: cars, sheets and their revisions."""

    def ready(self) -> bool:
        """Tell that the service and its database answer; else the error says what does not.

        Raises:
            UnavailableError: the service runs, its database does not answer.
        """
        return self._do(operations.ready())

    def cars(self) -> list[Car]:
        """List the team's cars."""
        return self._do(operations.cars()).items

    def car(self, car: str) -> Car:
        """Give a car by its slug."""
        return self._do(operations.car(car))

    def new_car(
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
        return self._do(flows.new_car(car, name=name, number=number, note=note, at=at))

    def change_car(
        self,
        car: str,
        *,
        name: str | None = None,
        number: str | None = None,
        retired: bool | None = None,
        note: str = "",
    ) -> Car:
        """Change what is given about a car; the rest stays."""
        return self._do(flows.change_car(car, name=name, number=number, retired=retired, note=note))

    def sheets(self, car: str) -> list[SheetHead]:
        """List a car's sheets."""
        return self._do(operations.sheets(car)).items

    def sheet(self, sheet: str) -> Sheet:
        """Give a sheet (`CAR/SHEET`) as it stands: its tips, and its document unless it is split."""
        return self._do(operations.sheet(sheet_name(sheet)))

    def resolve(self, ref: str) -> Revision:
        """Find the revision that a reference names."""
        return self._do(flows.resolve(ref))

    def pull(self, ref: str) -> Pulled:
        """Bring a revision with its document.

        Raises:
            SplitError: the sheet has several tips; pull one by its id.
        """
        return self._do(flows.pull(ref))

    def push(
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
        return self._do(flows.push(pulled, document, note=note, at=at, allow_unknown=allow_unknown))

    def edit(
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
        return self._do(flows.edit(sheet, wanted, note=note, at=at, allow_unknown=allow_unknown))

    def new_sheet(
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
        return self._do(
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

    def replace(
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
        return self._do(
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

    def carry(
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
        return self._do(flows.carry(source, sheet, fields=fields, note=note, at=at, new=new))

    def accept(self, seen: Sheet) -> Pushed:
        """Record the merge of a split sheet in which nothing is in conflict.

        Whoever accepts the same merge makes the same revision, on whatever node: it is nobody's in particular.

        Args:
            seen: the split sheet, from `sheet`.

        Raises:
            ConflictsError: some fields need a choice; `settle` it.
            StaleError: the sheet is not as it was seen any more.
        """
        return self._do(flows.accept(seen))

    def settle(
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
        return self._do(flows.settle(seen, choices, remove=remove, note=note, at=at, allow_unknown=allow_unknown))

    def history(self, sheet: str, *, page: int = 50) -> Iterator[Revision]:
        """Walk a sheet's revisions, newest first; pages are fetched as the walk goes on.

        Args:
            sheet: `CAR/SHEET`.
            page: revisions asked for at a time, 1 to 200.
        """
        name = sheet_name(sheet)
        cursor: str | None = None
        while True:
            found = self._do(operations.history(name, limit=page, cursor=cursor))
            yield from found.items
            if not found.next:
                return
            cursor = found.next

    def diff(self, since: str, ref: str) -> Changes:
        """List the leaves that differ from one revision to another, of any sheets."""
        return self._do(flows.diff(since, ref))

    def peers(self) -> list[Peer]:
        """List the other nodes that hold the same book: when each was last reached and what waits for it."""
        return self._do(operations.peers()).items

    def sync(
        self, peer: str | None = None, *, progress: Callable[[Exchanged], object] | None = None
    ) -> list[Exchanged]:
        """Have the service exchange with the other nodes that hold the book, and wait until it has.

        Args:
            peer: one of `peers`; all of them if not given.
            progress: called about once a second with how far it is.

        Returns:
            What it came to with each: entries and bytes either way, lines that are split now, what was refused.

        Raises:
            NoPeersError: the service was not started to exchange.
            PeerFailedError: a peer does not answer, or refuses.
        """
        done: list[Exchanged] = []
        for name in [peer] if peer is not None else [each.name for each in self.peers()]:
            within_s = flows.SYNC_WAIT_S if progress is None else flows.PROGRESS_EVERY_S
            state = self._do(operations.sync(name, within_s=within_s))
            while state.running:
                if progress is not None:
                    progress(state)
                state = self._do(operations.sync(name, number=state.number, within_s=within_s))
            done.append(state)
        return done
