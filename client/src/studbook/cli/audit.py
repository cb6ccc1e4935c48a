"""`studbook audit`: every change to members, tokens, shares and protection."""

import re
from collections import deque
from typing import Annotated, Final

from cyclopts import App, Parameter

from studbook.cli.audit_chain import check_chain
from studbook.cli.environment import open_book
from studbook.cli.exit_codes import REFUSED, CommandFailedError
from studbook.cli.members import names
from studbook.cli.options import Json
from studbook.cli.printing import leaf, print_answer, print_json, table, when
from studbook.wire.access import Audit, AuditLine

audit = App(name="audit", help="Every change to members, tokens, shares and protection.")

_HEAD: Final = re.compile(r"[0-9a-f]{12,64}")


@audit.default
def show(
    *,
    limit: Annotated[int, Parameter(name=["-n", "--limit"], help="How many at most; 0 for all.")] = 50,
    json: Json = False,
) -> None:
    """List the last changes to members, tokens, shares and protection, in order."""
    with open_book() as book:
        found, called = deque(book.audit(), maxlen=limit or None), {} if json else names(book)
    header, rows = ("", "when", "by", "what", "about", ""), [_row(line, called) for line in found]
    print_answer(Audit(items=list(found)), lambda _: table(header, rows, right=frozenset({0})), json=json)


audit.command(show, name="list")


@audit.command
def verify(
    *,
    head: Annotated[
        str | None, Parameter(help="A head noted down earlier, 12 or more digits: is it still there?")
    ] = None,
    json: Json = False,
) -> None:
    """Check the record's hash chain, and print its head to note down outside the service."""
    if head is not None and not _HEAD.fullmatch(head):
        raise CommandFailedError("--head: give 12 or more digits of a head, 0-9 and a-f")
    with open_book() as book:
        walked = check_chain(book.audit(), head=head)
    if walked.broken is not None:
        line = walked.broken
        raise CommandFailedError(
            f"line {line.seq} does not fit ({when(line.at)}, {line.action} {line.subject}): it is not as written, or "
            f"one before it is gone; lines before it that fit: {walked.lines}",
            code=REFUSED,
        )
    if head is not None and walked.noted is None:
        raise CommandFailedError(
            f"no line has the head {head}: all {walked.lines} lines fit each other, but this is not the record whose "
            "head was noted down, or it was cut short",
            code=REFUSED,
        )
    if json:
        print_json({"lines": walked.lines, "head": walked.head} | ({"noted": walked.noted} if head else {}))
        return
    noted = f"; the head noted down is that of line {walked.noted}" if head else ""
    print(f"{walked.lines} lines, each fits the one before{noted}")
    print(f"Head, to note down elsewhere: {walked.head}")


def _row(line: AuditLine, called: dict[str, str]) -> tuple[str, ...]:
    detail = ", ".join(f"{name} {leaf(value)}" for name, value in line.detail.items())
    return str(line.seq), when(line.at), called.get(line.actor, line.actor), line.action, line.subject, detail
