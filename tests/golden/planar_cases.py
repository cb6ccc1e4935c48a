"""Planar roll-center cases and an anti-dive example, each with its source."""

from typing import Any

Case = dict[str, Any]

# Graphical construction (front view: y outboard, z up, in; the instant center is where the arms' lines meet, the roll
# center where the line from it to the patch crosses the center plane), verified by a four-bar linkage's velocities.
# The construction is that of any text on vehicle dynamics; the numbers are this project's own.
PLANAR: Case = {
    "lower_inner": (12.0, 6.5),
    "lower_outer": (28.0, 6.0),
    "upper_inner": (17.0, 15.0),
    "upper_outer": (26.0, 18.0),
    "patch_y": 31.0,
    "instant_center": (-6.742857142857144, 7.085714285714285),
    "roll_center_height": 5.819833459500377,
    "swing_arm_in": 37.74285714285715,
    "camber_deg_per_in_of_patch_travel": -1.518056232367813,  # exactly 1/swing arm, in rad
    "patch_dy_dz": 0.18773656363045083,
}

# Limit cases: the line to an instant center at infinity is parallel to the arms.
PARALLEL_HORIZONTAL: Case = {
    "lower_inner": (12.0, 6.0),
    "lower_outer": (28.0, 6.0),
    "upper_inner": (14.0, 16.0),
    "upper_outer": (26.0, 16.0),
    "patch_y": 31.0,
    "roll_center_height": 0.0,
}
PARALLEL_INCLINED: Case = {"up_inboard_deg": 5.0, "patch_y": 31.0, "roll_center_height": 2.7121485693036442}

# Definitions of the two roll centers: W. C. Mitchell, "Asymmetric Roll Centers", SAE 983085 (read in part); the
# numbers are computed from them by hand.
ASYMMETRIC: Case = {
    "instant_center_left": (3.0, 6.0),
    "instant_center_right": (-8.0, 5.0),
    "patch_y": (31.0, -30.0),
    "side_force_lb": (600.0, 1800.0),
    "kinematic": (-0.397058823529413, 6.727941176470589),
    "slopes": (-0.21428571428571427, 0.22727272727272727),
    "by_force_at_center": 6.774350649350649,
}

# super7thheaven.co.uk/anti-dive-geometry: 60 % front braking, 2550 mm wheelbase, 600 mm cg height, 25 % anti-dive needs
# a side-view angle of 5.6 deg (as printed).
ANTI_DIVE: Case = {"share": 0.6, "wheelbase_mm": 2550.0, "cg_height_mm": 600.0, "percent": 25.0, "angle_deg": 5.6}
