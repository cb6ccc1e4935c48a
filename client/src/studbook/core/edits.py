"""Edits: spelled from values by path, and made of what is carried from one setup to another."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from studbook.core.errors import UnchangedError, local
from studbook.core.pulled import Pulled
from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import Path, dotted, leaves, steps
from studbook.wire.entries import Edit


def edits_of(values: Mapping[str, Any], remove: Iterable[str] = ()) -> list[Edit]:
    """Spell values by dotted path, and paths to remove, as edits.

    Example:
        >>> edits_of({"notes": "tacky"}, ["measured.run"])[1].remove
        True
    """
    return [Edit(path=path, value=value) for path, value in values.items()] + [
        Edit(path=path, remove=True) for path in remove
    ]


def carried_fields(source: Pulled, fields: Sequence[str]) -> dict[Path, Any]:
    """Give the leaves of a setup that lie at or under some paths; all of them where no path is given.

    Raises:
        BadReferenceError: nothing is there.
    """
    found = leaves(source.document())
    for field in fields:
        if not any(_is_under(path, (steps(field),)) for path in found):
            raise local("bad_reference", f"{source.car}/{source.sheet} at {source.revision.id[:12]} has no {field}")
    wanted = [steps(field) for field in fields] or [()]
    return {path: value for path, value in found.items() if _is_under(path, wanted)}


def edits_to_carry(chosen: dict[Path, Any], fields: Sequence[str], document: Tree) -> list[Edit]:
    """List what puts the chosen leaves into a document, and takes from it what their groups do not hold.

    Raises:
        UnchangedError: the document has them as they are.
    """
    before = leaves(document)
    wanted = [steps(field) for field in fields]
    gone = [path for path in before if _is_under(path, wanted) and path not in chosen]
    new = {path: value for path, value in chosen.items() if path not in before or not same(before[path], value)}
    if not gone and not new:
        raise UnchangedError("nothing differs in what was to be carried")
    return [
        *(Edit(path=dotted(path), remove=True) for path in gone),
        *(Edit(path=dotted(path), value=value) for path, value in new.items()),
    ]


def _is_under(path: Path, groups: Sequence[Path]) -> bool:
    return any(path[: len(group)] == group for group in groups)
