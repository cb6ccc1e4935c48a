"""The cautions that stand with every geometry answer."""

FRONT = (
    "Computed from what was measured and entered; not a certificate. Check on the car with gauge and dial.",
    (
        "A ball joint that fails takes steering and brakes with it: after any contact inspect stud, housing, upright;"
        " replace a bent, cracked or loose part, never straighten it."
    ),
    "Follow the part maker's torque and service instructions and the series' rules and technical inspection.",
)

STUD = (
    "Support the car on stands; a lower joint may carry the car: never loosen it with the spring loaded.",
    "Before driving, swing the wheel lock to lock at full droop and bump: stud, hose, wheel and rod must clear.",
)
