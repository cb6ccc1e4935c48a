"""A revision's front end under the engine: the corners that can be read, where they stand, what a reading implies."""

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np

from studbook.history.canonical import Tree
from studbook.wire.answers import Implied, Missing
from studbook_service.engine.changes import MOVES, Moves, apply
from studbook_service.engine.corner import FrontLinkage, Mount, stack
from studbook_service.engine.linkage import Pose, reach, solve_travel
from studbook_service.engine.reach import FAILED
from studbook_service.engine.restore import Targets, restore
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import wheel
from studbook_service.translate.adjusters import Adjusters, adjusters
from studbook_service.translate.corner import corner_fitted, shock_mount
from studbook_service.translate.document import CORNERS, READ_MOST, Document, checked
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.ride import travel_in
from studbook_service.translate.words import CORNER, inches, signed

NOTICED_DEG = 0.05
"""A reading overrides what is computed; closer than this nothing is said of it (common practice, no source)."""

SAME_DEG = 1e-5

_READ: "deque[tuple[Tree, Mapping[str, Tree], FrontEnd]]" = deque(maxlen=READ_MOST)
"""The front ends read last."""

_INFERRED: "deque[tuple[str, Tree, tuple[Moves, Implied | None]]]" = deque(maxlen=READ_MOST)
"""What was inferred last of each corner's readings: later revisions ask for the same."""


@dataclass(frozen=True, kw_only=True)
class FrontEnd:
    """The corners of one document that can be computed, along one batch axis.

    Attributes:
        page: the document, with what was lacking and assumed.
        names: the corners, in the order of the batch axis.
        each: each corner's linkage with everything fitted, and what readings imply.
        corner: the same along the batch axis.
        travel: where each stands, in from its survey, + wheel up.
        adjusters: by what each is put right.
        implied: what a reading says was moved and not recorded.
        missing: corners that could not be read, with the fields they lack.
    """

    page: Document
    names: tuple[str, ...]
    each: dict[str, FrontLinkage]
    corner: FrontLinkage
    travel: Array
    adjusters: dict[str, Adjusters]
    implied: dict[str, Implied] = field(default_factory=dict)
    missing: list[Missing] = field(default_factory=list)

    def pose(self, corner: FrontLinkage | None = None) -> Pose:
        """Solve the corners (or changed ones) where this front end stands."""
        return solve_travel(corner or self.corner, travel_in=self.travel)

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
        each = [shock_mount(self.page, name) or Mount() for name in self.names]
        return Mount(
            np.stack([one.chassis for one in each], axis=-1),
            np.stack([one.moving for one in each], axis=-1),
            np.stack([one.body for one in each], axis=-1),
        )


def front_end(tree: Tree, *, origins: Mapping[str, Tree]) -> FrontEnd:
    """Read both front corners of a document.

    Args:
        tree: the document.
        origins: for a corner with an alignment reading, the document in which that reading was entered: whatever the
            reading implies was moved belongs to that document, and what the setup records since comes on top.

    Raises:
        FieldsUnfitError: a value is out of type or bounds.
        FieldsMissingError: neither corner can be read.
        CannotCloseError: hard points that are no linkage.
    """
    read = next((front for kept, theirs, front in tuple(_READ) if kept is tree and theirs is origins), None)
    if read is None:
        read = _front_end(tree, origins)
        _READ.append((tree, origins, read))
    page = Document(tree=tree, assumed=list(read.page.assumed))
    return replace(read, page=page, missing=list(read.missing))


def _front_end(tree: Tree, origins: Mapping[str, Tree]) -> FrontEnd:
    page = Document(tree=checked(tree))
    corners: dict[str, FrontLinkage] = {}
    implied: dict[str, Implied] = {}
    missing: list[Missing] = []
    travels: list[float] = []
    for name in CORNERS:
        page.lacking.clear()
        corner = _corner(page, name)
        if corner is None:
            missing.append(Missing(subject=f"{CORNER[name]} geometry", fields=list(page.lacking)))
            continue
        moves, told = _implied(name, origins.get(name))
        corners[name] = apply(corner, moves)
        travels.append(_travel(page, name, corner))
        if told is not None:
            implied[name] = told
    page.lacking.clear()
    if not corners:
        raise FieldsMissingError(missing)
    return FrontEnd(
        page=page,
        names=tuple(corners),
        each=corners,
        corner=stack(list(corners.values())),
        travel=np.array(travels),
        adjusters={name: adjusters(page, name) for name in corners},
        implied=implied,
        missing=missing,
    )


def joined(each: Sequence[Moves]) -> Moves:
    """Put one corner's moves beside the next's along the batch axis."""
    return Moves(**{name: np.stack([getattr(moves, name) for moves in each], axis=-1) for name in MOVES})


def refuse_open(front: FrontEnd, pose: Pose, *, when: str) -> None:
    """Refuse a pose that did not close, saying which corner, how far it can travel and what ran out.

    Raises:
        CannotCloseError: some corner is open.
    """
    if pose.closed.all():
        return
    place = int(np.argmin(pose.closed))
    name, asked = front.names[place], float(front.travel[place])
    span = reach(pose.corner)
    low, high = float(span.lowest_in[place]), float(span.highest_in[place])
    if not np.isfinite(low + high):
        failed = FAILED[int(pose.failed[place])] or "a member"
        raise CannotCloseError(f"{CORNER[name]} cannot be assembled {when}: the {failed} does not reach at any travel")
    end, code = (low, span.lowest_failed) if asked < low else (high, span.highest_failed)
    failed = FAILED[int(code[place])] or "linkage"
    raise CannotCloseError(
        f"{CORNER[name]} cannot be assembled {when} at {signed(asked, 2)} in of travel:"
        f" it reaches {signed(end, 2)} in, where the {failed} runs out"
    )


def _corner(page: Document, name: str) -> FrontLinkage | None:
    try:
        return corner_fitted(page, name)
    except ValueError as error:
        raise CannotCloseError(str(error)) from error


def _travel(page: Document, name: str, corner: FrontLinkage) -> float:
    return travel_in(page, name, wheel_xy=(float(corner.wheel_center[0]), float(corner.wheel_center[1])))


def _implied(name: str, origin: Tree | None) -> tuple[Moves, Implied | None]:
    """Infer what a reading of camber, caster and toe says was moved beyond what its document records."""
    if origin is None:
        return Moves(), None
    found = next((said for corner, kept, said in tuple(_INFERRED) if corner == name and kept is origin), None)
    if found is None:
        found = _inferred(name, origin)
        _INFERRED.append((name, origin, found))
    return found


def _inferred(name: str, origin: Tree) -> tuple[Moves, Implied | None]:
    page = Document(tree=origin)
    reading = {
        setting: value
        for setting in ("camber", "caster", "toe")
        if (value := page.get(f"measured.front.{name}.alignment.{setting}_deg")) is not None
    }
    corner = _corner(page, name) if reading else None
    if corner is None:
        return Moves(), None
    travel = _travel(page, name, corner)
    stands = wheel(solve_travel(corner, travel_in=travel))
    off = {setting: value - float(getattr(stands, f"{setting}_deg")) for setting, value in reading.items()}
    if all(abs(value) < SAME_DEG for value in off.values()):
        return Moves(), None
    by = adjusters(page, name)
    units = [getattr(by, setting) for setting in reading]
    targets = Targets(**{f"{setting}_deg": np.array(value) for setting, value in reading.items()})
    found = restore(corner, targets=targets, adjustments=units, travel_in=travel)
    if not bool(found.converged):
        spoken = ", ".join(f"{setting} {value:g} deg" for setting, value in reading.items())
        raise CannotCloseError(f"{CORNER[name]}: no adjustment of this linkage gives the measured {spoken}")
    amounts = dict(zip(reading, (float(amount) for amount in found.amounts), strict=True))
    moves = Moves()
    for amount, unit in zip(found.amounts, units, strict=True):
        moves = moves + float(amount) * unit
    noticed = any(abs(value) >= NOTICED_DEG for value in off.values())
    return moves, _told(name, amounts) if noticed else None


def _told(name: str, amounts: Mapping[str, float]) -> Implied:
    said = []
    if "camber" in amounts:
        said.append(f"camber adjuster {inches(abs(amounts['camber']))} {_way(amounts['camber'])}")
    if "caster" in amounts:
        said.append(f"caster adjuster {inches(abs(amounts['caster']))} front {_way(amounts['caster'])} against rear")
    if "toe" in amounts:
        said.append(f"tie rod {abs(amounts['toe']):.3f} in {'longer' if amounts['toe'] > 0 else 'shorter'}")
    told = Implied(text=f"{CORNER[name]}: implied by the reading and not recorded: {', '.join(said)}")
    if "camber" in amounts:
        told.camber_move_in = amounts["camber"]
    if "caster" in amounts:
        told.caster_move_in = amounts["caster"]
    if "toe" in amounts:
        told.tie_rod_in = amounts["toe"]
    return told


def _way(amount: float) -> str:
    return "outboard" if amount > 0 else "inboard"
