"""Which factor of a comparison each field belongs to; two factors changed at once are confounded."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from msgspec import UNSET

from studbook.history.changes import FieldChange
from studbook.history.leaves import Path, dotted
from studbook_service.work.car_fields import FOLLOWS, FROM_NOTHING, CarField, car_field
from studbook_service.work.items import WHEELS


class Factor(NamedTuple):
    """What a comparison is about: a component of the car, such as a spring or the shims of a corner.

    Attributes:
        where: corner, end of the car, or a name of the team's; empty for the whole car.
    """

    component: str
    where: str

    @property
    def title(self) -> str:
        """Its name in a report.

        Example:
            >>> Factor("upper_stud", "rf").title
            'RF upper stud'
        """
        where = self.where.upper() if self.where in WHEELS else self.where.replace("_", " ")
        return f"{where} {self.component.replace('_', ' ')}".strip()


def changes_on_car(changes: Iterable[FieldChange]) -> list[FieldChange]:
    """Keep the changes of the car itself: no readings and words, and no field that was only now written down.

    Example:
        >>> changes_on_car([FieldChange(("notes",), "a", "b"), FieldChange(("setup", "cg", "height_in"), 18, 19)])
        []
    """
    return [change for change in changes if not car_field(change.path).written and not _only_written_down(change)]


def factors_of(paths: Iterable[Path]) -> Mapping[Path, Factor]:
    """Give the factor of each field; one that follows from work on another of these components goes with that.

    Example:
        >>> stud, part = (("setup", "front", "rf", "upper_stud", leaf) for leaf in ("length_in", "part"))
        >>> len(set(factors_of([stud, part]).values()))
        1
    """
    fields = {path: car_field(path) for path in paths}
    changed = {(each.component, each.where) for each in fields.values() if each.component}
    return {path: _factor(path, each, changed) for path, each in fields.items()}


def _factor(path: Path, field: CarField, changed: set[tuple[str, str]]) -> Factor:
    if field.component:
        return Factor(field.component, field.where)
    for host in FOLLOWS.get(field.leaf, ()):
        for component, where in sorted(changed):
            if component == host and (where == field.where or host == "rod"):
                return Factor(component, where)
    return Factor(dotted(path), "")


def _only_written_down(change: FieldChange) -> bool:
    """Say whether a field appears or vanishes although the car stays as it is: unless absent means none of it."""
    if change.before is not UNSET and change.after is not UNSET:
        return False
    field = car_field(change.path)
    return field.leaf not in FROM_NOTHING and field.component != "ballast"
