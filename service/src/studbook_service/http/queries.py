"""What may stand behind the question mark, as Structs: the bounds checked are the bounds described."""

from typing import Annotated

from msgspec import UNSET, Meta

from studbook.wire.answers import Travels
from studbook.wire.entries import Request, ShortId
from studbook.wire.units import Opt

PAGE_LENGTH = 50


class Nothing(Request):
    """No parameters."""


class Page(Request):
    """Which page of a history."""

    limit: Annotated[int, Meta(ge=1, le=200, description="most revisions on the page")] = PAGE_LENGTH
    cursor: Opt[Annotated[str, Meta(max_length=200, description="`next` of the page before")]] = UNSET


class Since(Request):
    """Against which revision."""

    since: ShortId


class SinceTravels(Travels, kw_only=True):
    """Against which revision, and over which travels."""

    since: ShortId

    def travels(self) -> Travels:
        """Give the travels alone."""
        return Travels(low_in=self.low_in, high_in=self.high_in, step_in=self.step_in)
