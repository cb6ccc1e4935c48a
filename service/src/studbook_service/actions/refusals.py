"""How an action says no: a stable code, words, and what helps to do better."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from msgspec import UNSET

from studbook.wire.problem import TITLES, FieldFault
from studbook_service.store import LastChief, MemberExists, NotHome, UnknownMember
from studbook_service.translate.errors import CannotClose, FieldsMissing, FieldsUnfit, TooCostly


class Refusal(Exception):
    """A request that is not carried out.

    Attributes:
        code: a key of `studbook.wire.problem.TITLES`.
        detail: what is wrong here, in words.
        errors: each bad field.
        tag: the line's present tag, where the caller had not seen it.
        tips: ids of the line's present tips.
        candidates: full ids, for a short one that fits several.
        retry_after_s: when trying again makes sense.

    Example:
        >>> Refusal("not_found", "there is no car 7").code
        'not_found'
    """

    def __init__(
        self,
        code: str,
        detail: str = "",
        *,
        errors: Sequence[FieldFault] = (),
        tag: str | None = None,
        tips: Sequence[str] = (),
        candidates: Sequence[str] = (),
        retry_after_s: int | None = None,
    ) -> None:
        super().__init__(detail or TITLES[code])
        self.code = code
        self.detail = detail
        self.errors = errors
        self.tag = tag
        self.tips = tips
        self.candidates = candidates
        self.retry_after_s = retry_after_s


def unfit(pointer: str, detail: str, *, value: Any = UNSET) -> Refusal:
    """Refuse a request for one member of it.

    Args:
        pointer: JSON pointer into the body, or a query parameter's name.
        detail: what is wrong, with value, bound and unit.
        value: as it was sent.

    Example:
        >>> unfit("/edits", "give either edits or a document").code
        'bad_request'
    """
    return Refusal("bad_request", detail, errors=[FieldFault(pointer=pointer, detail=detail, value=value)])


@contextmanager
def engine_refusals() -> Iterator[None]:
    """Say in the book's words what the engine cannot do."""
    try:
        yield
    except FieldsMissing as error:
        faults = [
            FieldFault(path=path, detail=f"{path}: is needed for {missing.subject}")
            for missing in error.missing
            for path in missing.fields
        ]
        raise Refusal("fields_missing", f"{len(faults)} fields are missing", errors=faults) from None
    except FieldsUnfit as error:
        raise Refusal("bad_document", str(error), errors=error.faults) from None
    except CannotClose as error:
        raise Refusal("cannot_close", str(error)) from None
    except TooCostly as error:
        fault = FieldFault(detail=str(error), value=error.cost, most=error.most, unit=error.unit)
        raise Refusal("too_costly", str(error), errors=[fault]) from None


@contextmanager
def access_refusals(member: str) -> Iterator[None]:
    """Say in the book's words why the store refuses a change of access.

    Args:
        member: whom it is about.

    Raises:
        Refusal: `not_home`, `last_chief`, `exists`, `not_found`.

    Example:
        >>> with access_refusals("robin"):
        ...     raise LastChief
        Traceback (most recent call last):
        studbook_service.actions.refusals.Refusal: robin is the last chief: make another one first
    """
    try:
        yield
    except NotHome as error:
        raise Refusal("not_home", f"that is decided at {error.home}, the book's home") from None
    except LastChief:
        raise Refusal("last_chief", f"{member} is the last chief: make another one first") from None
    except MemberExists:
        raise Refusal("exists", f"there is a member {member} already") from None
    except UnknownMember:
        raise Refusal("not_found", f"there is no member {member}") from None
