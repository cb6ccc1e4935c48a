"""Stagger by the rolling of two unequal wheels, gears by units."""

import numpy as np
import pytest

from golden.joints_and_parts import GEAR, STAGGER, STAGGER_NEEDED
from studbook_service.engine.gears import engine_speed, final_drive, road_speed
from studbook_service.engine.tires import rolling_radius, stagger, stagger_needed, static_tire_deflection


def test_radius() -> None:
    got = rolling_radius(left_rollout_in=STAGGER["inner"], right_rollout_in=STAGGER["outer"], track_in=STAGGER["track"])
    assert float(got) == pytest.approx(STAGGER["radius"], rel=1e-9)
    even = rolling_radius(left_rollout_in=[86.0, 88.5], right_rollout_in=[86.0, 86.0], track_in=65)
    assert even.tolist() == [np.inf, -STAGGER["radius"]]


def test_needed() -> None:
    for bank, want in ((0, STAGGER_NEEDED["flat"]), (STAGGER_NEEDED["bank_deg"], STAGGER_NEEDED["banked"])):
        got = stagger_needed(
            radius_in=12 * STAGGER_NEEDED["radius_ft"],
            track_in=STAGGER_NEEDED["track"],
            inner_rollout_in=STAGGER_NEEDED["inner"],
            bank_deg=bank,
        )
        assert float(got) == pytest.approx(want, rel=1e-9)


def test_needed_stagger_rolls_round_the_turn() -> None:
    # Simulated: both wheels turn alike; the axle's heading changes by the difference of their paths over the track.
    needed = float(stagger_needed(radius_in=2400, track_in=64.5, inner_rollout_in=87.6))
    paths = np.array([87.6, 87.6 + float(stagger(left_rollout_in=87.6, right_rollout_in=87.6 + needed))])
    heading, place = 0.0, np.zeros(2)
    for _ in range(20_000):
        turn = (paths[1] - paths[0]) / 100 / 64.5
        step = paths.mean() / 100
        place = place + step * np.array([np.cos(heading + turn / 2), np.sin(heading + turn / 2)])
        heading += turn
    center = np.array([0.0, 2400.0])
    assert np.hypot(*(place - center)) == pytest.approx(2400, rel=1e-4)
    again = rolling_radius(left_rollout_in=paths[0], right_rollout_in=paths[1], track_in=64.5)
    assert float(again) == pytest.approx(2400)


@pytest.mark.parametrize(("rollout", "radius"), [(84.6, 13.05), (87.6, 13.55), (91.4, 14.15)])
def test_sink_of_invented_tires_is_of_the_usual_size(rollout: float, radius: float) -> None:
    assert (
        0.25 <= float(static_tire_deflection(rollout_in=rollout, loaded_radius_in=radius)) <= 0.45
    )  # common practice, no source


def test_a_standing_engine_has_no_speed_and_none_turns_backward() -> None:
    assert float(road_speed(engine_rpm=0, ratio=5.83, rollout_in=86)) == 0
    assert float(road_speed(engine_rpm=0.5, ratio=5.83, rollout_in=86)) > 0
    with pytest.raises(ValueError, match="engine_rpm is -1 rpm; it must be at least 0 rpm"):
        road_speed(engine_rpm=-1, ratio=5.83, rollout_in=86)


def test_gears() -> None:
    speed = road_speed(engine_rpm=GEAR["rpm"], ratio=GEAR["ratio"], rollout_in=GEAR["rollout"])
    assert float(speed) == pytest.approx(GEAR["mph"], rel=1e-9)
    inches_a_minute = float(speed) * 5280 * 12 / 60
    assert inches_a_minute / GEAR["rpm"] == pytest.approx(GEAR["per_engine_turn"], rel=1e-9)
    back = engine_speed(road_mph=speed, ratio=GEAR["ratio"], rollout_in=GEAR["rollout"])
    assert float(back) == pytest.approx(GEAR["rpm"])
    assert float(final_drive(ring_and_pinion=4.86, spur=1.25)) == pytest.approx(6.075)


def test_bad_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="track_in is 0 in; it must be above 0 in"):
        rolling_radius(left_rollout_in=86, right_rollout_in=88, track_in=0)
    with pytest.raises(ValueError, match=r"radius_in is 30 in; it must be above 32\.5 in"):
        stagger_needed(radius_in=30, track_in=65, inner_rollout_in=86)
    with pytest.raises(ValueError, match="bank_deg"):
        stagger_needed(radius_in=3000, track_in=65, inner_rollout_in=86, bank_deg=80)
    with pytest.raises(ValueError, match="left_rollout_in"):
        stagger(left_rollout_in=-86, right_rollout_in=86)
    with pytest.raises(ValueError, match="loaded_radius_in"):
        static_tire_deflection(rollout_in=86, loaded_radius_in=0)
    with pytest.raises(ValueError, match="ratio is 0 to 1"):
        road_speed(engine_rpm=6000, ratio=0, rollout_in=86)
    with pytest.raises(ValueError, match="road_mph"):
        engine_speed(road_mph=-1, ratio=5, rollout_in=86)
    with pytest.raises(ValueError, match="spur"):
        final_drive(ring_and_pinion=4, spur=-1)
