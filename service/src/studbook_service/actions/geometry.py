"""Answers about geometry: pure computation on documents that are already read."""

from collections.abc import Mapping, Sequence

from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import at
from studbook.wire.answers import Effects, FrontAnswer, Travels
from studbook_service.translate import effects as effecting
from studbook_service.translate.document import CORNERS
from studbook_service.translate.front import front_answer


def origins(chain: Sequence[Tree]) -> dict[str, Tree]:
    """Find the document in which each corner's alignment reading was entered.

    A reading stands in every later revision until it is read again. What it implies was moved belongs to the revision
    it was entered in; changes recorded since come on top of it, so they are not judged against an older reading.

    Args:
        chain: a document, its first parent's, and so on back.

    Returns:
        For each corner with a reading, the oldest document of the chain whose reading is still the first one's.

    Example:
        >>> reading = {"measured": {"front": {"rf": {"alignment": {"camber_deg": -4}}}}}
        >>> origins([reading | {"notes": "b"}, reading | {"notes": "a"}, {}])["rf"]["notes"]
        'a'
    """
    found = {}
    for name in CORNERS:
        path = ("measured", "front", name, "alignment")
        reading = at(chain[0], path)
        if reading is None:
            continue
        for tree in chain:
            if not same(at(tree, path), reading):
                break
            found[name] = tree
    return found


def front(*, document: Tree, origins: Mapping[str, Tree], travels: Travels) -> FrontAnswer:
    """Answer how a document's front end stands, moves and steers; see `translate.front.front_answer`."""
    return front_answer(document, origins=origins, travels=travels)


def effects(
    *,
    before: Tree,
    after: Tree,
    before_origins: Mapping[str, Tree],
    after_origins: Mapping[str, Tree],
    travels: Travels,
) -> Effects:
    """Answer what a change does; see `translate.effects.effects`."""
    return effecting.effects(before, after, before_origins=before_origins, after_origins=after_origins, travels=travels)
