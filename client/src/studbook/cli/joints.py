"""`studbook joints REF`."""

from collections.abc import Callable
from typing import Annotated, Final, Literal

from cyclopts import Parameter
from msgspec import UNSET, UnsetType

from studbook.cli.connection import open_book_of
from studbook.cli.environment import bold
from studbook.cli.number_format import fixed
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import bullets, headline, page_end, print_answer, side_by_side, table, wrapped
from studbook.wire.joints import Joint, JointFriction, JointsAnswer, JointsCorner, Strength, StudStress, WheelForces
from studbook.wire.units import opt


def joints(
    ref: ReadRef,
    /,
    *,
    vertical: Annotated[float | None, Parameter(help="Load on the tire, lb; the scales' unless given.")] = None,
    side: Annotated[float, Parameter(help="Side force on the tire, lb, + to the left.")] = 0.0,
    braking: Annotated[float, Parameter(help="Braking force on the tire, lb, + to the rear.")] = 0.0,
    brake: Annotated[Literal["free", "locked"] | None, Parameter(help="Locked when braking, unless given.")] = None,
    contact_inboard: Annotated[float, Parameter(help="Force on the rim, lb, + toward the car's middle.")] = 0.0,
    contact_rearward: Annotated[float, Parameter(help="Force on the rim, lb, + to the rear.")] = 0.0,
    on: Annotated[Literal["both", "lf", "rf"], Parameter(help="The wheel these forces act on.")] = "both",
    travel: Annotated[float, Parameter(help="Wheel up from where it stands, in.")] = 0.0,
    tight: Annotated[float, Parameter(help="Torque of a tight ball joint, in-lb.")] = 50.0,
    free: Annotated[float, Parameter(help="Torque of a free one, in-lb.")] = 5.0,
    json: Json = False,
) -> None:
    """Show friction, swing and load of a revision's front joints."""
    forces = WheelForces(
        vertical_lb=opt(vertical),
        brake=opt(brake),
        side_lb=side,
        braking_lb=braking,
        contact_inboard_lb=contact_inboard,
        contact_rearward_lb=contact_rearward,
        on=on,
        travel_in=travel,
        tight_in_lb=tight,
        free_in_lb=free,
    )
    with open_book_of(ref) as (book, [there]):
        answer = book.joints(there, forces=forces)
    print_answer(answer, joints_page, json=json)


SIDES: Final = {"lf": "LF", "rf": "RF"}
JOINTS: Final = {
    "upper_ball": "upper ball",
    "lower_ball": "lower ball",
    "upper_pivot": "upper pivots",
    "lower_pivot": "lower pivots",
    "tie_inner": "tie rod, inner",
    "tie_outer": "tie rod, outer",
}
BALLS: Final = {"upper_ball": "upper", "lower_ball": "lower"}

WHEEL: Final[dict[str, Callable[[JointsCorner], str]]] = {
    "friction lb, to break away": lambda corner: _total(corner.breakaway),
    "  of it by load": lambda corner: _load(corner.breakaway),
    "friction lb, running": lambda corner: _total(corner.running),
    "dead band, in of travel": lambda corner: fixed(corner.dead_band_in, 3),
    "lost in an inch up and down, in-lb": lambda corner: fixed(corner.cycle_loss_in_lb, 1),
    "steering, both balls, in-lb": lambda corner: fixed(corner.steering_in_lb, 0),
    "wheel rate lb/in": lambda corner: fixed(corner.wheel_rate_lb_per_in, 0),
    "spring lb": lambda corner: fixed(corner.spring_lb, 0),
    "tie rod lb, + tension": lambda corner: fixed(corner.tie_rod_lb, 0),
}


def joints_page(answer: JointsAnswer) -> list[str]:
    """Lay an answer out: cautions, assumptions, friction at the wheels, each joint, then loads and studs."""
    corners = {name: each for name in SIDES if isinstance(each := getattr(answer, name), JointsCorner)}
    page = [*bullets("Cautions", answer.cautions)[1:], *bullets("Assumptions", answer.assumptions), ""]
    page += headline([answer.tight_joints])
    page += [bold(line) for each in answer.bindings for line in wrapped(each, first="- ", indent="  ")]
    page += ["", *side_by_side("AT THE WHEEL", {SIDES[name]: each for name, each in corners.items()}, WHEEL)]
    for name, corner in corners.items():
        title = None if corner.breakaway is UNSET else corner.breakaway.title
        page += wrapped(f"  {SIDES[name]} friction: {title}") if title else []
        page += wrapped(corner.against_shock.text, indent="  ") if corner.against_shock is not UNSET else []
    page += ["", *_turning(corners), "", *_loads(corners), *_studs(corners)]
    return page + page_end(answer.missing, [], [])


def _turning(corners: dict[str, JointsCorner]) -> list[str]:
    header = ["JOINT", "turns\nrad/in", "breakaway\nin-lb", "running\nin-lb", "load adds\nin-lb", "swing left\ndeg"]
    rows = [
        [
            f"{SIDES[name]} {label}",
            fixed(joint.turns_rad_per_in, 4),
            fixed(joint.breakaway_in_lb, 0),
            fixed(joint.running_in_lb, 0),
            fixed(joint.load_in_lb, 0),
            _margin(joint),
        ]
        for name, corner in corners.items()
        for key, label in JOINTS.items()
        if isinstance(joint := corner.joints.get(key), Joint)
    ]
    return table(header, rows, right=frozenset(range(1, 6)))


def _loads(corners: dict[str, JointsCorner]) -> list[str]:
    page = [
        line
        for name, corner in corners.items()
        if corner.load is not UNSET
        for line in wrapped(f"{SIDES[name]} under {corner.load.text}", indent="  ", first="")
    ]
    rows = [
        [
            f"{SIDES[name]} {arm} ball",
            fixed(joint.load.size_lb, 0),
            fixed(joint.load.across_lb, 0),
            f"{fixed(abs(joint.load.axial_lb), 0)} {joint.load.axial_is}",
        ]
        for name, arm, joint in _balls(corners)
        if joint.load is not UNSET
    ]
    if not rows:
        return page
    return [*page, *table(["LOAD", "lb", "across lb", "along lb"], rows, right=frozenset({1, 2}))]


def _studs(corners: dict[str, JointsCorner]) -> list[str]:
    studs = [(name, arm, joint.stud) for name, arm, joint in _balls(corners) if isinstance(joint.stud, StudStress)]
    if not studs:
        return []
    header = ["STUD", "bends\npsi", "along\npsi", "shears\npsi", "half an inch\nlonger, psi", "worst at"]
    rows = [
        [
            f"{SIDES[name]} {arm}",
            fixed(stud.bending_psi, 0),
            fixed(stud.axial_psi, 0),
            fixed(stud.shear_psi, 0),
            _half_inch(stud),
            f"{stud.worst_section} ({stud.title})",
        ]
        for name, arm, stud in studs
    ]
    page = ["", *table(header, rows, right=frozenset({1, 2, 3, 4}))]
    for name, arm, stud in studs:
        if isinstance(stud.strength, Strength):
            page += wrapped(_strength(f"{SIDES[name]} {arm}", stud.strength), indent="  ", first="")
    return page


def _strength(stud: str, strength: Strength) -> str:
    first = "bends before it shears" if strength.bends_first else "shears before it bends"
    return (
        f"{stud} stud, {strength.yield_psi:,.0f} psi by {strength.source}: the force across it is"
        f" {strength.share_of_first_yield:.2f} of first yield at {strength.first_yield_lb:,.0f} lb; bends right through"
        f" at {strength.hinge_lb:,.0f}, shears at {strength.shear_lb:,.0f}; {first}. Under these forces only"
    )


def _balls(corners: dict[str, JointsCorner]) -> list[tuple[str, str, Joint]]:
    return [(name, arm, corner.joints[key]) for name, corner in corners.items() for key, arm in BALLS.items()]


def _total(friction: JointFriction | UnsetType) -> str:
    return "-" if isinstance(friction, UnsetType) else fixed(friction.total_lb, 1)


def _load(friction: JointFriction | UnsetType) -> str:
    return "-" if isinstance(friction, UnsetType) or not friction.load_lb else fixed(friction.load_lb, 1)


def _margin(joint: Joint) -> str:
    if joint.swing is UNSET:
        return "-"
    return f"BINDS {fixed(joint.swing.margin_deg, 1)}" if joint.swing.binds else fixed(joint.swing.margin_deg, 1)


def _half_inch(stud: StudStress) -> str:
    over = dict(zip(stud.longer.longer_in, stud.longer.bending_psi, strict=True))
    return fixed(over.get(0.5, UNSET), 0)
