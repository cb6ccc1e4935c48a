"""A revision's car in a left-hand corner: loads, weight transfer, roll, travels, and camber to the track."""

from collections.abc import Mapping

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.loads import Cornering as Wanted
from studbook.wire.loads import CorneringAnswer, CornerWheel, WeightTransfer
from studbook_service.engine import VERSION
from studbook_service.engine.axle_pose import AxlePose
from studbook_service.engine.car import percentages
from studbook_service.engine.centers import n_line_slope, roll_center
from studbook_service.engine.cornering import (
    NEGLECTED,
    CorneringState,
    Masses,
    Thrust,
    cornering_state,
    weight_transfer,
)
from studbook_service.engine.links import Links, n_lines, roll_center_links
from studbook_service.engine.loads import rescaled
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.rear_centers import RearWheels, side_slope
from studbook_service.engine.track import MPH_IN_IN_PER_S, InPlane, in_plane, mean_speed
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import WheelAlignment
from studbook_service.translate import cautions
from studbook_service.translate.bars_and_stops import END
from studbook_service.translate.document import Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.rescaling import OnItsWheels, car_on_its_wheels
from studbook_service.translate.stances import ride_height, stances
from studbook_service.translate.states import finite, rounded
from studbook_service.translate.weighing import weighed_height, wheel_radius
from studbook_service.translate.whole_car import WholeCar, said
from studbook_service.translate.words import CORNER

PARTS = {
    "total_lb": "change_lb",
    "geometric_lb": "geometric_lb",
    "unsprung_lb": "unsprung_lb",
    "elastic_lb": "elastic_lb",
}


def cornering_answer(tree: Tree, *, origins: Mapping[str, Tree], wanted: Wanted) -> CorneringAnswer:
    """Put a document's car in a corner.

    Args:
        tree: the setup document.
        origins: where readings were entered; `scales` for those of the scales.
        wanted: the corner; it has a speed, or a time, a distance and the factor between them.

    Returns:
        The answer. Camber to the track is left out where the linkages cannot follow.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: it cannot be computed, and why.
    """
    found = car_on_its_wheels(tree, origins=origins)
    whole = found.whole
    masses = _masses(whole.page)
    speed = speed_in_per_s(wanted)
    track = in_plane(speed_in_per_s=speed, radius_in=12 * wanted.radius_ft, bank_deg=wanted.banking_deg)
    thrust = Thrust(wanted.drive_force_lb, wanted.drive_left_percent / 100, wanted.yaw_deg)
    car = rescaled(found.since.car, found.since.change)
    try:
        run = cornering_state(car, track=track, masses=masses, links=_links(whole), thrust=thrust)
    except ValueError as error:
        raise CannotCloseError(f"the car cannot be put in this corner: {error}") from error
    if not run.closed:
        along, square = (float(np.asarray(each)) for each in track)
        raise CannotCloseError(
            "the car does not come to rest in this corner, it turns over or is driven off its wheels:"
            f" {along:.2f} g along the track, {square:.2f} g square to it"
        )
    return _told(found, run, track, speed)


def speed_in_per_s(wanted: Wanted) -> float:
    """Give the speed in the corner, in/s.

    Raises:
        ValueError: neither a speed is given, nor all of time, distance and the ratio between them.
    """
    if wanted.speed_mph is not UNSET:
        return wanted.speed_mph * MPH_IN_IN_PER_S
    if wanted.time_s is UNSET or wanted.distance_ft is UNSET or wanted.corner_speed_ratio is UNSET:
        raise ValueError("a corner needs speed_mph, or time_s, distance_ft and corner_speed_ratio")
    mean = mean_speed(
        distance_in=12 * wanted.distance_ft, time_s=wanted.time_s, corner_factor=wanted.corner_speed_ratio
    )
    return float(mean)


def _masses(page: Document) -> Masses:
    unsprung = [page.get(f"setup.{END[name]}.{name}.unsprung_lb") for name in WHEELS]
    lacking = [
        f"setup.{END[name]}.{name}.unsprung_lb" for name, each in zip(WHEELS, unsprung, strict=True) if each is None
    ]
    radii = [wheel_radius(page, name) for name in WHEELS]
    lacking += [
        f"survey.{END[name]}.{name}.loaded_radius_in"
        for name, each in zip(WHEELS, radii, strict=True)
        if np.isnan(each)
    ]
    height = page.get("setup.cg.height_in")
    if height is None and (weighed := weighed_height(page)) is not None:
        height = float(weighed.height_in)
    if height is None:
        lacking.append("setup.cg.height_in")
    if lacking:
        raise FieldsMissingError([Missing(subject="cornering", fields=lacking)])
    page.assume("Unsprung weight is taken to be at the height of the wheel centers")
    return Masses(cg_height_in=height, unsprung_lb=np.array(unsprung, float), unsprung_height_in=np.array(radii))


def _links(whole: WholeCar) -> Links:
    """Read what the links carry past the springs: n-lines at the front, the axle's roll center at the rear."""
    if whole.fronts is None or whole.placed is None or whole.rears is None:
        raise FieldsMissingError(whole.missing or [Missing(subject="cornering", fields=["survey.rear.rods"])])
    left, right = _sides(whole.fronts)
    return Links(
        front=n_lines(left_slope=n_line_slope(left), right_slope=n_line_slope(right)),
        rear=_rear_links(whole.placed, whole.rears),
        drive_slopes=np.array([side_slope(whole.placed, each) for each in whole.rears]),
    )


def _sides(fronts: WheelAlignment) -> tuple[WheelAlignment, WheelAlignment]:
    return fronts.take((0,)), fronts.take((1,))


def _rear_links(placed: AxlePose, rears: RearWheels) -> Array:
    center = roll_center(left=rears.left, right=rears.right)
    if not bool(center.exists):
        raise CannotCloseError("the rear axle has no roll center where it stands: its n-lines are parallel")
    shift = np.mean([placed.velocity(each.patch)[1, 0] for each in rears])
    return roll_center_links(
        height_in=center.height_in, track_in=rears.left.patch[1] - rears.right.patch[1], shift_per_bump=shift
    )


def _told(found: OnItsWheels, run: CorneringState, track: InPlane, speed: float) -> CorneringAnswer:
    page, static = found.whole.page, found.loads_lb
    camber = _camber(found, run)
    shares = percentages(run.loads_lb)
    wheels: dict[str, CornerWheel] = {}
    for index, name in enumerate(WHEELS):
        wheels[name] = CornerWheel(
            static_lb=rounded(static[index]),
            load_lb=rounded(run.loads_lb[index]),
            change_lb=rounded(run.change_lb[index]),
            geometric_lb=rounded(run.geometric_lb[index]),
            unsprung_lb=rounded(run.unsprung_lb[index]),
            elastic_lb=rounded(run.elastic_lb[index]),
            side_lb=rounded(run.side_lb[index]),
            drive_lb=rounded(run.drive_lb[index]),
            travel_in=rounded(run.travel_in[index]),
            lifted=bool(run.lifted[index]),
            camber_deg=finite(camber[index, 1]),
            camber_change_deg=finite(camber[index, 1] - camber[index, 0]),
        )
    moved = {part: weight_transfer(getattr(run, name)) for part, name in PARTS.items()}
    front, rear = (WeightTransfer(**{part: rounded(both[axle]) for part, both in moved.items()}) for axle in (0, 1))
    return CorneringAnswer(
        engine=VERSION,
        assumptions=page.assumed,
        missing=[],
        cautions=list(cautions.CORNERING),
        limits=NEGLECTED,
        speed_mph=rounded(speed / MPH_IN_IN_PER_S),
        lateral_g=rounded(track.lateral_g),
        normal_g=rounded(track.normal_g),
        roll_deg=rounded(run.roll_deg),
        pitch_deg=rounded(run.pitch_deg),
        heave_in=rounded(run.heave_in),
        cross_percent=rounded(shares.cross_percent),
        bite_lb=rounded(shares.bite_lb),
        normal_lb=rounded(run.loads_lb.sum()),
        wheels=wheels,
        front_weight_transfer=front,
        rear_weight_transfer=rear,
        engaged=said(run.names, run.engaged),
        past_curve=said(run.names, run.beyond),
        lifted=said([CORNER[name] for name in WHEELS], run.lifted),
    )


def _camber(found: OnItsWheels, run: CorneringState) -> Array:
    """Give camber to the ground, on the scales and in the corner, (4, 2); NaN where a wheel cannot follow."""
    whole = found.whole
    if whole.front is None or whole.rear is None:
        return np.full((4, 2), np.nan)
    whole.page.assume("Camber to the track is told with the wheels straight ahead")
    at = ride_height(whole.page, found.since_heights)
    then = at.moved(run)
    change = found.since.standing.change_lb
    squash = np.stack([change, change + run.change_lb], axis=1) / whole.tires_lb_per_in[:, None]
    camber = stances(whole.front, whole.rear, [at, then], squash_in=squash).camber_deg
    camber[run.lifted] = np.nan
    return camber
