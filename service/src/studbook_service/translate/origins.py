"""Documents with their past: in which of them each reading was entered.

A reading of alignment, scales, ride heights or lead belongs to the revision it was entered in: the oldest first-parent
ancestor with the same reading. What is recorded since comes on top, so no shim is counted twice and none is lost.
Equal documents with different pasts may therefore have different answers.
"""

from collections.abc import Mapping, Sequence
from typing import Final

import msgspec

from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import at
from studbook_service.translate.document import FRONT, REAR

ORIGINS_MOST: Final = 64
"""How many documents back an origin is looked for."""

READINGS: Final[Mapping[str, tuple[str, ...]]] = {
    **{name: ("measured", "front", name, "alignment") for name in FRONT},
    **{name: ("measured", name) for name in ("scales", "ride_height")},
    **{f"{name}_lead": ("measured", "rear", name, "lead_in") for name in REAR},
}
"""Where the readings are that belong to the revision they were entered in."""


def trees_of(chain: Sequence[bytes]) -> list[Tree]:
    """Decode documents."""
    return [msgspec.json.decode(body, type=Tree) for body in chain]


def origins(chain: Sequence[Tree]) -> dict[str, Tree]:
    """Find the documents in which each corner's alignment, the scales, the ride heights and the leads were entered.

    Args:
        chain: a document, its first parent's, and so on back.

    Returns:
        For each corner with a reading, for `scales`, `ride_height`, `lr_lead` and `rr_lead`, the oldest document of
        the chain whose reading is still the first one's.

    Example:
        >>> reading = {"measured": {"front": {"rf": {"alignment": {"camber_deg": -4}}}}}
        >>> origins([reading | {"notes": "b"}, reading | {"notes": "a"}, {}])["rf"]["notes"]
        'a'
    """
    found = {}
    for name, path in READINGS.items():
        reading = at(chain[0], path)
        if reading is None:
            continue
        for tree in chain:
            if not same(at(tree, path), reading):
                break
            found[name] = tree
    return found
