"""Checks of a request for a work card; each fault has field, value, bound and unit."""

import difflib
from collections.abc import Collection, Iterator, Sequence

import msgspec
from msgspec import UNSET

from studbook.wire.fields import misfit
from studbook.wire.problem import FieldFault
from studbook.wire.shop import JobTimes
from studbook.wire.work import WorkRequest
from studbook_service.work.items import WHEELS
from studbook_service.work.jobs import JOB_KINDS


class RequestUnfitError(Exception):
    """A card cannot be made for this request.

    Attributes:
        faults: each field with its value and bound.
    """

    def __init__(self, faults: Sequence[FieldFault]) -> None:
        """Keep the faults; the first is the message."""
        self.faults = list(faults)
        super().__init__(self.faults[0].detail)


def check_request(request: WorkRequest) -> None:
    """Check numbers against their bounds, and that each job kind and corner exists.

    Raises:
        RequestUnfitError: with every fault.

    Example:
        >>> try:
        ...     check_request(WorkRequest(crew=0))
        ... except RequestUnfitError as error:
        ...     print(error)
        crew: 0 is below the least accepted, 1
    """
    if faults := list(_faults(request)):
        raise RequestUnfitError(faults)


def check_priorities(request: WorkRequest, known: Collection[str]) -> None:
    """Check that each priority is among the ids of the card's changes and of their jobs.

    Raises:
        RequestUnfitError: with every fault, and the nearest id.
    """
    faults = [
        _unknown("priorities", priority, known, "no change or job of this card") for priority in request.priorities
    ]
    if found := [fault for fault in faults if fault is not None]:
        raise RequestUnfitError(found)


def _faults(request: WorkRequest) -> Iterator[FieldFault]:
    numbers: list[tuple[type, str, str, object]] = [
        (WorkRequest, "crew", "crew", request.crew),
        (WorkRequest, "minutes", "minutes", request.minutes),
    ]
    for kind, own in request.own.items():
        if fault := _unknown("own", kind, JOB_KINDS, "no kind of job"):
            yield fault
        numbers += [(JobTimes, name, f"own.{kind}.{name}", getattr(own, name)) for name in own.__struct_fields__]
    for form, name, path, value in numbers:
        if value is not UNSET and (fault := misfit(form, (name,), value)):
            detail = fault.detail.replace(f"{name}:", f"{path}:", 1)
            yield msgspec.structs.replace(fault, path=path, detail=detail, value=value)
    for wheel in request.contact:
        if fault := _unknown("contact", wheel, WHEELS, "no corner"):
            yield fault


def _unknown(field: str, value: str, known: Collection[str], why: str) -> FieldFault | None:
    if value in known:
        return None
    near = next(iter(difflib.get_close_matches(value, known, n=1)), None)
    hint = f"; the nearest is {near}" if near else f"; there are {', '.join(sorted(known)) or 'none'}"
    return FieldFault(path=field, detail=f"{field}: {value} is {why}{hint}", value=value, nearest=near or UNSET)
