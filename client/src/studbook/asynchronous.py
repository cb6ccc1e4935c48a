"""The client for asynchronous programs: the methods of `Studbook`, awaited.

What is sent and when it is repeated is decided in `studbook.core`; here it is only done.
"""

import asyncio
import datetime as dt
from collections.abc import AsyncIterator, Iterable, Mapping, Sequence
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


class AsyncStudbook:
    """The book of a team's setups, kept by a service; the same methods as `Studbook`, awaited.

    Args:
        url: the service's address, such as `http://127.0.0.1:8710`.
        token: the bearer's token.
        timeout_s: total time for one method, repeats included, seconds.

    Example:
        >>> async with AsyncStudbook("http://127.0.0.1:8710", token) as book:  # doctest: +SKIP
        ...     print((await book.pull("7/baseline")).document())
    """

    def __init__(self, url: str, token: str, *, timeout_s: float = 30.0) -> None:
        self._url = url.rstrip("/")
        self._token = token
        self._patience = Patience(timeout_s=timeout_s)
        self._transport: Any = None

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections; the next call would open new ones."""
        if self._transport is not None:
            await self._transport.aclose()
            self._transport = None

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
        return await self._do(
            flows.new_sheet(sheet, document, note=note, at=at, carried_from=carried_from, allow_unknown=allow_unknown)
        )

    async def replace(
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
        return await self._do(
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

    async def carry(
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
        return await self._do(flows.carry(ref, sheet, note=note, at=at, new=new))

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

    async def effects(self, ref: str, *, since: str | None = None, travels: Travels | None = None) -> Effects:
        """Tell what a change does: as fitted, and after putting settings right (`Studbook.effects`)."""
        return await self._do(flows.effects(ref, since=since, travels=travels))

    async def what_if(
        self,
        ref: str,
        edits: Mapping[str, Any],
        *,
        remove: Iterable[str] = (),
        travels: Travels | None = None,
        allow_unknown: bool = False,
    ) -> Effects:
        """Tell what edits would do to a revision; nothing is recorded (`Studbook.what_if`)."""
        return await self._do(flows.what_if(ref, edits, remove=remove, travels=travels, allow_unknown=allow_unknown))

    async def front(self, ref: str, *, travels: Travels | None = None) -> FrontAnswer:
        """Tell how a revision's front stands and moves (`Studbook.front`)."""
        return await self._do(flows.front(ref, travels=travels))

    async def _do(self, work: Work[T]) -> T:
        steps = carry_out(work, self._patience)
        answer: Reply | Lost | None = None
        while True:
            try:
                step = steps.send(answer)
            except StopIteration as done:
                result: T = done.value
                return result
            answer = await self._step(step)

    async def _step(self, step: Send | Wait) -> Reply | Lost | None:
        if isinstance(step, Wait):
            await asyncio.sleep(step.seconds)
            return None
        return await self._send(step)

    async def _send(self, send: Send) -> Reply | Lost:
        import httpx2  # noqa: PLC0415 - 90 ms that `import studbook` must not cost

        if self._transport is None:
            # The environment is the command's affair: no proxies or certificates are read from it here.
            self._transport = httpx2.AsyncClient(trust_env=False, headers={"Authorization": f"Bearer {self._token}"})
        call = send.call
        try:
            async with asyncio.timeout(send.timeout_s):
                answer = await self._transport.request(
                    call.method,
                    self._url + call.path,
                    params=list(call.query),
                    headers=dict(call.headers),
                    content=call.body,
                    timeout=None,
                )
            return Reply(answer.status_code, dict(answer.headers), answer.content)
        except TimeoutError:
            return Lost("no answer in time", timed_out=True)
        except (httpx2.HTTPError, httpx2.InvalidURL) as error:
            return Lost(f"{self._url} does not answer: {error or type(error).__name__}")
