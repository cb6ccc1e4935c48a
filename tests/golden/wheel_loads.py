"""Published and hand-worked cases of weights, load transfer and banked corners."""

from typing import Any

from studbook_service.engine.axle_springs import beam_axle, independent_wheels, upright_springs
from studbook_service.engine.car import FourWheelCar, car

Case = dict[str, Any]

CG_EQUAL_RADII: Case = {
    # h = r + [b - L F/W] cot(theta): openbooks.link/?p=9580 (course note), eq. 3; the numbers are invented, h is 15.
    "raised_level_lb": 1316.0,
    "ground_level_lb": 1484.0,
    "raised_tilted_lb": 1308.712697459876,
    "wheelbase_in": 108.0,
    "tilt_deg": 8.0,
    "raised_radius_in": 13.0,
    "ground_radius_in": 13.0,
}
CG_UNEQUAL_RADII: Case = {
    # Worked out from the statics; that it matters: SAE 2004-01-1076 (abstract). h is 15, and 15.374 if one forgets it.
    **CG_EQUAL_RADII,
    "raised_tilted_lb": 1308.8076326556172,
    "raised_radius_in": 12.6,
    "ground_radius_in": 13.4,
}
CG_FORGOTTEN_RADII_IN = 15.373945037901562

CORNER_WEIGHTS: Case = {
    # Moments about the axes, any text on statics; invented car.
    "loads_lb": (790.0, 640.0, 700.0, 670.0),
    "wheelbase_in": 108.0,
    "tracks_in": (66.0, 65.0),
    "left_percent": 53.214285714285715,
    "front_percent": 51.07142857142857,
    "cross_percent": 47.857142857142854,
    "bite_lb": 30.0,
    "behind_front_in": 52.84285714285714,
    "left_of_middle_in": 2.1160714285714284,
}

WEIGHT_JACKING: Case = {
    # p = D / [1/k_LF + 1/k_RF + (t_F/t_R)^2 (1/k_LR + 1/k_RR)], by hand and by a linear solve; invented car.
    "rates_lb_per_in": (180.0, 220.0, 160.0, 190.0),
    "tracks_in": (66.0, 65.0),
    "left_front_in": 0.5,
    "change_lb": (22.75712177951246, -22.75712177951243, -23.10723134535109, 23.107231345351092),
}

BARTON: Case = {
    # Barton & Fieldhouse, Automotive Chassis Engineering, Springer 2018, p. 174, as printed, N and m. The printed front
    # elastic part (1556) is a misprint for 1566; the split 350 : 150 of the roll stiffness is inferred.
    "lateral_g": 0.6,
    "sprung_kg": 1280.0,
    "above_roll_axis_m": 0.365,
    "roll_stiffness_nm_per_rad": 28650.0,
    "sprung_shares": (0.54, 0.46),
    "roll_centers_m": (0.07, 0.32),
    "unsprung_kg": (140.0, 180.0),
    "unsprung_heights_m": (0.28, 0.30),
    "track_m": 1.46,
    "geometric_n": (195.0, 760.0),
    "unsprung_n": (158.0, 218.0),
    "elastic_n": (1566.0, 671.0),
    "roll_rad_per_m_s2": 0.0194,
}

TWO_AXLES: Case = {
    # Elastic, geometric and unsprung parts, small roll with the weight's shift (from memory of the usual texts); the
    # moments of the expected answer close to 1e-6 in lb. Invented car.
    "sprung_lb": (1120.0, 1260.0),
    "sprung_height_in": 17.0,
    "roll_centers_in": (2.5, 10.0),
    "unsprung_lb": (180.0, 240.0),
    "unsprung_heights_in": (12.5, 13.0),
    "roll_stiffness_in_lb_per_deg": (25000.0, 12000.0),
    "tracks_in": (66.0, 65.0),
    "lateral_g": 1.2,
    "roll_deg": 0.8224793408524144,
    "transfers_lb": (403.36338668652064, 442.05772446506114),
}

ROLL_GRADIENT: Case = {
    # K_phi = K s^2 / 2, d(phi)/d(a) = W h / (K_phi - W h): from memory of the usual texts; data of a textbook problem.
    "weight_lb": 3000.0,
    "above_roll_axis_in": 20.0,
    "rates_lb_per_in": (150.0, 100.0),
    "spring_base_in": 60.0,
    "roll_deg_per_g": 8.814735309704973,
}

BANK: Case = {
    # Weight and V^2/R resolved in the track's plane.
    "speed_mph": 85.0,
    "radius_ft": 700.0,
    "bank_deg": 12.0,
    "lateral_g": 0.4670845218156295,
    "normal_g": 1.121622474831446,
}
NEUTRAL_BANK: Case = {
    # OpenStax College Physics, example 6.5: 45.8 m/s at 65 deg and 100 m needs no side force.
    "bank_deg": 65.0,
    "radius_m": 100.0,
    "speed_m_s": 45.8,
}

DIRT_SCALES: Case = {"lf": 590.0, "rf": 503.0, "lr": 718.0, "rr": 629.0}
DIRT_STUD: Case = {
    # Another solver's answers for the invented dirt car with a wheel held 0.52 in higher at the right front, on rigid
    # tires, with 244.5 and 274.6 lb/in at the front wheels and spindle rear springs.
    "stud_in": -0.52,
    "rise_in": (-0.07, -0.46, 0.18, -0.21),
    "change_lb": (17.0, -17.0, -17.0, 17.0),
    "cross_percent": 48.6,
    "bite_lb": 54.0,
}
DIRT_REAR: Case = {
    # The same source: 225 and 200 lb/in at +20.5 and -21.5 in between patches at 31 and -33.5 in.
    "heave_lb_per_in": 425.0,
    "roll_in_lb_per_deg": 3260.0,
    "left_perch_lb_per_in": 51.4,
    "as_wheel_rates_in_lb_per_deg": 7690.0,
}


def dirt_car(*, front_lb_per_in: tuple[float, float], tire_lb_per_in: float) -> FourWheelCar:
    """The invented dirt car on its scales."""
    return car(
        x_in=(0.0, 0.0, -103.4, -103.0),
        y_in=(32.0, -33.0, 31.0, -33.5),
        loads_lb=tuple(DIRT_SCALES.values()),
        front=independent_wheels(
            left_lb_per_in=front_lb_per_in[0], right_lb_per_in=front_lb_per_in[1], left_ratio=0.652, right_ratio=0.646
        ),
        rear=beam_axle(
            per_wheel=upright_springs(spring_y_in=(20.5, -21.5), wheel_y_in=(31.0, -33.5)), spring_lb_per_in=(225, 200)
        ),
        tires_lb_per_in=(tire_lb_per_in,) * 4,
    )
