"""The sentences of an answer's headline; the change of bump steer is always among them."""

from collections.abc import Mapping

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.wire.answers import AxleEffect, CornerEffect, Effects, FrontAxle, FrontState
from studbook_service.engine.changes import Moves
from studbook_service.translate.words import CORNER, inches, signed, times

PARTS = {
    "upper_stud_in": "upper stud",
    "lower_stud_in": "lower stud",
    "upper_housing_in": "upper housing's ball",
    "lower_housing_in": "lower housing's ball",
    "upper_arm_in": "upper arm",
    "tie_rod_in": "tie rod",
    "outer_spacer_in": "outer tie-rod spacer",
    "wheel_offset_in": "wheel",
    "loaded_radius_in": "tire radius",
}
PIVOTS = {
    "upper_front_in": "upper front pivot",
    "upper_rear_in": "upper rear pivot",
    "lower_front_in": "lower front pivot",
    "lower_rear_in": "lower rear pivot",
    "tie_inner_in": "inner tie-rod end",
}
HEADLINE_LEAST_IN = 5e-4
"""A smaller move of a part is in no headline."""


def headline(answer: Effects, changed: Mapping[str, Moves]) -> list[str]:
    """Write the headline of an answer: what was changed, what it does as fitted, what to do, what remains."""
    lines: list[str] = []
    for name, moves in changed.items():
        effect = getattr(answer, name)
        what = _what(moves)
        if isinstance(effect, CornerEffect) and what:
            lines += _corner(CORNER[name], what, effect, answer.axle)
    return lines or ["Nothing in the front's geometry changes."]


def _what(moves: Moves) -> str:
    parts = [
        f"{part} {signed(float(getattr(moves, field)), 2)} in"
        for field, part in PARTS.items()
        if abs(float(getattr(moves, field))) > HEADLINE_LEAST_IN
    ]
    for field, pivot in PIVOTS.items():
        distance = float(np.linalg.norm(getattr(moves, field)))
        if distance > HEADLINE_LEAST_IN:
            parts.append(f"{pivot} moved {inches(distance)}")
    return ", ".join(parts)


def _corner(corner: str, what: str, effect: CornerEffect, axle: AxleEffect | UnsetType) -> list[str]:
    before, back = effect.before, effect.height_restored
    lines = [f"{corner} {what}: {_as_fitted(effect)}."]
    if effect.adjustments:
        lines.append("To put it right: " + "; ".join(each.text for each in effect.adjustments) + ".")
    now = effect.restored or back
    standing = "As fitted, height restored" if effect.restored is UNSET else "Put right"
    lines.append(
        f"{standing}: camber gain {before.camber_gain_deg_per_in:.2f} -> {now.camber_gain_deg_per_in:.2f} deg/in"
        f"{_roll_center(axle, restored=effect.restored is not UNSET)}."
    )
    lines.append(_bump(corner, effect, before, now))
    return lines


def _as_fitted(effect: CornerEffect) -> str:
    before, back = effect.before, effect.height_restored
    toe = f"toe {before.toe_deg:.2f} -> {back.toe_deg:.2f} deg"
    restored = f"{before.camber_deg:.2f} -> {back.camber_deg:.2f} deg with the height restored"
    if not isinstance(effect.springs_hold, FrontState):
        return f"as fitted, camber {restored}, {toe}"
    hold = effect.springs_hold
    moved = hold.travel_in - before.travel_in
    lift = (
        f"the wheel goes {'up' if moved > 0 else 'down'} {inches(abs(moved))} on its spring"
        if abs(moved) > 0.005
        else "the wheel stays where it is on its spring"
    )
    return (
        f"as fitted, {lift}, camber {before.camber_deg:.2f} -> {hold.camber_deg:.2f} deg with the spring held,"
        f" {restored}, toe {before.toe_deg:.2f} -> {hold.toe_deg:.2f} and {back.toe_deg:.2f} deg"
    )


def _roll_center(axle: AxleEffect | UnsetType, *, restored: bool) -> str:
    if not isinstance(axle, AxleEffect):
        return ""
    after: FrontAxle | UnsetType = axle.restored if restored else axle.height_restored
    if not isinstance(after, FrontAxle):
        return ""
    was, now = axle.before.roll_center, after.roll_center
    if was.height_in is UNSET or now.height_in is UNSET or was.y_in is UNSET or now.y_in is UNSET:
        return f", roll center: {now.none_because or was.none_because}"
    moved = now.y_in - was.y_in
    sideways = f" and {abs(moved):.1f} in to the {'left' if moved > 0 else 'right'}" if abs(moved) >= 0.05 else ""
    return f", roll center {was.height_in:.2f} -> {now.height_in:.2f} in high{sideways}"


def _bump(corner: str, effect: CornerEffect, before: FrontState, now: FrontState) -> str:
    was, becomes = before.bump_steer_deg_per_in, now.bump_steer_deg_per_in
    text = f"{corner} bump steer {was:.3f} -> {becomes:.3f} deg/in ({before.bump_steer_in_per_in:.3f} -> "
    text += f"{now.bump_steer_in_per_in:.3f} in per in), {times(was, becomes)}"
    cure = [each for each in effect.adjustments if each.setting == "bump_steer"]
    if cure:
        return f"{text}, until that is put right at the {cure[0].where}."
    if effect.restored is not UNSET and effect.all_restored is UNSET:
        return f"{text}; no amount at its adjuster brings it back."
    return f"{text}."
