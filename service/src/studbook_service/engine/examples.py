"""Two front corners and a rear axle of invented numbers, in the range of a short-track car, for the doctests."""

from studbook_service.engine.axle_pose import solve_axle
from studbook_service.engine.axle_springs import beam_axle, independent_wheels, upright_springs
from studbook_service.engine.car import car
from studbook_service.engine.corner import corner_from_survey, mount
from studbook_service.engine.cornering import Masses
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.links import Links, n_lines, roll_center_links
from studbook_service.engine.one_sided import droop_limit
from studbook_service.engine.rear_axle import LinkRod, rear_axle_from_survey
from studbook_service.engine.wheel import wheel

CORNER = corner_from_survey(
    side=-1,
    upper_front=(4.4, -16.9, 15.9),
    upper_rear=(-5.2, -17.1, 15.3),
    upper_ball=(-0.9, -25.6, 18.3),
    lower_front=(2.2, -10.4, 7.0),
    lower_rear=(-11.8, -10.6, 6.7),
    lower_ball=(0.1, -27.4, 7.2),
    tie_inner=(5.3, -12.0, 8.04),
    tie_outer=(5.8, -27.0, 8.9),
    wheel_center=(0.0, -32.055, 13.517),
    camber_deg=-4.0,
    toe_deg=-0.12,
    loaded_radius_in=13.55,
    spring=mount(chassis=(-0.6, -17.4, 23.6), moving=(0.2, -22.9, 8.6), body="lower_arm"),
)

LEFT_CORNER = corner_from_survey(
    side=1,
    upper_front=(4.4, 14.7, 16.6),
    upper_rear=(-5.2, 14.9, 16.1),
    upper_ball=(-0.4, 24.9, 18.0),
    lower_front=(2.2, 10.0, 7.1),
    lower_rear=(-11.8, 10.2, 6.8),
    lower_ball=(0.1, 26.8, 7.0),
    tie_inner=(5.3, 10.74, 8.32),
    tie_outer=(5.8, 26.4, 8.6),
    wheel_center=(0.0, 32.683, 13.0321),
    camber_deg=3.0,
    toe_deg=-0.12,
    loaded_radius_in=13.05,
)

AXLE = rear_axle_from_survey(
    rods={
        "left_upper": LinkRod((-87.6, 21.4, 22.6), (-102.4, 22.6, 18.4), "birdcage_left"),
        "left_lower": LinkRod((-88.8, 21.8, 10.6), (-103.9, 23.0, 9.4), "birdcage_left"),
        "right_upper": LinkRod((-86.4, -22.4, 21.0), (-102.0, -24.6, 18.9), "birdcage_right"),
        "right_lower": LinkRod((-88.2, -22.6, 10.0), (-103.6, -24.8, 9.9), "birdcage_right"),
        "torque_link": LinkRod((-71.0, -1.5, 16.0), (-101.2, -1.5, 22.4), "axle"),
        "lateral_bar": LinkRod((-100.2, 15.5, 14.2), (-99.6, -5.0, 11.0), "axle"),
    },
    wheel_left=(-103.4, 31.0, 13.55),
    wheel_right=(-103.0, -33.5, 14.15),
    left_radius_in=13.55,
    right_radius_in=14.15,
)

CAR = car(
    x_in=(0.0, 0.0, -103.4, -103.0),
    y_in=(32.0, -33.0, 31.0, -33.5),
    loads_lb=(590, 503, 718, 629),
    front=independent_wheels(left_lb_per_in=159.4, right_lb_per_in=177.2, left_ratio=0.652, right_ratio=0.646),
    rear=beam_axle(
        per_wheel=upright_springs(spring_y_in=(20.5, -21.5), wheel_y_in=(31.0, -33.5)), spring_lb_per_in=(225, 200)
    ),
    tires_lb_per_in=(800, 900, 750, 850),
    stops=[droop_limit(name="lr chain", wheel="lr", travel_in=5.0)],
)

LINKS = Links(
    front=n_lines(left_slope=-0.0986, right_slope=0.1501),
    rear=roll_center_links(height_in=11.1, track_in=64.5),
    drive_slopes=(0.71, 0.54),
)
MASSES = Masses(cg_height_in=18.5, unsprung_lb=(70, 73, 120, 126), unsprung_height_in=(13.0, 13.5, 13.9, 13.9))

POSE = solve_travel(CORNER, travel_in=0.0)
WHEEL = wheel(POSE)
AXLE_POSE = solve_axle(AXLE, bump_in=0.0, roll_deg=0.0)
