"""What may stand behind the question mark, as Structs: the bounds checked are the bounds described."""

from functools import cache
from typing import Annotated, Any, cast

from msgspec import UNSET, Meta, UnsetType, defstruct

from studbook.wire.answers import Travels
from studbook.wire.entries import Request, ShortId, Slug
from studbook.wire.records import RecordKind
from studbook.wire.units import Opt

PAGE_LENGTH = 50

_SLUG: Any = Slug | UnsetType
_TEXT: Any = Annotated[str, Meta(max_length=200)] | UnsetType


class Nothing(Request):
    """No parameters."""


class Page(Request):
    """Which page of a history."""

    limit: Annotated[int, Meta(ge=1, le=200, description="most revisions on the page")] = PAGE_LENGTH
    cursor: Opt[Annotated[str, Meta(max_length=200, description="`next` of the page before")]] = UNSET


@cache
def list_of(kind: RecordKind) -> type[Page]:
    """Make the form of what a list of a kind of record may be narrowed by.

    Example:
        >>> from studbook.wire.records import KINDS
        >>> list_of(KINDS["outing"]).__struct_fields__
        ('limit', 'cursor', 'event', 'car', 'kind', 'track_state', 'driver')
    """
    narrowed = dict.fromkeys(kind.steps[:-1], _SLUG) | dict.fromkeys(kind.filters, _TEXT)
    form = defstruct(f"{kind.body.__name__}Page", [(*each, UNSET) for each in narrowed.items()], bases=(Page,))
    return cast("type[Page]", form)


class AuditPage(Request):
    """Which page of the record of changes."""

    after: Annotated[int, Meta(ge=0, le=2**53 - 1, description="number of the last line known already")] = 0
    limit: Annotated[int, Meta(ge=1, le=500, description="most lines on the page")] = PAGE_LENGTH


class SyncAsked(Request):
    """Which exchange with a peer, and how long to wait for its end."""

    number: Opt[Annotated[int, Meta(ge=1, description="of an exchange asked for before; none is begun then")]] = UNSET
    within_s: Annotated[float, Meta(ge=0, le=20, description="answer after so long with how far it is, seconds")] = 10.0


class Since(Request):
    """Against which revision."""

    since: ShortId


class SinceTravels(Travels, kw_only=True):
    """Against which revision, and over which travels."""

    since: ShortId

    def travels(self) -> Travels:
        """Give the travels alone."""
        return Travels(low_in=self.low_in, high_in=self.high_in, step_in=self.step_in)
