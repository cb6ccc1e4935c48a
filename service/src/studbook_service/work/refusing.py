"""What a card may be asked for, and what is refused with field, value, bound and unit."""

import difflib
from collections.abc import Collection, Iterator, Sequence

from msgspec import UNSET

from studbook.wire.fields import misfit
from studbook.wire.problem import FieldFault
from studbook.wire.shop import JobTimes
from studbook.wire.work import WorkRequest
from studbook_service.work.items import WHEELS
from studbook_service.work.jobs import KINDS


class AskedUnfitError(Exception):
    """A card cannot be made for what was asked.

    Attributes:
        faults: each field with its value and bound.
    """

    def __init__(self, faults: Sequence[FieldFault]) -> None:
        """Keep the faults and say the first in one line."""
        self.faults = list(faults)
        super().__init__(self.faults[0].detail)


def refuse_unfit(asked: WorkRequest) -> None:
    """Refuse nonsense: no crew, negative minutes, a job or corner that there is not.

    Raises:
        AskedUnfitError: with every fault.

    Example:
        >>> try:
        ...     refuse_unfit(WorkRequest(crew=0))
        ... except AskedUnfitError as error:
        ...     print(error)
        crew: 0 is below the least accepted, 1
    """
    if faults := list(_faults(asked)):
        raise AskedUnfitError(faults)


def refuse_unknown_wishes(asked: WorkRequest, known: Collection[str]) -> None:
    """Refuse a wish for what is not on the card.

    Args:
        asked: what was asked for.
        known: ids of the card's changes and of their jobs.

    Raises:
        AskedUnfitError: with every fault, and the nearest id.
    """
    faults = [_unknown("wishes", wish, known, "no change or job of this card") for wish in asked.wishes]
    if found := [fault for fault in faults if fault is not None]:
        raise AskedUnfitError(found)


def _faults(asked: WorkRequest) -> Iterator[FieldFault]:
    numbers: list[tuple[type, str, str, object]] = [
        (WorkRequest, "crew", "crew", asked.crew),
        (WorkRequest, "minutes", "minutes", asked.minutes),
    ]
    for kind, own in asked.own.items():
        if fault := _unknown("own", kind, KINDS, "no kind of job"):
            yield fault
        numbers += [(JobTimes, name, f"own.{kind}.{name}", getattr(own, name)) for name in own.__struct_fields__]
    for form, name, path, value in numbers:
        if value is not UNSET and (fault := misfit(form, (name,), value)):
            yield FieldFault(
                path=path,
                detail=fault.detail.replace(f"{name}:", f"{path}:", 1),
                value=value,
                least=fault.least,
                most=fault.most,
                unit=fault.unit,
            )
    for wheel in asked.contact:
        if fault := _unknown("contact", wheel, WHEELS, "no corner"):
            yield fault


def _unknown(field: str, value: str, known: Collection[str], why: str) -> FieldFault | None:
    if value in known:
        return None
    near = next(iter(difflib.get_close_matches(value, known, n=1)), None)
    hint = f"; the nearest is {near}" if near else f"; there are {', '.join(sorted(known)) or 'none'}"
    return FieldFault(path=field, detail=f"{field}: {value} is {why}{hint}", value=value, nearest=near or UNSET)
