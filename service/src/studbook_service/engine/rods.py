"""Whether a set of rods holds a beam axle: which motions it leaves free, and which it holds twice.

The test is on the rank of the Jacobian at the survey, not on the number of rods: four trailing links are both too few,
for the axle slides sideways, and too many. A set that holds one motion twice is refused even where its lengths agree,
since the next change of length would make them disagree.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from studbook_service.engine.beam import RIGID, Beam, BumpRoll, jacobian
from studbook_service.engine.vectors import Array, cross

if TYPE_CHECKING:
    from collections.abc import Sequence

WEAK = 1e-3
"""A motion of an inch that changes no rod by this many inches is called free: a survey cannot tell the two apart."""
NOTED = 0.05
"""Share of the largest part from which a rod or a part of a motion is named."""
CAGE_LEVER_IN = 5.0
"""A birdcage's turning is weighed by the travel of its rods' ends, this far from the axle (common practice)."""

MOTIONS = ("sideways", "pinion", "steer", "forward", "birdcage_left", "birdcage_right", "roll", "bump")
"""Parts of a free motion, in the order in which free motions are distinguished."""

INPUTS = ("bump", "roll")
"""What a dependent set may hold besides rods: rods that block the axle's bump or roll."""

_AXLE_DOES = {
    "sideways": "slides sideways",
    "pinion": "turns about its own line (pinion up and down)",
    "steer": "steers",
    "forward": "moves fore and aft",
    "roll": "rolls",
    "bump": "rises",
}
_CAGE_DOES = {"birdcage_left": "the left birdcage turns", "birdcage_right": "the right birdcage turns"}


class FreeMotion(NamedTuple):
    """A motion that no rod resists while bump and axle roll are held.

    Attributes:
        parts: out of `MOTIONS`, the largest first.
        words: the same as a sentence.
    """

    parts: tuple[str, ...]
    words: str


class Hold(NamedTuple):
    """How a set of rods holds an axle.

    Attributes:
        free: motions that it leaves free; none for a sound set.
        dependent: sets of rods, by name, of which one is implied by the others; `INPUTS` among them where the
            rods block the axle's own bump or roll. None for a sound set.
        grip: by how many inches, at the least, the rods would have to change for an inch of any motion: the smallest
            singular value of the Jacobian. Below 0.001 a motion counts as free; below 0.1 it
            magnifies errors of the survey more than tenfold.
        loosest: the motion that is held least.
    """

    free: tuple[FreeMotion, ...]
    dependent: tuple[tuple[str, ...], ...]
    grip: float
    loosest: FreeMotion

    @property
    def sound(self) -> bool:
        """Whether nothing is free and nothing is held twice."""
        return not self.free and not self.dependent

    def __str__(self) -> str:
        missing = [motion.words for motion in self.free]
        extra = [_twice(names) for names in self.dependent]
        return "; ".join([*missing, *extra]) or "held"


def _twice(names: Sequence[str]) -> str:
    rods = ", ".join(name for name in names if name not in INPUTS)
    blocked = " and ".join(name for name in names if name in INPUTS)
    return f"{rods} block the axle's {blocked}" if blocked else f"{rods} hold one motion twice"


class RodsUnsound(ValueError):
    """A set of rods that leaves a motion free or holds one twice.

    Attributes:
        hold: what is free and what is dependent.
    """

    def __init__(self, hold: Hold) -> None:
        super().__init__(f"rods do not locate the axle: {hold}")
        self.hold = hold


def hold(beam: Beam, *, names: Sequence[str], cages: Sequence[str]) -> Hold:
    """How the rods of one axle hold it at its survey.

    Args:
        beam: without batch.
        names: of the rods, in the beam's order.
        cages: of the birdcages, in the beam's order: "birdcage_left", "birdcage_right".

    Returns:
        Free motions and dependent sets, from the singular value decomposition of the Jacobian of rods, bump and roll
        with rotations measured at a wheel.

    Source: rank of a constraint Jacobian; any text on the statics of frames (from memory).

    >>> from studbook_service.engine.examples import AXLE
    >>> bool(AXLE.hold.sound), round(AXLE.hold.grip, 2)
    (True, 0.23)
    """
    still = np.zeros(())
    matrix = jacobian(beam, beam.survey(), BumpRoll(still, still))[1]
    frame = np.stack([beam.forward, beam.left, cross(beam.forward, beam.left)])
    axes = np.zeros((RIGID + beam.cages, RIGID + beam.cages))
    axes[:3, :3] = np.eye(3)
    axes[3:RIGID, 3:RIGID] = frame.T / beam.half
    axes[RIGID:, RIGID:] = np.eye(beam.cages) / CAGE_LEVER_IN
    axes[RIGID:, 4] = -1 / beam.half  # a birdcage's part is its turning against the chassis, not on the axle
    matrix = matrix @ axes
    left, values, right = np.linalg.svd(matrix)
    held = int(np.sum(values > WEAK))
    parts = ["forward", "sideways", "bump", "roll", "pinion", "steer", *cages]
    order = np.argsort([MOTIONS.index(part) for part in parts])
    ordered = [parts[index] for index in order]
    free = tuple(_motion(vector, ordered) for vector in _sparse(right[held:, order]))
    rows = [*names, *INPUTS]
    dependent = tuple(_named(vector, rows) for vector in _sparse(left[:, held:].T))
    return Hold(
        free=free,
        dependent=dependent,
        grip=float(values[-1]) if held == matrix.shape[1] else 0.0,
        loosest=_motion(right[-1, order], ordered),
    )


def _sparse(basis: Array) -> Array:
    """A basis of the same space with as many zeros as elimination gives: each vector leads where the others have none.

    Args:
        basis: (vectors, components).
    """
    rows, lead = basis.copy(), 0
    for column in range(rows.shape[1]):
        if lead == len(rows):
            break
        pivot = lead + int(np.argmax(np.abs(rows[lead:, column])))
        if abs(rows[pivot, column]) < NOTED:
            continue
        rows[[lead, pivot]] = rows[[pivot, lead]]
        rows[lead] /= rows[lead, column]
        others = np.arange(len(rows)) != lead
        rows[others] -= np.outer(rows[others, column], rows[lead])
        lead += 1
    return rows


def _named(vector: Array, names: Sequence[str]) -> tuple[str, ...]:
    share = np.abs(vector) / np.abs(vector).max()
    return tuple(name for name, part in zip(names, share, strict=True) if part > NOTED)


def _motion(vector: Array, names: Sequence[str]) -> FreeMotion:
    found = _named(vector, names)
    size = dict(zip(names, np.abs(vector), strict=True))
    parts = tuple(sorted(found, key=lambda name: -size[name]))
    axle = [_AXLE_DOES[part] for part in parts if part in _AXLE_DOES]
    words = [_CAGE_DOES[part] for part in parts if part in _CAGE_DOES]
    if axle:
        words.insert(0, f"the axle {' and '.join(axle)}")
    return FreeMotion(parts, ", ".join(words))
