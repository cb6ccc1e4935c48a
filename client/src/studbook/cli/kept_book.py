"""The book as commands open it: each write is kept until it is answered, and a long silence is told."""

import datetime as dt
from collections.abc import Callable, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, TypeVar

from studbook.blocking import Studbook
from studbook.cli.exit_codes import print_error
from studbook.cli.unsent_store import UnsentRequest, UnsentStore, new_name, row_of
from studbook.core import flows
from studbook.core.bearer_token import BearerToken
from studbook.core.call import Call, Flow
from studbook.core.errors import RefusedError, StudbookError
from studbook.core.retry import Wait

T = TypeVar("T")

_SILENCE_S: Final = 0.8
"""Waits of so many seconds together are told."""

MADE_ONCE: Final[dict[str, Callable[[], Flow[Any]]]] = {
    "make_token": flows.access.tokens,
    "make_share": flows.access.shares,
}
"""Operations without a key, whose answer shows a secret this once; and what lists what there is of them."""


class KeptBook(Studbook):
    """A book whose writes are on the disk while they are not answered.

    Args:
        store: where they are kept.
        line: the words of the command line.
        url, token, timeout_s, insecure_http: as of `Studbook`.
    """

    def __init__(
        self,
        url: str,
        token: BearerToken,
        *,
        store: UnsentStore,
        line: Sequence[str],
        timeout_s: float,
        insecure_http: bool,
    ) -> None:
        super().__init__(url, token, timeout_s=timeout_s, insecure_http=insecure_http)
        self._store, self._line = store, list(line)
        self._file: tuple[str, str] | None = None
        self._open_request: UnsentRequest | None = None
        self._waited_s = 0.0

    @property
    def address(self) -> str:
        """Where it answers."""
        return self._url

    def pushes(self, file: Path, data: bytes) -> None:
        """Say which file the next writes push, and what it holds."""
        self._file = (str(file.absolute()), sha256(data).hexdigest())

    def member(self) -> str:
        """Give the id of the member whose token this is."""
        known = self._store.member(self._url, self._bearer)
        if known is None:
            try:
                known = super()._run(flows.access.me()).id
            except RefusedError:
                return ""
            self._remember(known)
        return known

    def send_kept(self, request: UnsentRequest) -> Any:
        """Send a kept request again, as it was; a definite answer removes it."""
        self._open_request = request
        return self._settled(iter(request.call()))

    def _run(self, flow: Flow[T]) -> T:
        return self._settled(self._kept(flow))

    def _settled(self, flow: Flow[T]) -> T:
        """Carry a flow out, and keep or forget what it left open."""
        try:
            answer = super()._run(flow)
        except StudbookError as error:
            self._forget(error)
            raise
        except BaseException:
            if self._open_request is not None:
                print_error(f"whether it was recorded is not known; {_how_to_ask(self._open_request)}")
                self._open_request = None
            raise
        self._forget(None)
        return answer

    def _kept(self, flow: Flow[T]) -> Flow[T]:
        """Keep each write of a flow before it is sent, until it is answered."""
        answer: Any = None
        while True:
            try:
                call = flow.send(answer)
            except StopIteration as done:
                result: T = done.value
                return result
            self._keep(call)
            answer = yield call
            self._forget(None)

    def _keep(self, call: Call[Any]) -> None:
        row = row_of(call.method, call.path) if call.writes else None
        once = row is not None and row.name in MADE_ONCE
        if row is None or (call.key is None and not once):
            return
        try:
            member, before = self.member(), [each.id for each in self.listed(row.name)] if once else None
        except StudbookError as error:
            error.recorded = "no"
            error.add_note("nothing was sent yet that would be recorded")
            raise
        request = UnsentRequest(
            name=call.key or new_name(),
            address=self._url,
            member=member,
            line=self._line,
            at=dt.datetime.now(dt.UTC),
            method=call.method,
            path=call.path,
            query=list(call.query),
            headers=dict(call.headers),
            body=None if call.body is None else call.body.decode(),
            file=self._file[0] if self._file else None,
            sha256=self._file[1] if self._file else None,
            before=before,
        )
        try:
            self._store.keep(request)
        except OSError as error:
            # A full disk must not keep a crew from recording; it is only less safe.
            print_error(f"{error.filename}: {error.strerror}: what is sent now is not kept until it is answered")
            return
        self._open_request = request

    def listed(self, operation: str) -> list[Any]:
        """List the tokens or shares there are."""
        found: list[Any] = super()._run(MADE_ONCE[operation]())
        return found

    def _forget(self, error: StudbookError | None) -> None:
        """Forget the open request; after an error without a definite answer keep it, and say how to ask."""
        request, self._open_request = self._open_request, None
        if request is None:
            return
        if error is None or error.recorded != "not known":
            self._store.remove(request)
        else:
            error.__notes__ = [f"whether it was recorded is not known; {_how_to_ask(request)}"]

    def _remember(self, member: str) -> None:
        try:
            self._store.keep_member(self._url, self._bearer, member)
        except OSError as error:
            print_error(f"{error.filename}: {error.strerror}: whose token this is will be asked again")

    def _wait(self, step: Wait) -> None:
        before, self._waited_s = self._waited_s, self._waited_s + step.seconds
        if before < _SILENCE_S <= self._waited_s:
            print_error(f"{step.reason}; trying again for {step.left_s:.0f} s more (Ctrl-C ends it)")
        super()._wait(step)


def _how_to_ask(request: UnsentRequest) -> str:
    return f"type the same line again and it is asked for with its key, or: studbook unsent send {request.name[:8]}"
