"""Tires and wheels."""

from typing import Annotated

from msgspec import UNSET

from studbook.wire.setup.common import FieldGroup, Name, Text
from studbook.wire.units import Opt, within

LoadedRadius = Annotated[float, within("in", 9, 18, "wheel center to ground, in the wheel's plane, car at rest")]


class Wheel(FieldGroup):
    """A wheel as fitted."""

    width_in: Opt[Annotated[float, within("in", 6, 16)]] = UNSET
    offset_in: Opt[Annotated[float, within("in", -2, 7, "wheel's center plane from the hub face, + outboard")]] = UNSET
    spacer_in: Opt[Annotated[float, within("in", 0, 2, "between hub and wheel")]] = UNSET
    stud_length_in: Opt[Annotated[float, within("in", 0.5, 5, "of the wheel's own studs")]] = UNSET
    nut_torque_ft_lb: Opt[Annotated[float, within("ft_lb", 60, 250, "by the maker's instruction")]] = UNSET
    part: Opt[Name] = UNSET


class Tire(FieldGroup):
    """A tire as fitted."""

    loaded_radius_in: Opt[LoadedRadius] = UNSET
    rollout_in: Opt[Annotated[float, within("in", 70, 100, "circumference at the pressure beside it")]] = UNSET
    rollout_at_psi: Opt[Annotated[float, within("psi", 4, 45)]] = UNSET
    rollout_in_per_psi: Opt[
        Annotated[float, within("in_per_psi", 0, 2, "by how much it grows, from two pressures", usual=(0.01, 0.5))]
    ] = UNSET
    pressure_cold_psi: Opt[Annotated[float, within("psi", 4, 45)]] = UNSET
    rate_lb_per_in: Opt[Annotated[float, within("lb_per_in", 400, 2500, "vertical, at the pressure raced")]] = UNSET
    compound: Opt[Name] = UNSET
    durometer_shore_a: Opt[Annotated[float, within("shore_a", 25, 85)]] = UNSET
    tread_depth_in: Opt[Annotated[float, within("in", 0, 0.6)]] = UNSET
    cuts: Opt[Text] = UNSET
    heat_cycles: Opt[Annotated[int, within("count", 0, 40)]] = UNSET
    bead: Opt[Name] = UNSET
    part: Opt[Name] = UNSET
