"""The cautions that stand with every geometry answer."""

FRONT = (
    "Computed from what was measured and entered; not a certificate. Check on the car with gauge and dial.",
    (
        "A ball joint that fails takes steering and brakes with it: after any contact inspect stud, housing, spindle; "
        "replace a bent, cracked or loose part, never straighten it."
    ),
    "Follow the part maker's torque and service instructions and the series' rules and technical inspection.",
)

STUD = (
    "Support the car on stands; a lower joint may carry the car: never loosen it with the spring loaded.",
    "Before driving, swing the wheel lock to lock at full droop and bump: stud, hose, wheel and rod must clear.",
)

TAPER = "A wrong taper holds by its rim and breaks: check the cone with blue, clean and dry, before it is drawn up."

REAR = (
    FRONT[0],
    (
        "Lift only at jack points, on two stands; axle and arms held and the limit chain on before a rear spring "
        "comes out."
    ),
    (
        "After a change of rods check the driveshaft at the hiked attitude: its yoke must neither bottom nor leave, "
        "its joints must not bind."
    ),
    FRONT[2],
)

ATTITUDE = (
    FRONT[0],
    "This does not say whether the car takes this attitude on the track, or what holds it there.",
    FRONT[2],
)

JOINTS = (
    *FRONT,
    (
        "A strength figure is a ratio under the forces stated here, never permission to race a part: contact, a loose "
        "nut and fatigue are outside it."
    ),
    (
        "The lower joint usually carries the car in tension: arm on a stand or jack, car on stands, and the nut left "
        "on by its threads until the taper lets go. A spring or bolt under load flies."
    ),
    (
        "Taper: check it with blue, same included angle, clean and dry, no shim or sleeve. Never back off the nut to "
        "line up a cotter: go on to the next slot. A nylon nut is used once."
    ),
    (
        "A joint is right when it turns freely without play; lock its cap. New play means stop, and high torque hides "
        "play."
    ),
    "Swing the joints with the spring out, full droop to full bump, lock to lock: a stud that binds breaks in a night.",
    (
        "After contact, have the corner crack-tested: plating hides cracks. No heating, welding or straightening; "
        "replace in pairs with the tie-rod end. Structural changes belong to a qualified fabricator or engineer."
    ),
)

DAMPING = (
    FRONT[0],
    FRONT[2],
    "Release a gas shock before opening it; nitrogen only, face clear. Lock the coil-over collar.",
    (
        "Lift at jack points only, chocked and on two stands; a spring out means axle and arm held, chain on before "
        "lifting the rear."
    ),
    (
        "More stagger or another size on a spool heats the rear; gear again. A chain must take the droop, not the "
        "shock's eye."
    ),
)

LOADS = (
    FRONT[0],
    (
        "Scale after every change of height, spring, tire or ballast: car settled, pressures and stagger set first, "
        "bar unhooked and then hooked. On dirt, pads and strings are good to 15 lb and 1/16 in."
    ),
    "A spring or bolt under load flies: car on two stands, perch turned with its wrench, nobody under a car on a jack.",
    FRONT[2],
)

CORNERING = (
    FRONT[0],
    "A steady state on a smooth track: bumps, curbs and other cars are not in it.",
    FRONT[2],
)

RACE = (
    FRONT[0],
    "The series' scales and rule book govern: this is a prediction from your scales and your entries.",
    "Ballast on two through bolts, painted with the car's number, never in the cockpit; a move is scaled again.",
)

RETURNED = (
    (
        "Read before anything is touched: pressures and stagger as they came, then pads, heights, plates. Look at "
        "what is beyond tolerance before you correct it."
    ),
    FRONT[1],
    "Where the floor is dirt, pads and strings are good to 15 lb and 1/16 in.",
)
