"""A revision's front end for the engine: the corners that can be read, where they stand, what a reading implies.

A reading of camber, caster or toe overrides what is computed. The difference is given as an implied move of the
corner's adjuster, which belongs to the revision where the reading was entered (see `origins`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Self

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Implied, Missing
from studbook_service.engine.changes import MOVES, Moves, apply
from studbook_service.engine.corner import FrontLinkage, Mount, stack
from studbook_service.engine.linkage import Pose, reach, solve_travel
from studbook_service.engine.reach import FAILED
from studbook_service.engine.restore import Targets, restore
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import wheel
from studbook_service.translate.adjusters import CornerAdjusters, adjusters
from studbook_service.translate.corner import corner_fitted, shock_mount
from studbook_service.translate.document import FRONT, DocumentReader, Recent, checked
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.ride import travel_in
from studbook_service.translate.words import CORNER, inches, outboard, signed

NOTICED_DEG = 0.05
"""A reading this close to what is computed implies nothing worth a sentence (common practice, no source)."""

SAME_DEG = 1e-5

_READ = Recent["FrontEnd"]()
_INFERRED = {name: Recent[tuple[Moves, Implied | None]]() for name in FRONT}
"""What each corner's readings imply, by the document they were entered in: later revisions need the same."""


@dataclass(frozen=True, kw_only=True)
class FrontEnd:
    """The corners of one document that can be computed, along one batch axis.

    Attributes:
        reader: the document, with what was lacking and assumed.
        names: the corners, in the order of the batch axis.
        each: each corner's linkage with everything fitted, and what readings imply.
        corner: the same along the batch axis.
        travel: where each stands, in from its survey, + wheel up.
        adjusters: by what each is put right.
        implied: what a reading says was moved and not recorded.
        missing: corners that could not be read, with the fields they lack.
    """

    reader: DocumentReader
    names: tuple[str, ...]
    each: dict[str, FrontLinkage]
    corner: FrontLinkage
    travel: Array
    adjusters: dict[str, CornerAdjusters]
    implied: dict[str, Implied] = field(default_factory=dict)
    missing: list[Missing] = field(default_factory=list)

    def travel_of(self, name: str) -> float:
        """Give where one corner stands, in from its survey."""
        return float(self.travel[self.names.index(name)])

    def pose(self) -> Pose:
        """Solve the corners where this front end stands; some may be open."""
        return solve_travel(self.corner, travel_in=self.travel)

    def closed_pose(self, *, when: str = "at ride height") -> Pose:
        """Solve the corners where this front end stands.

        Raises:
            CannotClose: some corner is open; `when` is for the message.
        """
        pose = self.pose()
        refuse_open(self, pose, when=when)
        return pose

    def only(self, names: tuple[str, ...]) -> Self:
        """Give the same with some of the corners."""
        return replace(
            self,
            names=names,
            corner=stack([self.each[name] for name in names]),
            travel=np.array([self.travel[self.names.index(name)] for name in names]),
        )

    def shocks(self) -> Mount:
        """Give the shocks' mounts along the batch axis; NaN where there are none."""
        each = [shock_mount(self.reader, name) or Mount() for name in self.names]
        return Mount(
            np.stack([one.chassis for one in each], axis=-1),
            np.stack([one.moving for one in each], axis=-1),
            np.stack([one.body for one in each], axis=-1),
        )


def front_end(tree: Tree, *, origins: Mapping[str, Tree]) -> FrontEnd:
    """Read both front corners of a document.

    Raises:
        FieldsUnfit: a value is out of type or bounds.
        FieldsMissing: neither corner can be read.
        CannotClose: hard points that are no linkage.
    """
    read = _READ.get(tree, origins, compute=lambda: _front_end(tree, origins))
    reader = DocumentReader(tree=tree, assumed=list(read.reader.assumed))
    return replace(read, reader=reader, missing=list(read.missing))


def _front_end(tree: Tree, origins: Mapping[str, Tree]) -> FrontEnd:
    reader = DocumentReader(tree=checked(tree))
    corners: dict[str, FrontLinkage] = {}
    implied: dict[str, Implied] = {}
    missing: list[Missing] = []
    travels: list[float] = []
    for name in FRONT:
        reader.lacking.clear()
        corner = _corner(reader, name)
        if corner is None:
            missing.append(Missing(subject=f"{CORNER[name]} geometry", fields=list(reader.lacking)))
            continue
        moves, found = Moves(), None
        if (origin := origins.get(name)) is not None:
            moves, found = _INFERRED[name].get(origin, compute=partial(_implied, name, origin))
        corners[name] = apply(corner, moves)
        travels.append(_travel(reader, name, corner))
        if found is not None:
            implied[name] = found
    reader.lacking.clear()
    if not corners:
        raise FieldsMissing(missing)
    return FrontEnd(
        reader=reader,
        names=tuple(corners),
        each=corners,
        corner=stack(list(corners.values())),
        travel=np.array(travels),
        adjusters={name: adjusters(reader, name) for name in corners},
        implied=implied,
        missing=missing,
    )


def readable_front(tree: Tree, origins: Mapping[str, Tree], missing: list[Missing]) -> FrontEnd | None:
    """Read the front end where a longer answer can do without; None where neither corner can be read."""
    try:
        front = front_end(tree, origins=origins)
    except FieldsMissing as error:
        missing += error.missing
        return None
    missing += front.missing
    return front


def joined(each: Sequence[Moves]) -> Moves:
    """Put one corner's moves beside the next's along the batch axis."""
    return Moves(**{name: np.stack([getattr(moves, name) for moves in each], axis=-1) for name in MOVES})


def refuse_open(front: FrontEnd, pose: Pose, *, when: str) -> None:
    """Refuse a pose that did not close, saying which corner, how far it can travel and what ran out.

    Raises:
        CannotClose: some corner is open.
    """
    if pose.closed.all():
        return
    place = int(np.argmin(pose.closed))
    name, travel = front.names[place], float(front.travel[place])
    span = reach(pose.corner)
    low, high = float(span.lowest_in[place]), float(span.highest_in[place])
    if not np.isfinite(low + high):
        failed = FAILED[int(pose.failed[place])] or "a member"
        raise CannotClose(f"{CORNER[name]} cannot be assembled {when}: the {failed} does not reach at any travel")
    end, code = (low, span.lowest_failed) if travel < low else (high, span.highest_failed)
    failed = FAILED[int(code[place])] or "linkage"
    raise CannotClose(
        f"{CORNER[name]} cannot be assembled {when} at {signed(travel, 2)} in of travel:"
        f" it reaches {signed(end, 2)} in, where the {failed} runs out"
    )


def _corner(reader: DocumentReader, name: str) -> FrontLinkage | None:
    try:
        return corner_fitted(reader, name)
    except ValueError as error:
        raise CannotClose(str(error)) from error


def _travel(reader: DocumentReader, name: str, corner: FrontLinkage) -> float:
    return travel_in(reader, name, wheel_xy=(float(corner.wheel_center[0]), float(corner.wheel_center[1])))


def _implied(name: str, origin: Tree) -> tuple[Moves, Implied | None]:
    """Infer what was moved and not recorded, from a reading of camber, caster and toe."""
    reader = DocumentReader(tree=origin)
    reading = {
        setting: value
        for setting in ("camber", "caster", "toe")
        if (value := reader.get(f"measured.front.{name}.alignment.{setting}_deg")) is not None
    }
    corner = _corner(reader, name) if reading else None
    if corner is None:
        return Moves(), None
    travel = _travel(reader, name, corner)
    stands = wheel(solve_travel(corner, travel_in=travel))
    off = {setting: value - float(getattr(stands, f"{setting}_deg")) for setting, value in reading.items()}
    if all(abs(value) < SAME_DEG for value in off.values()):
        return Moves(), None
    by = adjusters(reader, name).units
    units = [by[setting] for setting in reading]
    targets = Targets(**{f"{setting}_deg": np.array(value) for setting, value in reading.items()})
    found = restore(corner, targets=targets, adjustments=units, travel_in=travel)
    if not bool(found.converged):
        readings = ", ".join(f"{setting} {value:g} deg" for setting, value in reading.items())
        raise CannotClose(f"{CORNER[name]}: no adjustment of this linkage gives the measured {readings}")
    amounts = dict(zip(reading, (float(amount) for amount in found.amounts), strict=True))
    moves = Moves()
    for amount, unit in zip(found.amounts, units, strict=True):
        moves = moves + float(amount) * unit
    noticed = any(abs(value) >= NOTICED_DEG for value in off.values())
    return moves, _implied_answer(name, amounts) if noticed else None


def _implied_answer(name: str, amounts: Mapping[str, float]) -> Implied:
    parts = []
    if "camber" in amounts:
        parts.append(f"camber adjuster {inches(abs(amounts['camber']))} {outboard(amounts['camber'])}")
    if "caster" in amounts:
        parts.append(
            f"caster adjuster {inches(abs(amounts['caster']))} front {outboard(amounts['caster'])} against rear"
        )
    if "toe" in amounts:
        parts.append(f"tie rod {abs(amounts['toe']):.3f} in {'longer' if amounts['toe'] > 0 else 'shorter'}")
    return Implied(
        text=f"{CORNER[name]}: implied by the reading and not recorded: {', '.join(parts)}",
        camber_move_in=amounts.get("camber", UNSET),
        caster_move_in=amounts.get("caster", UNSET),
        tie_rod_in=amounts.get("toe", UNSET),
    )
