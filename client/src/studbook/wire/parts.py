"""Parts by their tags, and what the shop did with them."""

from typing import Annotated, Literal

from msgspec import UNSET

from studbook.wire.entries import Slug
from studbook.wire.night import Date, Moment
from studbook.wire.setup.common import Corner, FieldGroup, Name, Text
from studbook.wire.units import Opt, means, within

PartKind = Literal["joint", "stud", "shock", "spring", "tire", "arm", "link", "bar", "wheel", "gear", "other"]
Basis = Literal["breakaway", "running"]
Torque = Annotated[float, within("in_lb", 0, 300, usual=(0, 60))]
Play = Annotated[float, within("in", 0, 0.25, "by dial", usual=(0, 0.005))]


class Taper(FieldGroup):
    """A taper, as an angle or as the trade says it, in inches of diameter per foot of length."""

    included_deg: Opt[Annotated[float, within("deg", 4, 16, "both sides together")]] = UNSET
    in_per_ft: Opt[Annotated[float, within("in_per_ft", 0.8, 3.4, "of diameter; 1.5 in per ft is 7.15 deg")]] = UNSET
    large_end_in: Opt[Annotated[float, within("in", 0.4, 1.1, "diameter")]] = UNSET


class StudSizes(FieldGroup):
    """A stud."""

    length_in: Opt[Annotated[float, within("in", 0.6, 3, "ball center to the large end of the seat's taper")]] = UNSET
    taper: Opt[Taper] = UNSET
    ball_diameter_in: Opt[Annotated[float, within("in", 0.7, 1.6)]] = UNSET
    neck_diameter_in: Opt[Annotated[float, within("in", 0.4, 1.1)]] = UNSET
    thread: Opt[Name] = UNSET


class JointSizes(FieldGroup):
    """A joint's housing."""

    mount: Opt[Literal["screwed", "pressed", "bolted"]] = UNSET
    ball_diameter_in: Opt[Annotated[float, within("in", 0.7, 1.6)]] = UNSET
    swing_limit_deg: Opt[Annotated[float, within("deg", 10, 40)]] = UNSET


class SpringSizes(FieldGroup):
    """A spring."""

    rate_lb_per_in: Opt[Annotated[float, within("lb_per_in", 20, 3000)]] = UNSET
    free_length_in: Opt[Annotated[float, within("in", 2, 30)]] = UNSET
    inside_diameter_in: Opt[Annotated[float, within("in", 1, 8)]] = UNSET
    coil_bind_in: Opt[Annotated[float, within("in", 1, 16)]] = UNSET


class ShockSizes(FieldGroup):
    """A shock."""

    stroke_in: Opt[Annotated[float, within("in", 2, 14)]] = UNSET
    extended_length_in: Opt[Annotated[float, within("in", 6, 40)]] = UNSET
    valving: Opt[Name] = UNSET


class TireSizes(FieldGroup):
    """A tire."""

    compound: Opt[Name] = UNSET
    rollout_in: Opt[Annotated[float, within("in", 70, 100)]] = UNSET
    rollout_at_psi: Opt[Annotated[float, within("psi", 4, 45)]] = UNSET
    durometer_shore_a: Opt[Annotated[float, within("shore_a", 25, 85)]] = UNSET


class WheelSizes(FieldGroup):
    """A wheel."""

    width_in: Opt[Annotated[float, within("in", 6, 16)]] = UNSET
    offset_in: Opt[Annotated[float, within("in", -2, 7)]] = UNSET


class RodSizes(FieldGroup):
    """An arm, a link or a bar."""

    length_in: Opt[Annotated[float, within("in", 2, 80)]] = UNSET
    outer_diameter_in: Opt[Annotated[float, within("in", 0.2, 4)]] = UNSET
    inner_diameter_in: Opt[Annotated[float, within("in", 0, 4)]] = UNSET


class GearSizes(FieldGroup):
    """A final-drive gear set."""

    final_drive_ratio: Opt[Annotated[float, within("ratio", 2, 12)]] = UNSET


class PreloadTarget(FieldGroup):
    """The torque a joint is set to."""

    target_in_lb: Opt[Torque] = UNSET
    basis: Opt[Basis] = UNSET
    tolerance_in_lb: Opt[Annotated[float, within("in_lb", 0, 60, "beyond this it has drifted")]] = UNSET


class Part(FieldGroup):
    """A part. Its name in the book is its tag, such as `s-041`."""

    kind: Opt[PartKind] = UNSET
    about: Opt[Annotated[str, means("what it is, in the crew's words", most=400)]] = UNSET
    stud: Opt[StudSizes] = UNSET
    joint: Opt[JointSizes] = UNSET
    spring: Opt[SpringSizes] = UNSET
    shock: Opt[ShockSizes] = UNSET
    tire: Opt[TireSizes] = UNSET
    wheel: Opt[WheelSizes] = UNSET
    rod: Opt[RodSizes] = UNSET
    gear: Opt[GearSizes] = UNSET
    preload: Opt[PreloadTarget] = UNSET
    play_limit_in: Opt[Annotated[float, within("in", 0, 0.25, "looser than this it is replaced")]] = UNSET
    price_usd: Opt[Annotated[float, within("usd", 0, 100_000)]] = UNSET
    bought: Opt[Date] = UNSET
    supplier: Opt[Name] = UNSET
    notes: Opt[Text] = UNSET


class PartPlace(FieldGroup):
    """Where a part is."""

    where: Opt[Literal["shelf", "trailer", "car"]] = UNSET
    car: Opt[Slug] = UNSET
    corner: Opt[Corner] = UNSET
    slot: Opt[Annotated[Slug, means("what it is there: upper_stud, lower_stud, spring, shock, tire ...")]] = UNSET


class Preload(FieldGroup):
    """One reading of a joint's preload: the torque, or a pull scale's force at a lever."""

    basis: Opt[Basis] = UNSET
    torque_in_lb: Opt[Torque] = UNSET
    pull_lb: Opt[Annotated[float, within("lb", 0, 60)]] = UNSET
    lever_in: Opt[Annotated[float, within("in", 2, 24)]] = UNSET
    after_turns: Opt[Annotated[int, within("count", 0, 100, "turns to settle before reading")]] = UNSET
    temperature_deg_f: Opt[Annotated[float, within("deg_f", -20, 350)]] = UNSET
    speed: Opt[Annotated[str, means("how fast it was turned", most=200)]] = UNSET
    measured_on: Opt[Literal["bench", "car"]] = UNSET


class Inspected(FieldGroup):
    """What an inspection found."""

    straight: Opt[Annotated[bool, means("neither bent nor cracked nor loose")]] = UNSET
    bent_by_in: Opt[Annotated[float, within("in", 0, 3)]] = UNSET
    method: Opt[Annotated[str, means("light and eye, dial, dye", most=400)]] = UNSET
    whole_corner: Opt[Annotated[bool, means("joints, tie rod and ends, spindle, arms, wheel, hub, steering")]] = UNSET
    signed_by: Opt[Name] = UNSET


class ShopRecord(FieldGroup):
    """One job done on one part. Its name in the book is `PART/DATE-WHAT-N`, such as `s-041/2026-05-02-fitted-1`."""

    what: Opt[
        Literal["fitted", "removed", "moved", "preload", "contact", "inspected", "rebuilt", "scrapped", "play"]
    ] = UNSET
    at: Opt[Moment] = UNSET
    by: Opt[Name] = UNSET
    place: Opt[PartPlace] = UNSET
    preload: Opt[Preload] = UNSET
    inspected: Opt[Inspected] = UNSET
    play_in: Opt[Play] = UNSET
    outing: Opt[Annotated[str, means("EVENT/CAR/RUN in which it happened", most=160)]] = UNSET
    cost_usd: Opt[Annotated[float, within("usd", 0, 100_000)]] = UNSET
    notes: Opt[Text] = UNSET
