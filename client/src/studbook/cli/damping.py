"""`studbook damping REF`."""

from collections.abc import Callable
from typing import Annotated, Final

from cyclopts import Parameter
from msgspec import UNSET, UnsetType

from studbook.cli.connection import open_book_of
from studbook.cli.number_format import fixed
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import figure_table, page_end, print_answer, side_by_side, wrapped
from studbook.wire.damping import (
    AxleRide,
    BarAnswer,
    DampingAnswer,
    DampingCorner,
    DampingQuery,
    GearAnswer,
    ShockAnswer,
    ShockAtSpeed,
    ShockCycle,
    StaggerAnswer,
)
from studbook.wire.units import opt


def damping(
    ref: ReadRef,
    /,
    *,
    stroke: Annotated[float, Parameter(help="Stroke of the shaft's cycle, in.")] = 2.0,
    frequency: Annotated[float, Parameter(help="Its cycles a second.")] = 1.0,
    radius: Annotated[float | None, Parameter(help="Radius of the turn, ft: what stagger does it need?")] = None,
    bank: Annotated[float, Parameter(help="Bank of the turn, deg.")] = 0.0,
    speed: Annotated[float | None, Parameter(help="Road speed, mph: how fast does the engine turn?")] = None,
    json: Json = False,
) -> None:
    """Show a revision's spring and wheel rates, damping, bars, stagger and gearing."""
    query = DampingQuery(
        stroke_in=stroke,
        frequency_hz=frequency,
        radius_ft=opt(radius),
        bank_deg=bank,
        speed_mph=opt(speed),
    )
    with open_book_of(ref) as (book, [there]):
        answer = book.damping(there, conditions=query)
    print_answer(answer, damping_page, json=json)


SIDES: Final = {"lf": "LF", "rf": "RF", "lr": "LR", "rr": "RR"}
CORNER: Final[dict[str, Callable[[DampingCorner], str]]] = {
    "spring lb/in": lambda corner: fixed(corner.spring_rate_lb_per_in, 0),
    "wheel rate lb/in": lambda corner: fixed(corner.wheel_rate_lb_per_in, 0),
    "shock motion ratio": lambda corner: fixed(corner.shock_motion_ratio, 3),
    "gas lb on the shaft": lambda corner: _shock(corner, lambda shock: fixed(shock.gas_lb, 0)),
    "work a cycle in-lb": lambda corner: _cycle(corner, lambda cycle: fixed(cycle.work_in_lb, 0)),
    "damping at the wheel lb s/in": lambda corner: _cycle(
        corner, lambda cycle: fixed(cycle.wheel_coefficient_lb_s_per_in, 1)
    ),
    "  of critical": lambda corner: _cycle(corner, lambda cycle: fixed(cycle.damping_ratio, 2)),
    "ride Hz": lambda corner: fixed(corner.ride_hz, 2),
    "wheel hop Hz": lambda corner: fixed(corner.hop_hz, 1),
    "static tire deflection in": lambda corner: fixed(corner.static_tire_deflection_in, 2),
}


def damping_page(answer: DampingAnswer) -> list[str]:
    """Lay an answer out: shocks by shaft speed, the corners side by side, axles, gears, and how far to trust it."""
    corners = {name: each for name in SIDES if isinstance(each := getattr(answer, name), DampingCorner)}
    page = _speeds(corners)
    if corners:
        columns = {SIDES[name]: corner for name, corner in corners.items()}
        page += [*([""] if page else []), *side_by_side("CORNER", columns, CORNER)]
        page += _cycle_lines(corners)
    page += _rear(answer.rear_ride)
    for end in ("front", "rear"):
        page += _bar(end, getattr(answer, f"{end}_bar")) + _stagger(end, getattr(answer, f"{end}_stagger"))
    return page + _gears(answer.gears) + page_end(answer.missing, answer.assumptions, answer.cautions)


def _speeds(corners: dict[str, DampingCorner]) -> list[str]:
    """Give compression and rebound at each shaft speed, and their ratio."""
    shocks = {name: each.shock for name, each in corners.items() if isinstance(each.shock, ShockAnswer)}
    speeds = list(dict.fromkeys(speed for shock in shocks.values() for speed in shock.at))
    if not speeds:
        return []
    rows = [[f"at {speed} in/s", *(_forces(shock.at.get(speed)) for shock in shocks.values())] for speed in speeds]
    return figure_table(["SHOCK lb\ncompression/\nrebound, ratio", *(SIDES[name] for name in shocks)], rows)


def _forces(at: ShockAtSpeed | None) -> str:
    if at is None:
        return "-"
    return f"{at.compression_lb:.0f}/{at.rebound_lb:.0f} {fixed(at.rebound_over_compression_ratio, 2)}"


def _cycle_lines(corners: dict[str, DampingCorner]) -> list[str]:
    for corner in corners.values():
        if isinstance(corner.shock, ShockAnswer) and isinstance(corner.shock.cycle, ShockCycle):
            cycle = corner.shock.cycle
            text = f"Cycle: {cycle.stroke_in:g} in at {cycle.frequency_hz:g} Hz, {cycle.peak_in_per_s:.1f} in/s at most"
            return wrapped(text, indent="  ")
    return []


def _rear(ride: AxleRide | UnsetType) -> list[str]:
    if not isinstance(ride, AxleRide):
        return []
    return [
        "",
        *wrapped(
            f"Rear axle in bump: {fixed(ride.rate_lb_per_in, 0)} lb/in, {fixed(ride.damping_lb_s_per_in, 1)} lb s/in,"
            f" {fixed(ride.hz, 2)} Hz, {fixed(ride.damping_ratio, 2)} of critical",
        ),
    ]


def _bar(end: str, bar: BarAnswer | UnsetType) -> list[str]:
    if not isinstance(bar, BarAnswer):
        return []
    hooked = "" if isinstance(bar.hooked, UnsetType) else ", hooked" if bar.hooked else ", unhooked"
    return wrapped(
        f"{end.capitalize()} bar: {fixed(bar.rate_lb_per_in, 0)} lb at each wheel per in of difference as entered;"
        f" by its dimensions {fixed(bar.left_end_lb_per_in, 0)} left, {fixed(bar.right_end_lb_per_in, 0)} right, at the"
        f" arms' ends{hooked}"
    )


def _stagger(end: str, answer: StaggerAnswer | UnsetType) -> list[str]:
    if not isinstance(answer, StaggerAnswer):
        return []
    text = f"{end.capitalize()} stagger {answer.stagger_in:.2f} in"
    if answer.rolls_round_ft is not UNSET:
        side = "left" if answer.rolls_round_ft > 0 else "right"
        text += f", rolls round {abs(answer.rolls_round_ft):.0f} ft to the {side}"
    if answer.needed_in is not UNSET:
        text += f"; that turn needs {answer.needed_in:.2f} in"
    return wrapped(text)


def _gears(answer: GearAnswer | UnsetType) -> list[str]:
    if not isinstance(answer, GearAnswer):
        return []
    text = f"Final drive {answer.final_drive_ratio:.3f}"
    if answer.mph_per_1000_rpm is not UNSET:
        text += f", {answer.mph_per_1000_rpm:.2f} mph per 1,000 rpm"
    if answer.limit_mph is not UNSET:
        text += f", {answer.limit_mph:.0f} mph at the limit"
    if answer.engine_rpm is not UNSET:
        text += f"; {answer.engine_rpm:,.0f} rpm at that speed"
    return wrapped(text)


def _shock(corner: DampingCorner, cell: Callable[[ShockAnswer], str]) -> str:
    return cell(corner.shock) if isinstance(corner.shock, ShockAnswer) else "-"


def _cycle(corner: DampingCorner, cell: Callable[[ShockCycle], str]) -> str:
    return _shock(corner, lambda shock: cell(shock.cycle) if isinstance(shock.cycle, ShockCycle) else "-")
