"""Documents with their past: in which of them each reading was entered."""

from collections.abc import Sequence
from typing import Final

import msgspec

from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import at
from studbook_service.translate.document import FRONT

ORIGINS_MOST: Final = 64
"""So many documents back an origin is looked for."""


def trees_of(chain: Sequence[bytes]) -> list[Tree]:
    """Decode documents."""
    return [msgspec.json.decode(body, type=Tree) for body in chain]


def origins(chain: Sequence[Tree]) -> dict[str, Tree]:
    """Find the documents in which each corner's alignment, the scales, the ride heights and the leads were read.

    A reading stands in every later revision until it is read again. What it implies was moved belongs to the revision
    it was entered in; changes recorded since come on top of it, so they are not judged against an older reading.

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
    places: dict[str, tuple[str, ...]] = {name: ("measured", "front", name, "alignment") for name in FRONT}
    places |= {name: ("measured", name) for name in ("scales", "ride_height")}
    places |= {f"{name}_lead": ("measured", "rear", name, "lead_in") for name in ("lr", "rr")}
    for name, path in places.items():
        reading = at(chain[0], path)
        if reading is None:
            continue
        for tree in chain:
            if not same(at(tree, path), reading):
                break
            found[name] = tree
    return found
