"""Read a document by dotted path, and collect what is missing and what had to be assumed."""

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from operator import is_
from typing import Any, Final, Generic, TypeVar

import numpy as np

from studbook.history.canonical import Tree
from studbook.history.leaves import at, steps
from studbook.wire.answers import Missing
from studbook.wire.fields import check
from studbook_service.engine.one_sided import AxleName, WheelName
from studbook_service.translate.errors import FieldsUnfit

FRONT: Final[tuple[WheelName, WheelName]] = ("lf", "rf")
REAR: Final[tuple[WheelName, WheelName]] = ("lr", "rr")
END: Final[Mapping[str, AxleName]] = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}
SIDE: Final[Mapping[str, float]] = {"lf": 1.0, "rf": -1.0, "lr": 1.0, "rr": -1.0}
"""Sign of y at each wheel."""

T = TypeVar("T")


class Recent(Generic[T]):
    """The results computed last, by the very objects they came from: one answer after another needs the same.

    Whoever looks copies the deque first, which no other thread can interrupt.

    Example:
        >>> recent, tree = Recent[int](), {}
        >>> recent.get(tree, compute=lambda: 1), recent.get(tree, compute=lambda: 2), recent.get({}, compute=lambda: 3)
        (1, 1, 3)
    """

    def __init__(self) -> None:
        self._kept: deque[tuple[tuple[object, ...], T]] = deque(maxlen=16)

    def get(self, *sources: object, compute: Callable[[], T]) -> T:
        """Give the result for some objects, computed now if it is not among the last."""
        for kept, result in tuple(self._kept):
            if all(map(is_, kept, sources)):
                return result
        result = compute()
        self._kept.append((sources, result))
        return result


@dataclass(kw_only=True)
class DocumentReader:
    """Reads one setup document.

    Attributes:
        tree: the document.
        lacking: paths that `need` did not find, in order.
        assumed: sentences about what had to be assumed.

    Example:
        >>> reader = DocumentReader(tree={"notes": "tacky"})
        >>> reader.get("notes"), reader.need("setup.cg.height_in"), reader.lacking
        ('tacky', None, ['setup.cg.height_in'])
    """

    tree: Tree
    lacking: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)

    def get(self, path: str) -> Any:
        """Give the value at a path, or None."""
        return at(self.tree, steps(path))

    def need(self, path: str) -> Any:
        """Give the value at a path; if there is none, note the path in `lacking`."""
        value = self.get(path)
        if value is None:
            self.lacking.append(path)
        return value

    def number(self, path: str) -> float:
        """Give the number at a path, NaN if there is none."""
        value = self.get(path)
        return np.nan if value is None else float(value)

    def unrecorded(self, *paths: str) -> list[str]:
        """List those of some paths that hold no value."""
        return [path for path in paths if self.get(path) is None]

    def missing(self, wanted: Mapping[str, Sequence[str]]) -> list[Missing]:
        """List the subjects that lack some of the fields they need, with those."""
        lacking = {subject: self.unrecorded(*paths) for subject, paths in wanted.items()}
        return [Missing(subject=subject, fields=fields) for subject, fields in lacking.items() if fields]

    def assume(self, sentence: str) -> None:
        """Note an assumption once."""
        if sentence not in self.assumed:
            self.assumed.append(sentence)


def checked(tree: Tree) -> Tree:
    """Give the document back, or refuse one whose values are out of type or bounds.

    Raises:
        FieldsUnfit: with every fault.
    """
    faults = check(tree)
    if faults:
        raise FieldsUnfit(faults)
    return tree


def mount_paths(root: str) -> list[str]:
    """List the paths that say how a spring or shock is mounted.

    Example:
        >>> mount_paths("survey.front.lf.spring")[0]
        'survey.front.lf.spring.chassis_in'
    """
    return [f"{root}.{leaf}" for leaf in ("chassis_in", "moving_in", "sits_on")]


def note_missing(missing: list[Missing], subject: str, fields: list[str]) -> None:
    """Add fields that a subject lacks to those noted already.

    Example:
        >>> found = [Missing(subject="stud stress", fields=["a"])]
        >>> note_missing(found, "stud stress", ["b"])
        >>> found[0].fields
        ['a', 'b']
    """
    for each in missing:
        if each.subject == subject:
            each.fields += fields
            return
    missing.append(Missing(subject=subject, fields=fields))
