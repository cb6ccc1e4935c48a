"""The client for ordinary programs: each method waits for its answer.

What is sent and when it is repeated is decided in `studbook.core`; here it is only done.
"""

import datetime as dt
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import TracebackType
from typing import Any, Self, TypeVar

from studbook.core import flows, operations
from studbook.core.call import Reply, Work
from studbook.core.patience import Lost, Patience, Send, Wait, carry_out
from studbook.core.pulled import Pulled
from studbook.core.references import sheet_name
from studbook.history.canonical import Tree
from studbook.wire.answers import Effects, FrontAnswer, Travels
from studbook.wire.entries import Car, Changes, Pushed, Revision, Sheet, SheetHead
from studbook.wire.setup import Setup

T = TypeVar("T")


class Studbook:
    """The book of a team's setups, kept by a service.

    A reference (`ref`) names a revision: `7/baseline` (the sheet's tip), `7/baseline~2` (two first parents back),
    `3f9a1c` (an id or the beginning of one), `3f9a1c~1`. Every method may raise a `StudbookError`: `RefusedError`
    and its subclasses when the service says no, `ConnectionFailedError` and `DeadlineError` when it does not answer.

    Args:
        url: the service's address, such as `http://127.0.0.1:8710`.
        token: the bearer's token.
        timeout_s: total time for one method, repeats included, seconds.

    Example:
        >>> with Studbook("http://127.0.0.1:8710", token) as book:  # doctest: +SKIP
        ...     pulled = book.pull("7/baseline")
        ...     print(*book.what_if("7/baseline", {"setup.front.rf.upper_stud.length_in": 1.7}).headline)
    """

    def __init__(self, url: str, token: str, *, timeout_s: float = 30.0) -> None:
        self._url = url.rstrip("/")
        self._token = token
        self._patience = Patience(timeout_s=timeout_s)
        self._transport: Any = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections; the next call would open new ones."""
        if self._transport is not None:
            self._transport.close()
            self._transport = None

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
        allow_unknown: bool = False,
    ) -> Pushed:
        """Record the first revision of a sheet that does not exist yet.

        Args:
            sheet: `CAR/SHEET`; the car must exist.
            document: the whole setup.
            note: why.
            at: when, if not now; with an offset.
            carried_from: full id of the revision this content comes from.
            allow_unknown: accept fields that the schema does not know.

        Raises:
            StaleError: there is a sheet by that name.
        """
        return self._do(
            flows.new_sheet(sheet, document, note=note, at=at, carried_from=carried_from, allow_unknown=allow_unknown)
        )

    def replace(
        self,
        sheet: str,
        document: Tree | Setup,
        *,
        note: str = "",
        at: dt.datetime | None = None,
        carried_from: str | None = None,
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
                parents=parents,
                allow_unknown=allow_unknown,
            )
        )

    def carry(
        self, ref: str, sheet: str, *, note: str = "", at: dt.datetime | None = None, new: bool = False
    ) -> Pushed:
        """Record a revision's document again: on the same sheet (a revert), another one, or a new one.

        Args:
            ref: the revision to take the document from.
            sheet: `CAR/SHEET` to record it on.
            note: why.
            at: when, if not now; with an offset.
            new: the sheet does not exist yet.
        """
        return self._do(flows.carry(ref, sheet, note=note, at=at, new=new))

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

    def effects(self, ref: str, *, since: str | None = None, travels: Travels | None = None) -> Effects:
        """Tell what a change does: as fitted, and after putting settings right.

        Args:
            ref: the revision with the change.
            since: the one without; its first parent unless given.
            travels: the wheel travels that curves cover.

        Raises:
            FieldsMissingError: the document is too thin; `faults` names what it lacks.
            CannotCloseError: the linkage cannot be assembled.
        """
        return self._do(flows.effects(ref, since=since, travels=travels))

    def what_if(
        self,
        ref: str,
        edits: Mapping[str, Any],
        *,
        remove: Iterable[str] = (),
        travels: Travels | None = None,
        allow_unknown: bool = False,
    ) -> Effects:
        """Tell what edits would do to a revision; nothing is recorded.

        Args:
            ref: the revision to try them on.
            edits: new values by dotted path.
            remove: paths to take away.
            travels: the wheel travels that curves cover.
            allow_unknown: accept fields that the schema does not know.
        """
        return self._do(flows.what_if(ref, edits, remove=remove, travels=travels, allow_unknown=allow_unknown))

    def front(self, ref: str, *, travels: Travels | None = None) -> FrontAnswer:
        """Tell how a revision's front stands and moves."""
        return self._do(flows.front(ref, travels=travels))

    def _do(self, work: Work[T]) -> T:
        steps = carry_out(work, self._patience)
        answer: Reply | Lost | None = None
        while True:
            try:
                step = steps.send(answer)
            except StopIteration as done:
                result: T = done.value
                return result
            answer = self._step(step)

    def _step(self, step: Send | Wait) -> Reply | Lost | None:
        if isinstance(step, Wait):
            time.sleep(step.seconds)
            return None
        return self._send(step)

    def _send(self, send: Send) -> Reply | Lost:
        import httpx2  # noqa: PLC0415 - 90 ms that `import studbook` must not cost

        if self._transport is None:
            # The environment is the command's affair: no proxies or certificates are read from it here.
            self._transport = httpx2.Client(trust_env=False, headers={"Authorization": f"Bearer {self._token}"})
        call, deadline = send.call, time.monotonic() + send.timeout_s
        try:
            with self._transport.stream(
                call.method,
                self._url + call.path,
                params=list(call.query),
                headers=dict(call.headers),
                content=call.body,
                timeout=send.timeout_s,
            ) as answer:
                chunks = []
                for chunk in answer.iter_bytes():
                    chunks.append(chunk)
                    if time.monotonic() > deadline:
                        return Lost("the answer was too slow", timed_out=True)
                return Reply(answer.status_code, dict(answer.headers), b"".join(chunks))
        except httpx2.TimeoutException:
            return Lost("no answer in time", timed_out=True)
        except (httpx2.HTTPError, httpx2.InvalidURL) as error:
            return Lost(f"{self._url} does not answer: {error or type(error).__name__}")
