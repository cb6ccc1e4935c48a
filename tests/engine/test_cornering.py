"""A car in a corner, against published and hand-worked transfers and free bodies cut apart by hand."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from golden.free_bodies import RandomCar, corner_loads, free_bodies, random_car
from golden.wheel_loads import BANK, BARTON, NEUTRAL_BANK, ROLL_GRADIENT, TWO_AXLES, dirt_car
from studbook_service.engine.axle_springs import beam_axle, independent_wheels, upright_springs
from studbook_service.engine.car import FourWheelCar, car
from studbook_service.engine.cornering import CorneringState, Masses, Thrust, cornering_state, weight_transfer
from studbook_service.engine.examples import LINKS, MASSES
from studbook_service.engine.links import Links, roll_center_links
from studbook_service.engine.loads import Ballast, ChassisChange, rescaled
from studbook_service.engine.one_sided import droop_limit
from studbook_service.engine.ride import GRAVITY_IN_PER_S2
from studbook_service.engine.track import InPlane, in_plane, mean_speed

RIGID = 1e11
DIRT = dirt_car(front_lb_per_in=(159.4, 177.2), tire_lb_per_in=850)


def two_axles(
    *, loads: tuple[float, float], tracks: tuple[float, float], roll_stiffness: tuple[float, float], base: float
) -> FourWheelCar:
    """A car alike left and right with a given roll stiffness per radian at each axle, on rigid tires."""
    front, rear = (
        independent_wheels(left_lb_per_in=2 * k / t**2, right_lb_per_in=2 * k / t**2)
        for k, t in zip(roll_stiffness, tracks, strict=True)
    )
    return car(
        x_in=(0, 0, -base, -base),
        y_in=(tracks[0] / 2, -tracks[0] / 2, tracks[1] / 2, -tracks[1] / 2),
        loads_lb=(loads[0] / 2, loads[0] / 2, loads[1] / 2, loads[1] / 2),
        front=front,
        rear=rear,
        tires_lb_per_in=[RIGID] * 4,
    )


def beams(*, centers: tuple[float, float], tracks: tuple[float, float]) -> Links:
    """Links of two axles by the heights of their roll centers."""
    front, rear = (roll_center_links(height_in=h, track_in=t) for h, t in zip(centers, tracks, strict=True))
    return Links(front=front, rear=rear)


def test_geometric_unsprung_and_elastic_parts_as_published() -> None:
    # newtons and meters go through the same arithmetic
    sprung = [BARTON["sprung_kg"] * 9.81 * share for share in BARTON["sprung_shares"]]
    unsprung = [mass * 9.81 for mass in BARTON["unsprung_kg"]]
    total, track = sum(sprung) + sum(unsprung), BARTON["track_m"]
    roll_axis = float(np.dot(BARTON["sprung_shares"], BARTON["roll_centers_m"]))
    low = BARTON["unsprung_heights_m"]
    height = (sum(sprung) * (BARTON["above_roll_axis_m"] + roll_axis) + np.dot(unsprung, low)) / total
    stiffness = BARTON["roll_stiffness_nm_per_rad"]
    turning = cornering_state(
        two_axles(
            loads=(sprung[0] + unsprung[0], sprung[1] + unsprung[1]),
            tracks=(track, track),
            roll_stiffness=(0.7 * stiffness, 0.3 * stiffness),
            base=2.6,
        ),
        track=InPlane(BARTON["lateral_g"], 1.0),
        masses=Masses(height, np.repeat(unsprung, 2) / 2, np.repeat(low, 2)),
        links=beams(centers=BARTON["roll_centers_m"], tracks=(track, track)),
    )
    assert weight_transfer(turning.geometric_lb) == pytest.approx(BARTON["geometric_n"], rel=5e-3)
    assert weight_transfer(turning.unsprung_lb) == pytest.approx(BARTON["unsprung_n"], rel=5e-3)
    assert weight_transfer(turning.elastic_lb) == pytest.approx(BARTON["elastic_n"], rel=5e-3)
    gradient = np.radians(float(turning.roll_deg)) / (BARTON["lateral_g"] * 9.81)
    assert gradient == pytest.approx(BARTON["roll_rad_per_m_s2"], rel=5e-3)


def test_two_axles_worked_by_hand() -> None:
    tracks = TWO_AXLES["tracks_in"]
    weights = [s + u for s, u in zip(TWO_AXLES["sprung_lb"], TWO_AXLES["unsprung_lb"], strict=True)]
    low = TWO_AXLES["unsprung_heights_in"]
    height = (
        sum(TWO_AXLES["sprung_lb"]) * TWO_AXLES["sprung_height_in"] + np.dot(TWO_AXLES["unsprung_lb"], low)
    ) / sum(weights)
    turning = cornering_state(
        two_axles(
            loads=(weights[0], weights[1]),
            tracks=tracks,
            roll_stiffness=tuple(np.degrees(TWO_AXLES["roll_stiffness_in_lb_per_deg"])),
            base=108,
        ),
        track=InPlane(TWO_AXLES["lateral_g"], 1.0),
        masses=Masses(height, np.repeat(TWO_AXLES["unsprung_lb"], 2) / 2, np.repeat(low, 2)),
        links=beams(centers=TWO_AXLES["roll_centers_in"], tracks=tracks),
    )
    assert float(turning.roll_deg) == pytest.approx(TWO_AXLES["roll_deg"], abs=1e-8)
    assert weight_transfer(turning.change_lb) == pytest.approx(TWO_AXLES["transfers_lb"], abs=1e-5)


def test_roll_gradient_of_a_textbook_problem() -> None:
    base = ROLL_GRADIENT["spring_base_in"]
    springs = [
        beam_axle(
            per_wheel=upright_springs(spring_y_in=(base / 2, -base / 2), wheel_y_in=(32, -32)),
            spring_lb_per_in=(rate, rate),
        )
        for rate in ROLL_GRADIENT["rates_lb_per_in"]
    ]
    given = car(
        x_in=(0, 0, -100, -100),
        y_in=(32, -32, 32, -32),
        loads_lb=[ROLL_GRADIENT["weight_lb"] / 4] * 4,
        front=springs[0],
        rear=springs[1],
        tires_lb_per_in=[RIGID] * 4,
    )
    turning = cornering_state(
        given,
        track=InPlane(0.1, 1.0),
        masses=Masses(ROLL_GRADIENT["above_roll_axis_in"], [0] * 4, [12] * 4),
        links=beams(centers=(0, 0), tracks=(64, 64)),
    )
    assert float(turning.roll_deg) == pytest.approx(0.1 * ROLL_GRADIENT["roll_deg_per_g"], rel=1e-9)


def left_over(given: RandomCar, turning: CorneringState, track: InPlane, thrust: Thrust) -> float:
    """What is out of balance on the free bodies at the engine's answer."""
    place = [turning.heave_in, np.radians(turning.roll_deg) * 40, np.radians(turning.pitch_deg) * 60]
    wheels = turning.rise_in + turning.travel_in
    return float(np.abs(free_bodies(np.array([*place, *wheels]), given, track, thrust)[0]).max())


def test_free_bodies_in_balance() -> None:
    rng = np.random.default_rng(30)
    seen = np.zeros(2, bool)
    for _ in range(25):
        given = random_car(rng)
        track = InPlane(rng.uniform(-0.5, 1.1), rng.uniform(0.95, 1.3))
        thrust = Thrust(rng.uniform(-200, 900), rng.uniform(0.4, 0.6), rng.uniform(-5, 12))
        turning = cornering_state(
            given.engine(), track=track, masses=given.masses(), links=given.links(), thrust=thrust
        )
        assert left_over(given, turning, track, thrust) < 1e-5
        seen |= turning.engaged
    assert seen.all()  # both the stop and the chain came in somewhere


def test_free_bodies_in_balance_on_three_wheels() -> None:
    rng = np.random.default_rng(32)
    lifted = 0
    for _ in range(10):
        given = random_car(rng)
        stiff = replace(given, front=4 * given.front, roll_center=1.0, cg_height=18.0)
        track, thrust = InPlane(rng.uniform(1.25, 1.4), 1.0), Thrust(300)
        turning = cornering_state(
            stiff.engine(), track=track, masses=stiff.masses(), links=stiff.links(), thrust=thrust
        )
        assert left_over(stiff, turning, track, thrust) < 1e-5
        lifted += int(turning.lifted[0])
    assert lifted > 5


def test_a_general_root_finder_finds_the_same_place() -> None:
    rng = np.random.default_rng(31)
    for _ in range(10):
        given = random_car(rng)
        track, thrust = InPlane(rng.uniform(0.2, 0.8), 1.05), Thrust(rng.uniform(0, 500), 0.5, rng.uniform(0, 8))
        loads, roll = corner_loads(given, track, thrust)
        turning = cornering_state(
            given.engine(), track=track, masses=given.masses(), links=given.links(), thrust=thrust
        )
        assert turning.loads_lb == pytest.approx(loads, abs=1e-4)
        assert float(turning.roll_deg) == pytest.approx(roll, abs=1e-6)


def balanced(turning: CorneringState, given: FourWheelCar, masses: Masses, track: InPlane) -> None:
    """Loads sum to the weight on the track, and their moments to those of the forces applied."""
    weight = given.loads_lb.sum()
    assert turning.loads_lb.sum() == pytest.approx(weight * float(np.asarray(track.normal_g)), abs=1e-6)
    drive = float(turning.drive_lb.sum())
    before = -(given.loads_lb * given.at_in[0]).sum() * float(np.asarray(track.normal_g))
    after = -(turning.loads_lb * given.at_in[0]).sum()
    assert after - before == pytest.approx(drive * float(np.asarray(masses.cg_height_in)), rel=1e-9, abs=1e-4)


def test_loads_sum_to_the_forces_applied() -> None:
    track = in_plane(speed_in_per_s=85 * 17.6, radius_in=700 * 12, bank_deg=12)
    turning = cornering_state(DIRT, track=track, masses=MASSES, links=LINKS, thrust=Thrust(500, 0.5, 5))
    balanced(turning, DIRT, MASSES, track)
    parts = turning.geometric_lb + turning.unsprung_lb + turning.elastic_lb
    assert parts == pytest.approx(turning.change_lb, abs=1e-6)
    yaw = np.radians(5)
    path = turning.side_lb.sum() * np.cos(yaw) + turning.drive_lb.sum() * np.sin(yaw)
    assert path == pytest.approx(2440 * float(np.asarray(track.lateral_g)), rel=1e-12)


def test_drive_lifts_along_the_side_view_lines() -> None:
    # slopes of 0.71 and 0.54 lift about 0.6 lb per lb of thrust (invented car, another solver)
    straight = InPlane(0.0, 1.0)
    driven = cornering_state(DIRT, track=straight, masses=MASSES, links=LINKS, thrust=Thrust(1000))
    assert driven.geometric_lb[2:].sum() == pytest.approx(625, abs=1e-6)
    flat = cornering_state(DIRT, track=straight, masses=MASSES, links=level(LINKS), thrust=Thrust(1000))
    assert driven.rise_in[2:].mean() - flat.rise_in[2:].mean() > 0.5


def level(links: Links) -> Links:
    """The same links, level in side view."""
    return links._replace(drive_slopes=(0.0, 0.0))


def test_a_hung_left_rear_is_not_a_lifted_wheel() -> None:
    chained = replace(DIRT, stops=(droop_limit(name="lr chain", wheel="lr", travel_in=1.0),))
    hung = cornering_state(chained, track=InPlane(0.9, 1.0), masses=MASSES, links=LINKS, thrust=Thrust(400))
    assert hung.engaged.tolist() == [True]
    assert hung.travel_in[2] == pytest.approx(-1.0, abs=1e-3)
    assert not hung.lifted.any()
    assert hung.loads_lb[2] > 50


def test_a_lifted_wheel_is_solved_with_three() -> None:
    stiff = replace(DIRT, rates_lb_per_in=DIRT.rates_lb_per_in * np.array([4.0, 4, 1, 1])[:, None])
    low = LINKS._replace(rear=roll_center_links(height_in=3, track_in=64.5))
    lifted = cornering_state(stiff, track=InPlane(1.3, 1.0), masses=MASSES, links=low)
    assert lifted.lifted.tolist() == [True, False, False, False]
    assert lifted.loads_lb[0] == 0
    assert lifted.side_lb[0] == 0
    assert lifted.loads_lb.sum() == pytest.approx(2440, abs=1e-6)


def test_a_car_that_turns_over_has_no_answer_and_spoils_no_other() -> None:
    turning = cornering_state(DIRT, track=InPlane([0.5, 3.0], 1.0), masses=MASSES, links=LINKS)
    assert turning.closed.tolist() == [True, False]
    assert np.isnan(turning.loads_lb[:, 1]).all()
    alone = cornering_state(DIRT, track=InPlane(0.5, 1.0), masses=MASSES, links=LINKS)
    assert turning.loads_lb[:, 0] == pytest.approx(alone.loads_lb, abs=1e-7)


def test_a_car_that_tipped_off_its_scales_has_no_corner() -> None:
    tipped = rescaled(DIRT, ChassisChange(ballast=[Ballast(np.array([0.0, 5000.0]), -200, 200)]))
    turning = cornering_state(tipped, track=InPlane(0.5, 1.0), masses=MASSES, links=LINKS)
    assert turning.closed.tolist() == [True, False]
    assert np.isnan(turning.loads_lb).all(axis=0).tolist() == [False, True]


def test_the_shift_of_the_weight_is_in_the_transfer() -> None:
    # all that the loads' moment has more than the forces' at rest is the weight's shift about the roll axis
    turning = cornering_state(DIRT, track=InPlane(0.9, 1.0), masses=MASSES, links=LINKS)
    moment = -(turning.change_lb * DIRT.at_in[1]).sum()
    shift = moment - 2440 * 0.9 * 18.5
    sprung = 2440 - np.sum(MASSES.unsprung_lb)
    per_wheel = shift / 64.75 / 2
    assert 4 < per_wheel < 12  # about 8 lb a wheel at 0.9 g: common practice, no source
    assert 0 < shift / sprung < 18.5 * np.radians(float(turning.roll_deg))


def test_bar_and_perch_before_the_corner() -> None:
    wedge = rescaled(DIRT, ChassisChange(perch_in=[0, 0, 0.5, 0]))
    track = InPlane(0.6, 1.0)
    with_wedge = cornering_state(wedge, track=track, masses=MASSES, links=LINKS)
    without = cornering_state(DIRT, track=track, masses=MASSES, links=LINKS)
    # nothing comes on or off, so the corner adds to the wedge but for the shares of side force
    assert with_wedge.loads_lb - without.loads_lb == pytest.approx(wedge.loads_lb - DIRT.loads_lb, abs=3)


def test_banked_track() -> None:
    speed = BANK["speed_mph"] * 17.6
    track = in_plane(speed_in_per_s=speed, radius_in=BANK["radius_ft"] * 12, bank_deg=BANK["bank_deg"])
    assert float(np.asarray(track.lateral_g)) == pytest.approx(BANK["lateral_g"], abs=1e-12)
    assert float(np.asarray(track.normal_g)) == pytest.approx(BANK["normal_g"], abs=1e-12)


def test_the_neutral_speed_of_a_bank_as_published() -> None:
    radius = NEUTRAL_BANK["radius_m"] / 0.0254
    neutral = np.sqrt(radius * GRAVITY_IN_PER_S2 * np.tan(np.radians(NEUTRAL_BANK["bank_deg"])))
    assert neutral * 0.0254 == pytest.approx(NEUTRAL_BANK["speed_m_s"], abs=0.1)
    track = in_plane(speed_in_per_s=neutral, radius_in=radius, bank_deg=NEUTRAL_BANK["bank_deg"])
    assert float(np.asarray(track.lateral_g)) == pytest.approx(0, abs=1e-14)


def test_corner_speed_is_not_the_laps_mean() -> None:
    assert float(mean_speed(distance_in=26400, time_s=20, corner_factor=[1.0, 0.9])[1]) == pytest.approx(1188)


@pytest.mark.parametrize(
    ("given", "names"),
    [
        ({"track": InPlane(np.inf, 1.0)}, "lateral_g is inf g"),
        ({"track": InPlane(0.5, 0.0)}, "normal_g is 0 g"),
        ({"masses": MASSES._replace(cg_height_in=-18)}, "cg_height_in is -18 in"),
        ({"masses": MASSES._replace(unsprung_lb=(700, 70, 70, 70))}, "below the load on its wheel"),
        ({"masses": MASSES._replace(unsprung_lb=(70, 70))}, "unsprung_lb must have shape"),
        ({"thrust": Thrust(100, 2.0)}, "left_share is 2"),
        ({"thrust": Thrust(100, 0.5, 90)}, "yaw_deg is 90 deg"),
    ],
)
def test_bad_arguments_are_refused_by_name(given: dict[str, Any], names: str) -> None:
    with pytest.raises(ValueError, match=names):
        cornering_state(DIRT, **{"track": InPlane(0.5, 1.0), "masses": MASSES, "links": LINKS, **given})


@pytest.mark.parametrize(
    ("speed", "radius", "bank", "names"),
    [(-1, 100, 0, "speed_in_per_s is -1"), (1, 0, 0, "radius_in is 0 in"), (1, 100, 80, "bank_deg is 80 deg")],
)
def test_bad_arguments_of_a_track(speed: float, radius: float, bank: float, names: str) -> None:
    with pytest.raises(ValueError, match=names):
        in_plane(speed_in_per_s=speed, radius_in=radius, bank_deg=bank)
