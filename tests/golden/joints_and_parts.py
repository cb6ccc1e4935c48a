"""Published and hand-computed values for joints, studs, shocks, springs, bars, tires and gears, each with its source.

"Computed" values were computed from the named formula before this engine existed; the formula's source is named.
"""

from typing import Any

# Exact factors of NIST SP 811 (2008), App. B.8.
N_PER_LB = 4.4482216152605
N_PER_M_PER_LB_PER_IN = 175.12683524647636
KG_PER_LB = 0.45359237
N_M_PER_IN_LB = 0.1129848290276167
M_PER_IN = 0.0254

# Turning torque of a new lower ball joint, read on the fifth turn: 0.98 to 3.43 N m, printed as 9 to 30 in·lbf
# (passenger-car workshop manual, estimateca.mymitchell.com RM100000001ECDM).
MANUAL_TORQUE: dict[str, Any] = {"n_m": (0.98, 3.43), "in_lb_printed": (9, 30)}

# Seat factors by integrating μ p r over the hemisphere; computed, 800 lb, μ 0.1, r 0.75 in.
SEATS: dict[tuple[str, str], dict[str, float]] = {
    ("spin", "uniform"): {"factor": 1.5707963267948966, "torque_in_lb": 94.24777960769379},
    ("spin", "cosine"): {"factor": 1.0, "torque_in_lb": 60.0},
    ("tilt", "cosine"): {"factor": 1.2732395447329528, "torque_in_lb": 76.39437268410977},
}

# Rates and friction of an invented left front corner by five independent constraint solvers and virtual work; computed.
HYSTERESIS: dict[str, Any] = {
    "points": {
        "lower_front": (7.0, 11.0, 6.5),
        "lower_rear": (-7.0, 11.5, 6.25),
        "lower_ball": (0.0, 28.0, 6.0),
        "upper_front": (4.0, 17.0, 15.5),
        "upper_rear": (-4.0, 17.25, 15.0),
        "upper_ball": (-1.0, 26.0, 18.0),
        "tie_inner": (5.0, 10.75, 7.25),
        "tie_outer": (5.5, 27.25, 7.0),
        "wheel_center": (0.0, 31.0, 13.0),
    },
    "camber_deg": -3.0,
    "toe_deg": -0.1,
    "loaded_radius_in": 13.0,
    "torque_in_lb": {"lower_ball": 40, "upper_ball": 20},
    "rates": {
        "lower_ball": 0.03092258580185779,
        "upper_ball": 0.07416381013299035,
        "lower_pivot": 0.05534430057506453,
        "upper_pivot": 0.09891139213275904,
        "tie_outer": 0.031876251821002705,
    },
    "friction_lb": 2.7201796347341185,
}

# Four invented corners: spring force and axial force of the lower ball under the scale reading less the unsprung
# weight, rates of both balls. By an independent solver, rounded as it printed them.
STATICS: dict[str, Any] = {
    "dirt lf": {"patch_lb": 590 - 70, "spring_lb": 790, "axial_lb": -506, "upper": 0.0751, "lower": 0.0414},
    "dirt rf": {"patch_lb": 503 - 73, "spring_lb": 680, "axial_lb": -450, "upper": 0.0758, "lower": 0.0297},
    "asphalt lf": {"patch_lb": 750 - 78, "spring_lb": 1020, "axial_lb": -643, "upper": 0.0728, "lower": 0.0451},
    "asphalt rf": {"patch_lb": 626 - 80, "spring_lb": 871, "axial_lb": -555, "upper": 0.0749, "lower": 0.0337},
}

# Ratio of plastic to elastic section modulus of a round bar: printed 1.697 (curioustab 48894), 16/(3π).
SHAPE_FACTOR_PRINTED = 1.697

# A stud as a cantilever; computed from σ = 32M/(πd³), 4V/3A.
CANTILEVER: dict[str, Any] = {
    "across_lb": 1500.0,
    "lever_in": 1.6,
    "diameter_in": 0.75,
    "yield_psi": 151e3,
    "moment_in_lb": 2400.0,
    "bending_psi": 57946.54639150252,
    "shear_psi": 4527.073936836135,
    "yield_over_bending": 2.6058498634207328,
    "first_yield_in_lb": 6254.039672209759,
    "hinge_in_lb": 10617.1875,
}

# A round taper, d 0.5 in at the load and 1.0 in at the root, 2 in long: the peak is half-way (homeworksource.com
# 1057754); 128PL/(27πd³) from Gere and Goodno (from memory, re-derived).
TAPER: dict[str, Any] = {
    "load_lb": 1000.0,
    "length_in": 2.0,
    "tip_in": 0.5,
    "root_in": 1.0,
    "peak_at": 0.5,
    "peak_psi": 24144.394329792718,
    "root_psi": 20371.832715762604,
}

# Gere, Mechanics of Materials, 7th ed., problems 5.7-2 (N, m, Pa) and 5.7-3 (lb, in, psi), as printed.
GERE_TUBE: dict[str, Any] = {
    "load": 2400,
    "length": 8,
    "wall": 0.01,
    "tip": 0.09,
    "root": 0.27,
    "printed": 37.7e6,
    "at": 4.0,
    "ratio": 1.125,
}
GERE_BEAM: dict[str, Any] = {
    "load": 50,
    "couple": 800,
    "length": 20,
    "tip_depth": 2,
    "root_depth": 3,
    "width": 1,
    "printed": 1250,
    "at": 8.0,
    "root": 1200,
}

# Harris, Introduction to Stress Analysis (1959), problem 61: a triangular leaf is as stressed everywhere.
HARRIS_LEAF: dict[str, Any] = {"load": 10, "length": 20, "root_width": 3, "depth": 0.5, "printed": 1600}

# AISI 4140, quenched and tempered at 1000 °F: yield by two printed tables (ASM data on efunda.com; Mott, Machine
# Elements, appendix). They differ by a quarter: no strength is assumed anywhere.
STEEL_4140_1000F_YIELD_PSI: dict[str, Any] = {"asm": 834e6 / 6894.757293168361, "mott": 152e3}

# Thorby, Structural Dynamics and Vibration in Practice, table 1.2: amplitudes at which 1500 N s/m makes 1000 N.
THORBY: dict[str, Any] = {
    "coefficient_n_s_per_m": 1500,
    "force_n": 1000,
    "frequency_hz": (1, 2, 5),
    "amplitude_m": (0.106, 0.053, 0.021),
}

# E = π c ω X²: Chopra, Dynamics of Structures, 3.8 (formula read; numbers computed). c 10 lb s/in, X 1 in, 1.6 Hz.
LINEAR_CYCLE: dict[str, Any] = {
    "peak_in_per_s": 10.053096491487338,
    "force_lb": 100.53096491487338,
    "work_in_lb": 315.82734083485946,
}

# F = 20 |v|ⁿ, X 1 in, 1.6 Hz; computed from 2√π C ωⁿ Xⁿ⁺¹ Γ(n/2+1)/Γ(n/2+3/2).
POWER_LAW_WORK: dict[float, float] = {0: 80.0, 0.5: 221.69754199082695, 1: 631.6546816697189, 2: 5390.119950248267}

# Straight lines with a knee at 3 in/s (8 then 3 lb s/in; 20 then 3), X 1 in, 1.6 Hz; computed by two quadratures.
DIGRESSIVE: dict[str, Any] = {
    "work_in_lb": 224.76202214071762,
    "coefficient": 7.116610662857138,
    "compression_lb": 45.159289474462014,
    "rebound_lb": 81.15928947446201,
    "ratio": 1.7971781757186043,
}

# OpenStax College Physics, examples 16.1 and 16.4 (FOSSEE 3845), as printed.
OPENSTAX: dict[str, Any] = {"mass_kg": 900, "rate_n_per_m": 65300.0, "frequency_hz": 1.36}
# Rao, Mechanical Vibrations, "Shock absorber for a motorcycle", as printed.
RAO: dict[str, Any] = {"mass_kg": 200, "rate_n_per_m": 2358.2652, "coefficient_n_s_per_m": 554.4981, "zeta": 0.4037}
# NCERT Physics XI, problem 14.21 (after Halliday and Resnick), as printed: amplitude halves in a cycle of 0.7691 s.
NCERT: dict[str, Any] = {
    "mass_kg": 750,
    "rate_n_per_m": 5e4,
    "coefficient_n_s_per_m": 1351.58,
    "period_s": 0.7691,
    "left": 0.5,
}

# kw = ks (c/b)², Barton and Fieldhouse, Automotive Chassis Engineering (2018), eq. 3.29-3.33; the lean of the spring
# belongs inside the square. Computed.
LEVER: dict[str, Any] = {
    "rate": 300,
    "spring_arm": 10,
    "wheel_arm": 16,
    "lean_deg": 20,
    "spindle": 117.1875,
    "leaned": 103.47916658900265,
}

# f = √(k g/W)/2π, c = 2√(kW/g) (Gillespie, Fundamentals of Vehicle Dynamics, ch. 5, from memory). Computed.
RIDE: dict[str, Any] = {
    "weight_lb": 600.0,
    "wheel": 200.0,
    "tire": 1500.0,
    "coefficient": 12,
    "ride": 176.47058823529412,
    "wheel_hz": 1.8055228279652356,
    "ride_hz": 1.695993379470876,
    "zeta": 0.34033303513345514,
}

# Torsion of round bars: form-design text (books.google KetSAAAAMAAJ p. 39), printed 1.13e5 in·lb/rad; Brown University
# ENGN0310 notes, SP1: 30 mm, 0.4 m, 77 GPa, 250 N m turn 0.0163314 rad; a wire (FOSSEE 2267 ex. 4.17, recomputed).
TORSION_PRINTED: dict[str, Any] = {"outer": 1.0, "length": 10.0, "modulus": 11.5e6, "rate": 1.13e5}
TORSION_BROWN: dict[str, Any] = {
    "outer_m": 0.03,
    "length_m": 0.4,
    "modulus_pa": 77e9,
    "torque_n_m": 250,
    "turn_rad": 0.0163314,
}
TORSION_WIRE: dict[str, Any] = {
    "outer_m": 0.0005,
    "length_m": 25,
    "modulus_pa": 82e9,
    "turns": 10,
    "torque_n_m": 0.0012645430638895743,
}
# k = GJ/(L a²); opposite wheel motions of z twist the bar by 2z. Computed.
BAR: dict[str, Any] = {
    "outer": 1.25,
    "length": 36.0,
    "arm": 10.0,
    "modulus": 11.5e6,
    "ratio": 0.8,
    "track": 66,
    "twist": 76565.88133977809,
    "end": 765.6588133977809,
    "roll_in_lb_per_deg": 37254.650944324654,
    "per_wheel_travel": 980.0432811491596,
}
# An invented asphalt car's tube: 1.25 in over 0.75 in, 34 in, arms of 14 in: 360 lb per in at the arms' ends. Computed.
TUBE: dict[str, Any] = {"outer": 1.25, "inner": 0.75, "length": 34, "arm": 14, "end": 360}

# Two wheels on one shaft roll as a cone; on a bank the radius along the surface is R/cos β. mph = rpm C/(1056 ratio).
# Computed: no worked example in print was found.
STAGGER: dict[str, Any] = {"outer": 88.5, "inner": 86.0, "track": 65.0, "radius": 2268.5}
STAGGER_NEEDED: dict[str, Any] = {
    "radius_ft": 250,
    "track": 65.0,
    "inner": 86.0,
    "bank_deg": 14,
    "flat": 1.8837405223251895,
    "banked": 1.827190955357571,
}
GEAR: dict[str, Any] = {
    "rpm": 6500,
    "ratio": 5.83,
    "rollout": 86.5,
    "mph": 91.3265372420604,
    "per_engine_turn": 14.83704974271012,
}
