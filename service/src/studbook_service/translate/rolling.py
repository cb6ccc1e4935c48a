"""Tires and gears as they roll: stagger, the turn it suits, and engine speed against road speed."""

from typing import Final, Literal

from msgspec import UNSET, UnsetType

from studbook.wire.answers import Missing
from studbook.wire.damping import DampingQuery, GearAnswer, StaggerAnswer
from studbook_service.engine import gears as gearing
from studbook_service.engine import tires
from studbook_service.translate.document import FRONT, REAR, DocumentReader
from studbook_service.translate.states import rounded

SIDES: Final = {"front": FRONT, "rear": REAR}
IN_PER_FT = 12
SAME_RATIO = 0.005


def stagger(
    reader: DocumentReader, end: Literal["front", "rear"], request: DampingQuery, missing: list[Missing]
) -> StaggerAnswer | UnsetType:
    """Give an axle's stagger by its rollouts, the turn it rolls round, and what the turn request about needs."""
    paths = [f"setup.{end}.{name}.tire.rollout_in" for name in SIDES[end]]
    left, right = (reader.get(path) for path in paths)
    if left is None or right is None:
        missing.append(Missing(subject=f"{end} stagger", fields=reader.unrecorded(*paths)))
        return UNSET
    answer = StaggerAnswer(stagger_in=rounded(tires.stagger(left_rollout_in=left, right_rollout_in=right)))
    track = reader.get(f"measured.track.{end}_in") or reader.get(f"survey.track.{end}_in")
    if track is None:
        missing.append(Missing(subject=f"turn that {end} stagger rolls round", fields=[f"measured.track.{end}_in"]))
        return answer
    if answer.stagger_in:
        radius = tires.rolling_radius(left_rollout_in=left, right_rollout_in=right, track_in=track)
        answer.rolls_round_ft = rounded(radius / IN_PER_FT)
    if request.radius_ft is not UNSET:
        reader.assume("Stagger needed: a left turn, both wheels locked together, no slip and no camber")
        needed = tires.stagger_needed(
            radius_in=request.radius_ft * IN_PER_FT, track_in=track, inner_rollout_in=left, bank_deg=request.bank_deg
        )
        answer.needed_in = rounded(needed)
    return answer


def static_tire_deflection(reader: DocumentReader, root: str) -> float | UnsetType:
    """Give how far a tire's loaded radius lies below its rollout's."""
    rollout, radius = reader.get(f"{root}.tire.rollout_in"), reader.get(f"{root}.tire.loaded_radius_in")
    if rollout is None or radius is None:
        return UNSET
    return rounded(tires.static_tire_deflection(rollout_in=rollout, loaded_radius_in=radius))


def gears(reader: DocumentReader, request: DampingQuery, missing: list[Missing]) -> GearAnswer | UnsetType:
    """Give the final drive, and road speed against engine speed where the rear tires' rollouts are known."""
    root = "setup.drivetrain"
    ring, spur, entered = (reader.get(f"{root}.{leaf}_ratio") for leaf in ("ring_pinion", "spur", "final_drive"))
    ratio = entered if ring is None else float(gearing.final_drive(ring_and_pinion=ring, spur=spur or 1.0))
    if ratio is None:
        fields = [f"{root}.ring_pinion_ratio", f"{root}.final_drive_ratio"]
        missing.append(Missing(subject="final drive", fields=fields))
        return UNSET
    if entered is not None and abs(ratio - entered) > SAME_RATIO:
        reader.assume(f"Final drive by ring, pinion and spur, {ratio:.3f}; {root}.final_drive_ratio is {entered:g}")
    answer = GearAnswer(final_drive_ratio=rounded(ratio))
    rollouts = [reader.get(f"setup.rear.{name}.tire.rollout_in") for name in REAR]
    if None in rollouts:
        return answer
    reader.assume("Road speed: no slip, mean rollout of the rear tires")
    mean = sum(rollouts) / 2
    answer.mph_per_1000_rpm = rounded(gearing.road_speed(engine_rpm=1000, ratio=ratio, rollout_in=mean))
    limit = reader.get(f"{root}.rpm_limit")
    if limit is not None:
        answer.limit_mph = rounded(gearing.road_speed(engine_rpm=limit, ratio=ratio, rollout_in=mean))
    if request.speed_mph is not UNSET:
        answer.engine_rpm = rounded(gearing.engine_speed(road_mph=request.speed_mph, ratio=ratio, rollout_in=mean))
    return answer
