"""Tires and gears as they roll: stagger, the turn it suits, and engine speed against road speed."""

from typing import Final, Literal

from msgspec import UNSET, UnsetType

from studbook.wire.answers import Missing
from studbook.wire.damping import DampingQuery, GearAnswer, StaggerAnswer
from studbook_service.engine import gears as gearing
from studbook_service.engine import tires
from studbook_service.translate.document import Document
from studbook_service.translate.states import rounded

SIDES: Final = {"front": ("lf", "rf"), "rear": ("lr", "rr")}
IN_PER_FT = 12
SAME_RATIO = 0.005


def stagger(
    page: Document, end: Literal["front", "rear"], asked: DampingQuery, missing: list[Missing]
) -> StaggerAnswer | UnsetType:
    """Tell an axle's stagger by its rollouts, the turn it rolls round, and what the turn asked about needs.

    Args:
        page: the document; assumptions are noted in it.
        end: which axle.
        asked: the turn.
        missing: an axle without rollouts or track is added here.
    """
    paths = [f"setup.{end}.{name}.tire.rollout_in" for name in SIDES[end]]
    left, right = (page.get(path) for path in paths)
    if left is None or right is None:
        missing.append(Missing(subject=f"{end} stagger", fields=[path for path in paths if page.get(path) is None]))
        return UNSET
    told = StaggerAnswer(stagger_in=rounded(tires.stagger(left_rollout_in=left, right_rollout_in=right)))
    track = page.get(f"measured.track.{end}_in") or page.get(f"survey.track.{end}_in")
    if track is None:
        missing.append(Missing(subject=f"turn that {end} stagger rolls round", fields=[f"measured.track.{end}_in"]))
        return told
    if told.stagger_in:
        radius = tires.rolling_radius(left_rollout_in=left, right_rollout_in=right, track_in=track)
        told.rolls_round_ft = rounded(radius / IN_PER_FT)
    if asked.radius_ft is not UNSET:
        page.assume("Stagger needed: a left turn, both wheels locked together, no slip and no camber")
        needed = tires.stagger_needed(
            radius_in=asked.radius_ft * IN_PER_FT, track_in=track, inner_rollout_in=left, bank_deg=asked.bank_deg
        )
        told.needed_in = rounded(needed)
    return told


def sink(page: Document, root: str) -> float | UnsetType:
    """Tell how far a tire's loaded radius lies below its rollout's."""
    rollout, radius = page.get(f"{root}.tire.rollout_in"), page.get(f"{root}.tire.loaded_radius_in")
    if rollout is None or radius is None:
        return UNSET
    return rounded(tires.static_tire_deflection(rollout_in=rollout, loaded_radius_in=radius))


def gears(page: Document, asked: DampingQuery, missing: list[Missing]) -> GearAnswer | UnsetType:
    """Tell the final drive, and road speed against engine speed where the rear tires' rollouts are known."""
    root = "setup.drivetrain"
    ring, spur, entered = (page.get(f"{root}.{leaf}_ratio") for leaf in ("ring_pinion", "spur", "final_drive"))
    ratio = entered if ring is None else float(gearing.final_drive(ring_and_pinion=ring, spur=spur or 1.0))
    if ratio is None:
        fields = [f"{root}.ring_pinion_ratio", f"{root}.final_drive_ratio"]
        missing.append(Missing(subject="final drive", fields=fields))
        return UNSET
    if entered is not None and abs(ratio - entered) > SAME_RATIO:
        page.assume(f"Final drive by ring, pinion and spur, {ratio:.3f}; {root}.final_drive_ratio says {entered:g}")
    told = GearAnswer(final_drive_ratio=rounded(ratio))
    rollouts = [page.get(f"setup.rear.{name}.tire.rollout_in") for name in SIDES["rear"]]
    if None in rollouts:
        return told
    page.assume("Road speed: no slip, mean rollout of the rear tires")
    mean = sum(rollouts) / 2
    told.mph_per_1000_rpm = rounded(gearing.road_speed(engine_rpm=1000, ratio=ratio, rollout_in=mean))
    limit = page.get(f"{root}.rpm_limit")
    if limit is not None:
        told.limit_mph = rounded(gearing.road_speed(engine_rpm=limit, ratio=ratio, rollout_in=mean))
    if asked.speed_mph is not UNSET:
        told.engine_rpm = rounded(gearing.engine_speed(road_mph=asked.speed_mph, ratio=ratio, rollout_in=mean))
    return told
