"""How the parts stand: where each is, what it has run, what wants doing. Derived from records, never stored."""

import datetime as dt
from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.entries import Answer, Request, Slug
from studbook.wire.parts import Basis, Part, PartKind, PartPlace
from studbook.wire.units import Inches, Opt, within

Count = Annotated[int, within("count", 0)]
Torque = Annotated[float, within("in_lb")]


class ShelfQuery(Request):
    """Which parts; all of them unless narrowed."""

    part: Opt[Slug] = UNSET
    kind: Opt[PartKind] = UNSET
    where: Opt[Literal["shelf", "trailer", "car"]] = UNSET
    car: Opt[Slug] = UNSET


class Alert(Answer):
    """Something a crew would want to know before the car goes out.

    Attributes:
        code: `inspect` after contact, `bent` part or corner, `preload` off its target, `loose` beyond its play limit,
            `two_places` recorded at once, `shared` slot, `split`: recorded differently on two sides, and not offered
            before that is settled.
        since: when it began.
    """

    code: Literal["inspect", "bent", "preload", "loose", "two_places", "shared", "split"]
    detail: str
    part: Opt[str] = UNSET
    car: Opt[str] = UNSET
    corner: Opt[str] = UNSET
    slot: Opt[str] = UNSET
    since: Opt[dt.datetime] = UNSET


class PreloadRead(Answer):
    """A preload reading as a torque, beside the target where both are of one basis.

    Attributes:
        drift_in_lb: the reading less the target.
        record: the shop record's name.
    """

    at: dt.datetime
    torque_in_lb: Torque
    record: str
    basis: Opt[Basis] = UNSET
    temperature_deg_f: Opt[Annotated[float, within("deg_f")]] = UNSET
    after_turns: Opt[Count] = UNSET
    drift_in_lb: Opt[Torque] = UNSET


class PartState(Answer):
    """One part.

    Attributes:
        places: where it is; two where two laptops recorded so; none where none was recorded.
        since: when it came there.
        laps, outings, nights: run while it was on a car.
        preloads: every reading in order.
        play_in: as last read.
    """

    part: str
    document: Part
    places: list[PartPlace]
    laps: Count = 0
    outings: Count = 0
    nights: Count = 0
    scrapped: bool = False
    since: Opt[dt.datetime] = UNSET
    preloads: list[PreloadRead] = []
    play_in: Opt[Inches] = UNSET
    alerts: list[Alert] = []


class StudCount(Answer):
    """Studs of one size that are on the shelf or in the trailer."""

    count: Count
    parts: list[str]
    length_in: Opt[Inches] = UNSET
    taper_included_deg: Opt[Annotated[float, within("deg")]] = UNSET
    large_end_in: Opt[Inches] = UNSET


class SplitRead(Answer):
    """A split line that something was read from, and which tip was used."""

    line: str
    used: str
    tips: list[str]


class Shelf(Answer):
    """All parts, or those of the query.

    Attributes:
        corners: corners that saw contact (`inspect`), or that an inspection of the whole corner found not straight
            (`bent`: how far, by whom, in which record), and that nobody has since inspected whole, found straight and
            signed for.
        studs: what a stud can be taken from.
        splits: split lines among what was read.
    """

    items: list[PartState]
    corners: list[Alert] = []
    studs: list[StudCount] = []
    splits: list[SplitRead] = []
