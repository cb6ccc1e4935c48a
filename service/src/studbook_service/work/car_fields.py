"""Which component of the car each field of a setup belongs to: what a job changes when the field changes.

A field belongs to a component that a job changes; or it is only written down (a property, an aim, a reading); or
neither, and the crew judges by itself, which the card says.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import Final, NamedTuple

from studbook.history.leaves import Path, dotted
from studbook_service.work.items import WHEELS

_STUD: Final = "length_in seat_diameter_in neck_diameter_in ball_diameter_in taper_included_deg thread part"
_HOUSING: Final = "ball_offset_in mount engaged_in part"
_SPRING: Final = "rate_lb_per_in free_length_in kind part second.rate_lb_per_in second.stop_gap_in"
_SIZES: Final = "serial rod_diameter_in extended_length_in compressed_length_in stroke_in"
_VALVES: Final = "compression.stack_in compression.bleed_in rebound.stack_in rebound.bleed_in oil"
_PIVOTS: Final = "upper_front_in upper_rear_in lower_front_in lower_rear_in tie_inner_in"


def _under(group: str, leaves: str) -> tuple[str, ...]:
    return tuple(f"{group}.{leaf}" for leaf in leaves.split())


CORNER_COMPONENTS: Final[Mapping[str, tuple[str, ...]]] = {
    "upper_stud": _under("upper_stud", _STUD),
    "lower_stud": _under("lower_stud", _STUD),
    "upper_preload": ("upper_stud.preload_target_in_lb",),
    "lower_preload": ("lower_stud.preload_target_in_lb",),
    "upper_housing": _under("upper_housing", _HOUSING),
    "lower_housing": _under("lower_housing", _HOUSING),
    "upper_arm": ("upper_arm.part",),
    "shims": (
        *_under("upper_shims", "front_in rear_in"),
        "upper_arm.length_in",
        *_under("moved", "upper_front_in upper_rear_in"),
    ),
    "lower_pivots": _under("moved", "lower_front_in lower_rear_in"),
    "tie_rod": _under("tie_rod", "length_in turns"),
    "bump_spacer": ("tie_rod.outer_spacer_in", "moved.tie_inner_in"),
    "spring": _under("spring", _SPRING),
    "rubber": ("spring.rubber_count",),
    "perch": ("spring.perch.thread_showing_in",),
    "bump_stop": _under("bump_stop", "gap_in packers_in part"),
    "droop_limit": _under("droop_limit", "kind travel_in"),
    "shock": _under("shock", _SIZES),
    "revalve": _under("shock", _VALVES),
    "gas": ("shock.gas_psi",),
    "clicks": _under("shock", "compression.clicks rebound.clicks"),
    "wheel": _under("wheel", "part width_in"),
    "offset": _under("wheel", "offset_in spacer_in"),
    "tire": _under("tire", "part compound bead"),
    "cuts": ("tire.cuts",),
    "pressure": ("tire.pressure_cold_psi",),
    "rollout": ("tire.rollout_in",),
}
"""Components of a corner, and the fields (below its own name) that say what is fitted or how it is set."""

ROD: Final = (
    *("chassis_hole", "carrier_hole", "chassis_in", "carrier_in", "length_in", "on", "kind"),
    *("spring_rate_lb_per_in", "spring_preload_in", "chain_in"),
)
BAR: Final = ("hooked", "preload_turns", "preload_side", "arm_left_in", "arm_right_in", "slack_in")
CAR_COMPONENTS: Final[Mapping[str, tuple[str, ...]]] = {
    "gear": ("drivetrain.spur_ratio", "drivetrain.final_drive_ratio"),
    "brake_bias": ("brakes.front_share_percent", "brakes.rf_valve"),
}
"""Components of the whole car, and their fields (below `setup`)."""

FROM_NOTHING: Final = frozenset(
    {
        *_under("upper_shims", "front_in rear_in"),
        *_under("moved", _PIVOTS),
        *_under("tie_rod", "turns outer_spacer_in"),
        *("spring.rubber_count", "bump_stop.packers_in", "wheel.spacer_in", "tire.cuts", "preload_turns"),
    }
)
"""Absent means none of it, so appearing and vanishing are jobs; any other field that appears was only written down."""

RESET: Final[Mapping[str, str]] = {
    "upper_stud.nights": "upper_stud",
    "lower_stud.nights": "lower_stud",
    "tire.heat_cycles": "tire",
}
"""Counts that begin again at 0 with another part."""

FOLLOWS: Final[Mapping[str, tuple[str, ...]]] = {
    "spring.installed_length_in": ("spring", "perch", "rubber"),
    "lead_in": ("rod",),
    "birdcage_index_deg": ("rod",),
    "angle_deg": ("rod",),
    "rear.axle.pinion_deg": ("rod",),
    "fixing": ("ballast",),
    "marked": ("ballast",),
}
"""Fields that come out of a job on one of these components; changed alone they are left to the crew."""

_WRITTEN_STUD: Final = "sections_in friction_ratio nut_torque_ft_lb nights swing_limit_deg material"
_WRITTEN_SHOCK: Final = "clicks_counted_from notes gas_force_in_curve dyno_stroke_in dyno_date dyno_temperature_deg_f"
_WRITTEN_TIRE: Final = "loaded_radius_in rollout_at_psi rate_lb_per_in durometer_shore_a tread_depth_in"
_WRITTEN_CORNER: Final = (
    *_under("upper_stud", _WRITTEN_STUD),
    *_under("lower_stud", _WRITTEN_STUD),
    *("upper_housing.axis", "upper_arm.moves_per_turn_in", "lower_housing.axis", "lower_arm.moves_per_turn_in"),
    *_under("upper_shims", "adding_moves_pivot sizes_in"),
    *_under("tie_rod", "moves_per_turn_in thread engaged_in spacer_sizes_in"),
    *("adjusters", "target", "unsprung_lb"),
    *_under("spring", "coil_bind_in rubber_rate_lb_per_in perch.in_per_turn"),
    "bump_stop.curve_in_lb_pairs",
    *_under("shock", f"compression.curve_in_per_s_lb rebound.curve_in_per_s_lb {_WRITTEN_SHOCK}"),
    *_under("wheel", "stud_length_in nut_torque_ft_lb"),
    *_under("tire", f"{_WRITTEN_TIRE} rollout_in_per_psi heat_cycles"),
)
_WRITTEN_CAR: Final = (
    *("cg", "rules", "surface", "drivetrain.rpm_limit", "brakes.rotor_temperature_deg_f"),
    *(f"{end}.bar.{leaf}" for end in ("front", "rear") for leaf in ("rate_lb_per_in", "motion_ratio", "in_per_turn")),
)

_COMPONENT_OF: Final = {leaf: component for component, leaves in CORNER_COMPONENTS.items() for leaf in leaves}
_CAR_COMPONENT_OF: Final = {leaf: component for component, leaves in CAR_COMPONENTS.items() for leaf in leaves}


class CarField(NamedTuple):
    """A field of a setup, by the component it belongs to.

    Attributes:
        component: of the tables above, `rod`, `bar` or `ballast`; empty where no job of the table changes it.
        where: corner, `front`, `rear`, or the name of a rod or piece of ballast; empty for the whole car.
        leaf: the field below that.
        written: it is only written down.
    """

    component: str
    where: str
    leaf: str
    written: bool = False


@lru_cache(maxsize=8192)  # a season asks often about few fields
def car_field(path: Path) -> CarField:
    """Give the component of a field of a setup document.

    Example:
        >>> car_field(("setup", "front", "rf", "upper_stud", "length_in"))[:2], car_field(("notes",)).written
        (('upper_stud', 'rf'), True)
    """
    match path:
        case ("setup", "front" | "rear", wheel, *rest) if wheel in WHEELS:
            leaf = dotted(tuple(rest))
            return CarField(_COMPONENT_OF.get(leaf, ""), wheel, leaf, written=_written(leaf, _WRITTEN_CORNER))
        case ("setup", "rear", "rods", name, *rest):
            leaf = dotted(tuple(rest))
            return CarField("rod" if leaf in ROD else "", name, leaf)
        case ("setup", "front" | "rear" as end, "bar", leaf) if leaf in BAR:
            return CarField("bar", end, leaf)
        case ("setup", "ballast", name, leaf):
            return CarField("ballast" if leaf in {"weight_lb", "position_in"} else "", name, leaf)
        case ("setup", *rest):
            leaf = dotted(tuple(rest))
            return CarField(_CAR_COMPONENT_OF.get(leaf, ""), "", leaf, written=_written(leaf, _WRITTEN_CAR))
    return CarField("", "", dotted(path), written=True)


def _written(leaf: str, known: tuple[str, ...]) -> bool:
    return any(leaf == each or leaf.startswith(f"{each}.") for each in known)
