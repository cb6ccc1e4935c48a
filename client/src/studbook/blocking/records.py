"""What is recorded beside setups, through the blocking client: nights, parts, and everything the shop does."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from studbook.blocking.transport import Transport
from studbook.core import keeping, operations
from studbook.history.canonical import Tree
from studbook.wire.entries import Revision
from studbook.wire.night import Event, Outing
from studbook.wire.part_states import PartStates
from studbook.wire.parts import Part, PartKind, ShopRecord
from studbook.wire.records import Record


class Records(Transport):
    """Records of every kind (`studbook.wire.records.KINDS`) by the same five methods, and shorter ones for four kinds.

    A record's name is what follows its kind in the book: `2026-05-02-north` of an event, `2026-05-02-north/7/heat-1`
    of an outing, `s-041` of a part, `s-041/2026-05-02-fitted-1` of a shop record.
    """

    def records(self, kind: str, *, page: int = 50, **wanted: str) -> Iterator[Record]:
        """Walk the records of a kind by name; pages are fetched as the walk goes on.

        Args:
            kind: such as `event`, `outing`, `part`, `shop_record`, `scale_session`.
            page: records asked for at a time, 1 to 200.
            **wanted: only those with these steps of the name, or these values, such as `car="7"`.
        """
        return self._walk(kind, wanted, page=page)

    def record(self, kind: str, name: str) -> Record:
        """Give a record as it stands: its document, or its tips with their merge; and what about it cannot be."""
        return self._do(operations.record(keeping.kind_of(kind), name))

    def new_record(
        self,
        kind: str,
        name: str,
        document: Tree | Event | Outing | Part | ShopRecord,
        *,
        note: str = "",
        at: dt.datetime | None = None,
        allow_unknown: bool = False,
    ) -> Record:
        """Enter a record.

        Args:
            kind: such as `event`.
            name: chosen once; the same thing recorded elsewhere under the same name meets it as one.
            document: its fields.
            note: why.
            at: when it was recorded, if not now; with an offset.
            allow_unknown: accept fields that the schema does not know.

        Raises:
            ExistsError: there is one by that name.
            BadDocumentError: some values cannot be, or cannot have been; `faults` has each.
        """
        return self._do(keeping.new_record(kind, name, document, note=note, at=at, allow_unknown=allow_unknown))

    def change_record(
        self,
        kind: str,
        name: str,
        edits: Mapping[str, Any],
        *,
        remove: Iterable[str] = (),
        note: str = "",
        at: dt.datetime | None = None,
        tag: str | None = None,
        allow_unknown: bool = False,
    ) -> Record:
        """Correct a record. On a split one this settles it: with a value for each conflict, or none if there is none.

        Args:
            kind: such as `outing`.
            name: the record's.
            edits: new values by dotted path, such as `words.entry`.
            remove: paths to take away.
            note: why.
            at: when, if not now; with an offset.
            tag: of the record as it was seen; as it stands now, if not given.
            allow_unknown: accept fields that the schema does not know.

        Raises:
            ConflictsError: a conflict has no choice.
            StaleError: the record is not as it was seen any more.
        """
        return self._do(
            keeping.change_record(
                kind, name, edits, remove=remove, note=note, at=at, tag=tag, allow_unknown=allow_unknown
            )
        )

    def record_history(self, kind: str, name: str, *, page: int = 50) -> Iterator[Revision]:
        """Walk what was recorded on a record's line, newest first."""
        cursor: str | None = None
        while True:
            found = self._do(operations.record_history(keeping.kind_of(kind), name, limit=page, cursor=cursor))
            yield from found.items
            if not found.next:
                return
            cursor = found.next

    def shelf(
        self,
        *,
        part: str | None = None,
        kind: PartKind | None = None,
        where: str | None = None,
        car: str | None = None,
    ) -> PartStates:
        """Say how parts stand: where each is, laps and nights, preloads, what wants doing; and the studs at hand.

        Args:
            part: this one alone.
            kind: such as `stud`.
            where: `shelf`, `trailer` or `car`.
            car: those on this car.
        """
        return self._do(operations.shelf(keeping.asked(part=part, kind=kind, where=where, car=car)))

    def events(self, *, surface: str | None = None) -> Iterator[Record]:
        """Walk the race nights."""
        return self._walk("event", keeping.narrowed(surface=surface))

    def event(self, event: str) -> Record:
        """Give a race night."""
        return self.record("event", event)

    def new_event(self, event: str, document: Tree | Event, *, note: str = "") -> Record:
        """Enter a race night (`DATE-PLACE`)."""
        return self.new_record("event", event, document, note=note)

    def outings(
        self,
        *,
        event: str | None = None,
        car: str | None = None,
        kind: str | None = None,
        track_state: str | None = None,
    ) -> Iterator[Record]:
        """Walk the outings."""
        wanted = keeping.narrowed(event=event, car=car, kind=kind, track_state=track_state)
        return self._walk("outing", wanted)

    def outing(self, outing: str) -> Record:
        """Give an outing (`EVENT/CAR/RUN`)."""
        return self.record("outing", outing)

    def new_outing(self, outing: str, document: Tree | Outing, *, note: str = "") -> Record:
        """Enter an outing (`EVENT/CAR/RUN`)."""
        return self.new_record("outing", outing, document, note=note)

    def parts(self, *, kind: PartKind | None = None) -> Iterator[Record]:
        """Walk the parts; `shelf` says how they stand."""
        return self._walk("part", keeping.narrowed(kind=kind))

    def part(self, part: str) -> Record:
        """Give a part by its tag."""
        return self.record("part", part)

    def new_part(self, part: str, document: Tree | Part, *, note: str = "") -> Record:
        """Enter a part by its tag."""
        return self.new_record("part", part, document, note=note)

    def shop_records(self, *, part: str | None = None, what: str | None = None) -> Iterator[Record]:
        """Walk what was done with parts."""
        return self._walk("shop_record", keeping.narrowed(part=part, what=what))

    def shop_record(self, record: str) -> Record:
        """Give one thing done with a part (`PART/DATE-WHAT-N`)."""
        return self.record("shop_record", record)

    def new_shop_record(self, part: str, document: Tree | ShopRecord, *, note: str = "") -> Record:
        """Enter what was done with a part, under the next free number of its day; it says `what` and `at`."""
        return self._do(keeping.new_shop_record(part, document, note=note, at=None, allow_unknown=False))

    def _walk(self, kind: str, wanted: Mapping[str, str], *, page: int = 50) -> Iterator[Record]:
        cursor: str | None = None
        while True:
            found = self._do(operations.records(keeping.kind_of(kind), wanted, limit=page, cursor=cursor))
            yield from found.items
            if not found.next:
                return
            cursor = found.next
