"""`studbook unsent`: requests that were sent and never answered."""

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import msgspec
from cyclopts import App, Parameter

from studbook.cli import car, file_origin, push, recording, shares, token
from studbook.cli.environment import address, open_book, own_token, unsent_store
from studbook.cli.exit_codes import CommandFailedError, exit_code, print_error
from studbook.cli.kept_book import MADE_ONCE, KeptBook
from studbook.cli.options import Json
from studbook.cli.printing import print_json, print_rows, short, when
from studbook.cli.unsent_store import UnsentRequest, row_of
from studbook.core.errors import StudbookError
from studbook.wire.access import NewShare, NewToken, ShareMade, TokenMade
from studbook.wire.entries import Car, Pushed
from studbook.wire.records import Record

unsent = App(name="unsent", help="Requests that were sent and never answered: recorded or not, nobody knows yet.")

Which = Annotated[str, Parameter(help="The beginning of its name, from studbook unsent.")]


@unsent.default
def show(*, json: Json = False) -> None:
    """List the requests without an answer, the oldest first; no network is needed."""
    found = unsent_store().all()
    rows = [
        (each.name[:8], when(each.at), short(shlex.join(each.line), 50), each.address, each.member) for each in found
    ]
    plain = [{"name": each.name, "at": each.at, "line": each.line} for each in found]
    for entry, each in zip(plain, found, strict=True):
        entry |= {"address": each.address, "member": each.member}
    header = ("request", "sent", "line", "service", "member")
    print_rows({"items": plain}, header, rows, json=json, none="Nothing waits for an answer.")


unsent.command(show, name="list")


@unsent.command
def send(name: Which | None = None, /, *, json: Json = False) -> int:
    """Send them again, each with its own key, so that none is recorded twice; without a name all of yours here."""
    with open_book() as book:
        found = [_named(name)] if name is not None else _mine(book)
        if not found:
            print("Nothing of yours waits for an answer here.")
        codes = [_send(book, _checked(book, each), json=json) for each in found]
    return next((code for code in codes if code), 0)


@unsent.command
def forget(name: Which, /) -> None:
    """Forget one: it is not asked for again, and stays recorded if it was."""
    request = _named(name)
    unsent_store().remove(request)
    print(f"{request.name[:8]} is forgotten: {shlex.join(request.line)}")


def send_line_again(words: Sequence[str]) -> int | None:
    """Send again what a command line left without an answer.

    Returns:
        Exit code, or None where nothing of it is open at our service.
    """
    found = [each for each in unsent_store().all() if each.line == list(words) and each.address == address()]
    found = [each for each in found if _is_of_file(each, words)]
    if not found or own_token() is None:
        return None
    try:
        with open_book() as book:
            member = book.member()
            request = next((each for each in found if each.member == member), None)
            return None if request is None else _send(book, request, json="--json" in words)
    except StudbookError as error:
        return exit_code(error)


def _send(book: KeptBook, request: UnsentRequest, *, json: bool) -> int:
    what = f"{shlex.join(request.line)}, sent {when(request.at)} and not answered"
    print_error(f"{what}: it is sent again with its key and is recorded once at most")
    try:
        answer = _made_again(book, request) if request.before is not None else book.send_kept(request)
    except StudbookError as error:
        if error.recorded == "no":
            print_error("it was not recorded, and is forgotten: type the line again if you still want it")
        return exit_code(error)
    _report(request, answer, json=json)
    return 0


def _made_again(book: KeptBook, request: UnsentRequest) -> Any:
    """End the token or share that nobody saw, if it was made, and make another."""
    row = row_of(request.method, request.path)
    if row is None or row.name not in MADE_ONCE:
        raise CommandFailedError(f"this version cannot send {request.name[:8]} again: studbook unsent forget it")
    body = (request.body or "").encode()
    unseen = [each for each in book.listed(row.name) if each.id not in (request.before or ())]
    if row.name == "make_token":
        token_wanted = msgspec.json.decode(body, type=NewToken)
        member = request.member if token_wanted.member is msgspec.UNSET else token_wanted.member
        for each in unseen:
            if (each.label, each.member, each.ended_at) == (token_wanted.label, member, msgspec.UNSET):
                book.end_token(each.id)
                print_error(f"token {each.id} was made and nobody saw it: it is ended")
    else:
        share_wanted = msgspec.json.decode(body, type=NewShare)
        for each in unseen:
            wanted = (share_wanted.label, share_wanted.car, share_wanted.sheet, msgspec.UNSET)
            if (each.label, each.car, each.sheet, each.ended_at) == wanted:
                book.end_share(each.id)
                print_error(f"share {each.id} was made and nobody saw its token: it is ended")
    return book.send_kept(request)


def _report(request: UnsentRequest, answer: Any, *, json: bool) -> None:
    """Print an answer as the command does that sent the request first."""
    if isinstance(answer, Pushed):
        _mark(request, answer)
        push.report(answer, json=json)
    elif isinstance(answer, Record):
        recording.report(answer, json=json)
    elif isinstance(answer, Car):
        car.report(answer, json=json)
    elif isinstance(answer, TokenMade):
        token.report(answer, json=json)
    elif isinstance(answer, ShareMade):
        shares.report(answer, json=json)
    else:
        print_json(answer)


def _mark(request: UnsentRequest, pushed: Pushed) -> None:
    """Note beside the file that was pushed which revision it is now."""
    if request.file is None or request.sha256 is None or not Path(request.file).is_file():
        return
    file = Path(request.file)
    sheet = f"{pushed.revision.car}/{pushed.revision.sheet}"
    file_origin.save_origin(file, sheet=sheet, revision=pushed.revision.id, sha256=request.sha256)
    if file_origin.is_changed(file):
        print_error(f"{file} was changed since it was sent: push it again for that")


def _mine(book: KeptBook) -> list[UnsentRequest]:
    found = [each for each in unsent_store().all() if each.address == book.address]
    return [each for each in found if each.member == book.member()]


def _named(name: str) -> UnsentRequest:
    found = [each for each in unsent_store().all() if name and each.name.startswith(name)]
    if len(found) != 1:
        many = "several requests begin" if found else "no request begins"
        raise CommandFailedError(f"{many} with {name[:80]!r}: see studbook unsent")
    return found[0]


def _checked(book: KeptBook, request: UnsentRequest) -> UnsentRequest:
    """Refuse to send what was another member's, or went to another service."""
    if request.address != book.address:
        raise CommandFailedError(f"{request.name[:8]} went to {request.address}: set STUDBOOK_URL to that")
    if request.member != book.member():
        raise CommandFailedError(f"{request.name[:8]} is {request.member}'s: send it with a token of theirs")
    return request


def _is_of_file(request: UnsentRequest, words: Sequence[str]) -> bool:
    """Whether the words of a push mean the same file here."""
    if request.file is None or words[0] != "push":
        return True
    return any(str(Path(word).absolute()) == request.file for word in words[1:])
