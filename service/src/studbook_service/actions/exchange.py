"""Answering another node: take what it brings, give what it lacks."""

import logging

from studbook.wire.operations import book as operations
from studbook.wire.operations.row import DECIDING
from studbook_service.actions.context import Context
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.team_book import TeamBook
from studbook_service.exchange.admission import NOBODYS, AdmissionRules
from studbook_service.exchange.book import OtherBook
from studbook_service.exchange.frames import UP, BadFrames
from studbook_service.exchange.responder import respond
from studbook_service.exchange.running import run_in_thread
from studbook_service.store import Bearer

BODY_MOST_BYTES = UP.most
LOGGED_MOST = 20

_log = logging.getLogger("studbook")


@carries_out(operations.EXCHANGE_ENTRIES)
async def exchange_entries(context: Context, bearer: Bearer, request: bytes) -> bytes:
    """Answer one request of another node.

    Args:
        context: what this process gives every action.
        bearer: the node; its entries are marked with its name.
        request: the request's frames.

    Returns:
        The answer's frames.

    Raises:
        Refusal: `too_large`, `bad_frames`, `other_book`; then nothing was kept.
    """
    if len(request) > BODY_MOST_BYTES:
        raise Refusal("too_large", f"{len(request)} bytes were sent, {BODY_MOST_BYTES} are read")
    book = TeamBook(context.book, bearer.team)
    try:
        answered = await respond(
            book, request, via=bearer.member, rules=await _rules(context, bearer), run=run_in_thread
        )
    except BadFrames as error:
        _log.warning("exchange with %s refused: %s", bearer.member, error)
        raise Refusal("bad_frames", str(error)) from None
    except OtherBook as error:
        _log.warning("exchange with %s refused: %s", bearer.member, error)
        raise Refusal("other_book", str(error)) from None
    context.background.wake(bearer.team)
    context.refused.update(refused.code for refused in answered.refused)
    for refused in answered.refused[:LOGGED_MOST]:
        _log.warning("%s brought %s on %s: %s", bearer.member, refused.id, refused.line or "no line", refused.code)
    return answered.body


async def _rules(context: Context, bearer: Bearer) -> AdmissionRules:
    """Say what a bearer may bring: a chief anything, a node what its token was made for.

    Who is an author of the team is known at its home alone, and checked there.
    """
    access, decides = context.book.access, bearer.role in DECIDING
    authors = None
    if await access.home(bearer.team) is None:
        authors = NOBODYS.union(member.id for member in await access.members(bearer.team))
    return AdmissionRules(
        authors=authors,
        introduces=decides or bearer.introduces,
        closed=() if decides or bearer.protected else await access.protected(bearer.team),
    )
