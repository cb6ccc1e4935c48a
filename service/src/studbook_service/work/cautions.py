"""Cautions of the card and of kinds of jobs; common practice, no source."""

from collections.abc import Mapping
from typing import Final

CARD: Final = (
    "Figures are computed from what was measured and entered; this card is no certificate.",
    "A ball joint that fails takes steering and brakes with it. Renew a bent, cracked or loose part; never straighten.",
    "Follow the part maker's torque and service instructions and the series' rules and technical inspection.",
    "Structural changes belong to a qualified fabricator or engineer.",
)
"""Said once on every card."""

CAUTIONS: Final[Mapping[str, str]] = {
    "lift": (
        "Lift only at jack points, wheels chocked, two stands under it; nobody under a car on a jack, engine off, "
        "fuel and hot exhaust clear."
    ),
    "spring_out": (
        "A spring or bolt under load flies: spring out means arm or axle held; the limit chain is on before the "
        "rear is lifted."
    ),
    "lower_joint": (
        "The lower joint usually carries the car in tension: arm on a stand or jack, and the nut left on by its "
        "threads until the taper lets go. Never loosen its nut or cap with the spring loaded."
    ),
    "taper": (
        "Taper: same included angle, checked with blue (three quarters of it in contact), clean and dry, no shim or "
        "sleeve. After torquing never back off for the cotter: go on to the next slot. A nylon nut is used once; "
        "two threads show."
    ),
    "preload": (
        "Free means free without play; cap locked by wire or screw, and set with the taper not drawn up out of "
        "line. New play means stop; high torque hides play."
    ),
    "bind": (
        "A bound stud breaks in one night: spring out, full droop to full bump, lock to lock, chains on and off; "
        "watch stud, shank, hose and the rim against the tie rod."
    ),
    "rod_ends": (
        "Thread engaged at least one diameter at each rod end, safety washers on; a bump spacer puts its longer "
        "bolt in bending."
    ),
    "contact": (
        "Look at both joints, tie rod and ends, spindle, arms, wheel, hub and rack. Crack test by dye or magnet at "
        "a shop: plating hides cracks, chromed shafts snap. No heating, welding or straightening; renew in pairs "
        "with the tie-rod end."
    ),
    "gas": "Release a gas shock before opening it; nitrogen only, face clear.",
    "collar": "Lock the coil-over's collar.",
    "driveshaft": (
        "Check the driveshaft at the hiked attitude: its yoke neither bottoms nor leaves, its joints do not bind, "
        "the hoop is fitted."
    ),
    "chain": "The chain must take the droop: a car with more droop than its shock has hangs on the shock's eye.",
    "ballast": (
        "Two bolts, not clamps; painted with the car's number; never in the cockpit. It must survive a roll, and a "
        "weight moved between races is what gets cars thrown out."
    ),
    "hot": "Hot oil, rotors and exhaust; alcohol burns unseen: engine off, no air gun near a hot tank.",
    "stagger": "More stagger or another size on a spool heats the rear: gear again.",
    "cage": "Mount tires in a cage; stretch them at their maker's pressure, no higher.",
    "wheel_nuts": "Torque the lug nuts again after the first laps.",
    "dirt_floor": "On a dirt floor pads and strings are good to 15 lb and 1/16 in.",
    "cut": "A cut tire stays cut: going back takes another tire.",
}
"""By the names under which the job table lists them."""
