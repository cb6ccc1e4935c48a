"""Changes to who may what: where the store refuses one, the book's words for it."""

from collections.abc import Iterator
from contextlib import contextmanager

from studbook_service.actions.refusals import Refusal
from studbook_service.store import LastChief, MemberExists, NotHome, UnknownMember


@contextmanager
def deciding(subject: str) -> Iterator[None]:
    """Turn what the store says of a change into a refusal.

    Args:
        subject: the member it is about.

    Raises:
        Refusal: `not_home`, `last_chief`, `exists`, `not_found`.

    Example:
        >>> with deciding("robin"):
        ...     raise LastChief
        Traceback (most recent call last):
        studbook_service.actions.refusals.Refusal: robin is the last chief: make another one first
    """
    try:
        yield
    except NotHome as error:
        raise Refusal("not_home", f"that is decided at {error.home}, the book's home") from None
    except LastChief:
        raise Refusal("last_chief", f"{subject} is the last chief: make another one first") from None
    except MemberExists:
        raise Refusal("exists", f"there is a member {subject} already") from None
    except UnknownMember:
        raise Refusal("not_found", f"there is no member {subject}") from None
