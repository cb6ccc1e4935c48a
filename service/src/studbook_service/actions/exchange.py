"""Answering another node: take what it brings, give what it lacks."""

import logging

from studbook.history.merge import AUTHOR
from studbook_service.actions.desk import Desk
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.team_book import TeamBook
from studbook_service.exchange.answering import OtherBook, answer
from studbook_service.exchange.frames import UP, BadFrames
from studbook_service.exchange.running import in_thread
from studbook_service.store import Bearer

NODES = frozenset({"node", "chief"})
BODY_MOST_BYTES = UP.most
LOGGED_MOST = 20

_log = logging.getLogger("studbook")


async def exchange(desk: Desk, bearer: Bearer, asked: bytes) -> bytes:
    """Answer one request of another node.

    Args:
        desk: this process's place at the book.
        bearer: the node; entries by any author the team ever had are taken from it, marked with its name.
        asked: the request's frames.

    Returns:
        The answer's frames.

    Raises:
        Refusal: `not_allowed`, `bad_frames`, `other_book`; then nothing was kept.
    """
    if bearer.role not in NODES:
        raise Refusal("not_allowed", f"a {bearer.role}'s token exchanges no books: a chief makes one for a node")
    names = {member.id: member.name for member in await desk.book.access.members(bearer.team)}
    book = TeamBook(desk.book, bearer.team)
    try:
        answered = await answer(book, asked, via=bearer.member, authors={*names, AUTHOR}, names=names, run=in_thread)
    except BadFrames as error:
        _log.warning("exchange with %s refused: %s", bearer.member, error)
        raise Refusal("bad_frames", str(error)) from None
    except OtherBook as error:
        _log.warning("exchange with %s refused: %s", bearer.member, error)
        raise Refusal("other_book", str(error)) from None
    for refused in answered.refused[:LOGGED_MOST]:
        _log.warning("%s brought %s on %s: %s", bearer.member, refused.id, refused.line or "no line", refused.code)
    return answered.body
