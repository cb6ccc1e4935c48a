"""Which things of a car some fields are about: two things changed at once are confounded."""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Final, NamedTuple

from msgspec import UNSET

from studbook.history.changes import FieldChange
from studbook.history.leaves import Path, dotted
from studbook_service.work.touched import FOLLOWS, FROM_NOTHING, Touched, touched

_UPPER: Final = frozenset({"lf", "rf", "lr", "rr"})


@lru_cache(maxsize=8192)
def about(path: Path) -> Touched:
    """Say what a field is about; asked often of few fields."""
    return touched(path)


class Thing(NamedTuple):
    """A thing somebody takes a wrench to.

    Attributes:
        where: corner, end of the car, or a name of the team's; empty for the whole car.
    """

    what: str
    where: str

    def said(self) -> str:
        """Name it.

        Example:
            >>> Thing("upper_stud", "rf").said()
            'RF upper stud'
        """
        where = self.where.upper() if self.where in _UPPER else self.where.replace("_", " ")
        return f"{where} {self.what.replace('_', ' ')}".strip()


def on_the_car(changes: Iterable[FieldChange]) -> list[FieldChange]:
    """Keep the changes of the car itself: no readings and words, and no field that was only now written down.

    Example:
        >>> on_the_car([FieldChange(("notes",), "a", "b"), FieldChange(("setup", "cg", "height_in"), 18, 19)])
        []
    """
    return [change for change in changes if not about(change.path).written and not _only_noted(change)]


def things(paths: Iterable[Path]) -> Mapping[Path, Thing]:
    """Find what each field is about; one that comes out of work on another thing among them goes with that.

    Example:
        >>> stud, part = (("setup", "front", "rf", "upper_stud", leaf) for leaf in ("length_in", "part"))
        >>> len(set(things([stud, part]).values()))
        1
    """
    found = {path: about(path) for path in paths}
    changed = {(each.thing, each.where) for each in found.values() if each.thing}
    return {path: _thing(path, each, changed) for path, each in found.items()}


def _thing(path: Path, what: Touched, changed: set[tuple[str, str]]) -> Thing:
    if what.thing:
        return Thing(what.thing, what.where)
    for host in FOLLOWS.get(what.leaf, ()):
        for thing, where in sorted(changed):
            if thing == host and (where == what.where or host == "rod"):
                return Thing(thing, where)
    return Thing(dotted(path), "")


def _only_noted(change: FieldChange) -> bool:
    """Say whether a field that appears or vanishes says nothing about the car: unless absent means none of it."""
    if change.before is not UNSET and change.after is not UNSET:
        return False
    what = about(change.path)
    return what.leaf not in FROM_NOTHING and what.thing != "ballast"
