"""Answering another node: take what it brings, give what it lacks."""

import logging

from studbook_service.actions.desk import Desk
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.rights import ANY_SHEET
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


async def exchange(desk: Desk, bearer: Bearer, asked: bytes) -> bytes:
    """Answer one request of another node.

    Args:
        desk: this process's place at the book.
        bearer: the node; its entries are marked with its name.
        asked: the request's frames.

    Returns:
        The answer's frames.

    Raises:
        Refusal: `bad_frames`, `other_book`; then nothing was kept.
    """
    book = TeamBook(desk.book, bearer.team)
    try:
        answered = await respond(book, asked, via=bearer.member, rules=await _rules(desk, bearer), run=run_in_thread)
    except BadFrames as error:
        _log.warning("exchange with %s refused: %s", bearer.member, error)
        raise Refusal("bad_frames", str(error)) from None
    except OtherBook as error:
        _log.warning("exchange with %s refused: %s", bearer.member, error)
        raise Refusal("other_book", str(error)) from None
    desk.clerk.wake(bearer.team)
    desk.refused.update(refused.code for refused in answered.refused)
    for refused in answered.refused[:LOGGED_MOST]:
        _log.warning("%s brought %s on %s: %s", bearer.member, refused.id, refused.line or "no line", refused.code)
    return answered.body


async def _rules(desk: Desk, bearer: Bearer) -> AdmissionRules:
    """Say what a bearer may bring: a chief anything, a node what its token was made for.

    Who is an author of the team is known at its home alone, and asked there.
    """
    access, decides = desk.book.access, bearer.role in ANY_SHEET
    authors = None
    if await access.home(bearer.team) is None:
        authors = NOBODYS.union(member.id for member in await access.members(bearer.team))
    return AdmissionRules(
        authors=authors,
        introduces=decides or bearer.introduces,
        closed=() if decides or bearer.protected else await access.protected(bearer.team),
    )
