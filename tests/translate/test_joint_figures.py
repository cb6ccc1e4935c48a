"""Every figure of a joints answer: by statics, by SciPy's solution of the same corner, and by hand."""

import math
from typing import Any, Literal

import numpy as np
import pytest

from golden.front_by_scipy import STEP, body_velocity, readings, spindle_turn, spring_length, swung
from golden.front_corners import FRONT_CORNERS, corner
from golden.moves import corner_survey
from studbook.history.canonical import Tree
from studbook.wire.joints import WheelForces
from studbook_service.engine.steering import CenterLink, center_link
from studbook_service.engine.swing import swing_margin
from translate.test_joints import CORNERING, UNSPRUNG, answer, fitted

LOWER = "setup__front__rf__lower_stud"


def told(tree: Tree, asked: WheelForces | None = None) -> Any:
    """An answer whose every figure is expected: one that is left out fails where it is compared."""
    return answer(tree, asked)


def about(name: str, arm: str) -> np.ndarray:
    """Turning of an arm per inch of travel, rad: its angle between two travels, about its shaft."""
    far = np.zeros(3)
    low, high = (swung(f"dirt {name}", arm, far, each)[1] for each in (-STEP, STEP))
    return np.asarray((high * low.inv()).as_rotvec() / (2 * STEP))


@pytest.mark.parametrize("arm", ["upper", "lower"])
@pytest.mark.parametrize("name", ["lf", "rf"])
def test_spin_and_tilt_of_a_ball(name: str, arm: str) -> None:
    joint = getattr(told(fitted()), name).joints[f"{arm}_ball"]
    points = readings(f"dirt {name}", 0.0)["points"]
    stud = points["upper_ball"] - points["lower_ball"]
    stud /= np.linalg.norm(stud)
    rate = about(name, arm) - body_velocity(f"dirt {name}", 0.0)[2]
    spin = abs(rate @ stud)
    assert joint.turns_rad_per_in == pytest.approx(np.linalg.norm(rate), abs=2e-6)
    assert joint.spins_rad_per_in == pytest.approx(spin, abs=2e-6)
    assert joint.tilts_rad_per_in == pytest.approx(np.linalg.norm(rate - (rate @ stud) * stud), abs=2e-6)
    pivot = getattr(told(fitted()), name).joints[f"{arm}_pivot"]
    assert pivot.spins_rad_per_in == pytest.approx(np.linalg.norm(about(name, arm)), abs=2e-6)
    assert pivot.tilts_rad_per_in == pytest.approx(0, abs=2e-6)


def held(corner: Any) -> list[np.ndarray]:
    """Forces of both arms on the balls."""
    return [np.array(corner.joints[f"{arm}_ball"].load.force_lb) for arm in ("upper", "lower")]


@pytest.mark.parametrize("name", ["lf", "rf"])
@pytest.mark.parametrize("contact", [0.0, 400.0])
def test_the_spindle_is_in_equilibrium(name: Literal["lf", "rf"], contact: float) -> None:
    """Six equations of a rigid body, and no moment of the bare upper arm about its shaft: seven unknowns."""
    wall = {"contact_rearward_lb": contact, "contact_inboard_lb": 1.5 * contact} if contact else {}
    asked = WheelForces(
        vertical_lb=1148,
        side_lb=950,
        braking_lb=350,
        on=name,
        brake="locked",
        contact_ahead_in=6,
        contact_up_in=2,
        **wall,
    )
    tree = fitted(**{f"setup__front__{name}__wheel__width_in": 10})
    corner = getattr(told(tree, asked), name)
    at = readings(f"dirt {name}", 0.0)
    points, center, spin = at["points"], at["points"]["wheel_center"], at["spin"]
    survey = corner_survey(f"dirt {name}")
    rod = survey["tie_inner"] - points["tie_outer"]
    applied = [
        (at["patch_in"], np.array([-350, 950, 1148 - UNSPRUNG[name]])),
        (points["upper_ball"], held(corner)[0]),
        (points["lower_ball"], held(corner)[1]),
        (points["tie_outer"], corner.tie_rod_lb * rod / np.linalg.norm(rod)),
    ]
    if contact:
        up = np.array([0.0, 0.0, 1.0]) - spin[2] * spin
        up /= np.linalg.norm(up)
        forward = survey["side"] * np.cross(spin, up)
        assert forward[0] > 0.99
        place = center + 6 * forward + 2 * up + 5 * spin
        assert corner.load.contact_at_in == pytest.approx(place, abs=1e-5)
        assert corner.load.contact_lb == [-contact, -survey["side"] * 1.5 * contact, 0]
        applied.append((place, np.array(corner.load.contact_lb)))
    assert sum(force for _, force in applied) == pytest.approx(np.zeros(3), abs=1e-3)
    assert sum(np.cross(at - center, force) for at, force in applied) == pytest.approx(np.zeros(3), abs=0.02)
    shaft = survey["upper_rear"] - survey["upper_front"]
    assert np.cross(points["upper_ball"] - survey["upper_front"], held(corner)[0]) @ shaft == pytest.approx(0, abs=0.1)
    assert corner.load.vertical_lb == 1148
    assert (corner.load.side_lb, corner.load.braking_lb, corner.load.unsprung_lb) == (950, 350, UNSPRUNG[name])


@pytest.mark.parametrize("arm", ["upper", "lower"])
def test_the_parts_of_a_load_on_a_stud(arm: str) -> None:
    load = told(fitted(), CORNERING).rf.joints[f"{arm}_ball"].load
    points = readings("dirt rf", 0.0)["points"]
    from_seat = (1 if arm == "upper" else -1) * (points["upper_ball"] - points["lower_ball"])
    along = np.array(load.force_lb) @ from_seat / np.linalg.norm(from_seat)
    assert load.axial_lb == pytest.approx(-along, abs=1e-3)  # pressed toward the seat is +
    assert load.size_lb == pytest.approx(np.linalg.norm(load.force_lb), abs=1e-4)
    assert load.across_lb == pytest.approx(math.sqrt(load.size_lb**2 - along**2), abs=1e-2)
    assert load.axial_is == ("compression" if load.axial_lb > 0 else "tension")


def test_every_stress_of_a_stud_by_hand() -> None:
    found = told(fitted(), CORNERING).rf.joints["lower_ball"]
    stud, across = found.stud, found.load.across_lb
    area = math.pi * 0.75**2 / 4
    assert (stud.lever_in, stud.slenderness) == (1.35, pytest.approx(1.35 / 0.75, abs=1e-6))
    assert stud.moment_in_lb == pytest.approx(1.35 * across, rel=1e-6)
    assert stud.axial_psi == pytest.approx(found.load.axial_lb / area, rel=1e-6)
    assert stud.shear_psi == pytest.approx(4 / 3 * across / area, rel=1e-6)
    assert stud.longer.longer_in == [0, 0.25, 0.5, 1.0]
    section = math.pi * 0.75**3 / 32
    assert stud.longer.bending_psi == pytest.approx([across * (1.35 + x) / section for x in stud.longer.longer_in])


def test_a_longer_stud_lengthens_the_lever_of_every_section() -> None:
    """A neck of 0.6 in, 1.1 in from the ball, is worst at every length: each is further from the ball by all of it."""
    material = {f"{LOWER}__material__yield_psi": 150_000, f"{LOWER}__material__source": "a test"}
    found = told(fitted(**{f"{LOWER}__sections_in": [[0.6, 1.1]]}, **material), CORNERING).rf.joints["lower_ball"]
    stud, across, section = found.stud, found.load.across_lb, math.pi * 0.6**3 / 32
    levers = [1.1 + x for x in (0, 0.25, 0.5, 1.0)]
    assert stud.longer.bending_psi == pytest.approx([across * lever / section for lever in levers])
    assert stud.longer.first_yield_lb == pytest.approx([150_000 * section / lever for lever in levers])
    assert stud.longer.hinge_lb == pytest.approx([150_000 * 0.6**3 / (6 * lever) for lever in levers])
    strength = stud.strength
    assert strength.first_yield_lb == pytest.approx(150_000 * section / 1.1)
    assert strength.hinge_lb == pytest.approx(150_000 * 0.6**3 / 6.6)
    assert strength.shear_lb == pytest.approx(150_000 / math.sqrt(3) * math.pi * 0.6**2 / 4)
    # Of the stud that is fitted, not of a longer one.
    assert strength.share_of_first_yield == pytest.approx(across / strength.first_yield_lb, abs=1e-6)
    assert stud.axial_psi == pytest.approx(found.load.axial_lb / (math.pi * 0.6**2 / 4), rel=1e-6)


def test_shares_readings_and_bands_add_up() -> None:
    corner = told(fitted()).rf
    for arm in ("upper", "lower"):
        joint = corner.joints[f"{arm}_ball"]
        assert joint.running_in_lb == pytest.approx(35)
        for kind, torque in (("breakaway", 50), ("running", 35)):
            share = getattr(corner, kind).by_joint[f"{arm}_ball"]
            assert share.preload_lb == pytest.approx(torque * joint.turns_rad_per_in, abs=1e-4)
            assert share.load_lb == 0
    for friction in (corner.breakaway, corner.running):
        assert friction.preload_lb == pytest.approx(
            sum(each.preload_lb for each in friction.by_joint.values()), abs=1e-5
        )
    tight = corner.tight
    assert tight.tight_band_in == pytest.approx(2 * tight.tight_lb / corner.wheel_rate_lb_per_in, abs=2e-6)
    assert tight.free_band_in == pytest.approx(2 * tight.free_lb / corner.wheel_rate_lb_per_in, abs=2e-6)
    other = told(fitted(), WheelForces(tight_in_lb=80, free_in_lb=20)).rf.tight
    turning = sum(corner.joints[f"{arm}_ball"].turns_rad_per_in for arm in ("upper", "lower"))
    assert (other.tight_lb, other.free_lb) == pytest.approx((80 * turning, 20 * turning), abs=1e-4)


def test_the_speed_below_which_joints_resist_more_than_a_straight_shock() -> None:
    mounts = {"chassis_in": [-0.6, -17.4, 23.6], "moving_in": [0.2, -22.9, 8.6], "sits_on": "lower_arm"}
    shock = "setup__front__rf__shock"
    curves = {"compression": 1.5, "rebound": 2.0}
    edits: dict[str, Any] = {
        f"{shock}__{way}__curve_in_per_s_lb": [[speed, slope * speed] for speed in (1, 2, 4, 8)]
        for way, slope in curves.items()
    }
    found = told(fitted(survey__front__rf__shock=mounts, **edits)).rf.against_shock
    assert found.compression_below_in_per_s == pytest.approx(found.friction_lb / 1.5, rel=1e-5)
    assert found.rebound_below_in_per_s == pytest.approx(found.friction_lb / 2.0, rel=1e-5)


@pytest.mark.parametrize("name", ["lf", "rf"])
def test_a_wheel_rate_by_the_force_that_the_scales_less_the_unsprung_weight_put_in_the_spring(name: str) -> None:
    """By k MR^2 + F dMR/dz, the ratio and its change from three lengths of the spring."""
    given = FRONT_CORNERS["corners"][f"dirt {name}"]["spring"]
    step = 0.01
    low, here, high = (spring_length(f"dirt {name}", given, each) for each in (-step, 0.0, step))
    ratio, growth = (low - high) / (2 * step), -(low - 2 * here + high) / step**2
    corner = getattr(told(fitted()), name)
    assert abs(growth * corner.spring_lb) > 0.5
    wanted = given["rate_lb_per_in"] * ratio**2 + corner.spring_lb * growth
    # What the unsprung weight counts for, a seventh of the force, is more than this.
    assert corner.wheel_rate_lb_per_in == pytest.approx(wanted, abs=0.02)


def stud_from_housing(name: str, arm: str, travel: float, rack: float) -> float:
    """Angle of a stud from its housing's axis, both the line of the balls at the survey."""
    survey = corner_survey(f"dirt {name}")
    line = survey["upper_ball"] - survey["lower_ball"]
    stud = spindle_turn(f"dirt {name}", travel, rack).apply(line)
    housing = swung(f"dirt {name}", arm, np.zeros(3), travel, rack)[1].apply(line)
    return math.degrees(math.acos(np.clip(stud @ housing / (line @ line), -1, 1)))


@pytest.mark.parametrize("arm", ["upper", "lower"])
@pytest.mark.parametrize("name", ["lf", "rf"])
def test_the_worst_place_of_a_swing(name: str, arm: str) -> None:
    tree = fitted(setup__front__steering__half_travel_in=1.5)
    asked = WheelForces(low_in=-2, high_in=2, step_in=0.5)
    swing = getattr(told(tree, asked), name).joints[f"{arm}_ball"].swing
    over = {
        (travel, rack): stud_from_housing(name, arm, travel, rack)
        for travel in np.arange(-2, 2.01, 0.5)
        for rack in (-1.5, -0.75, 0.0, 0.75, 1.5)
    }
    worst = max(over, key=lambda place: over[place])
    assert (swing.at_travel_in, swing.at_rack_in) == pytest.approx(worst)
    assert swing.limit_deg == 25
    assert swing.margin_deg == pytest.approx(25 - over[worst], abs=1e-4)
    assert swing.angle_deg == pytest.approx(0, abs=1e-4)


@pytest.mark.parametrize("name", ["lf", "rf"])
def test_a_swing_is_that_of_its_own_end_of_a_center_link(name: str) -> None:
    """A short idler arm carries the right inner end round a tighter circle than the pitman arm the left one."""
    points = {
        "pitman_pivot": (11.0, 8.0, 9.0),
        "pitman_axis": (0.0, 0.0, 1.0),
        "pitman_end": (5.3, 8.0, 8.2),
        "idler_pivot": (8.0, -8.0, 9.0),
        "idler_axis": (0.0, 0.2, 1.0),
        "idler_end": (5.3, -8.0, 8.2),
    }
    edits: dict[str, Any] = {f"survey__front__steering__{point}": list(place) for point, place in points.items()}
    edits = {path if path.endswith("_axis") else f"{path}_in": place for path, place in edits.items()}
    tree = fitted(survey__front__steering__kind="center_link", setup__front__steering__half_travel_in=1.5, **edits)
    ends = {side: corner_survey(f"dirt {corner}")["tie_inner"] for side, corner in (("left", "lf"), ("right", "rf"))}
    racks = np.array([-1.5, -0.75, 0.0, 0.75, 1.5])
    moved = center_link(CenterLink(**points, left_inner=ends["left"], right_inner=ends["right"]), shift_in=racks)
    for arm in ("upper", "lower"):
        swing = getattr(told(tree, WheelForces(low_in=-2, high_in=2, step_in=0.5)), name).joints[f"{arm}_ball"].swing
        margins = [
            swing_margin(
                corner(f"dirt {name}"),
                joint=arm,
                limit_deg=25,
                travel_in=np.arange(-2, 2.01, 0.5),
                steer_in=shift,
            )
            for shift in (moved.left, moved.right)
        ]
        own, other = margins if name == "lf" else margins[::-1]
        assert swing.margin_deg == pytest.approx(float(own.worst_deg), abs=1e-5)
        assert swing.at_rack_in == racks[int(own.worst_steer)]
        assert abs(float(own.worst_deg) - float(other.worst_deg)) > 1e-4  # ten times the tolerance
