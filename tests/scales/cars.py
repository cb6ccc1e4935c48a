"""The demo's cars, whose numbers are all invented, and edits on them."""

import datetime as dt
from functools import cache
from typing import Any

from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps
from studbook_service.demo.scenario import story, team

TODAY = dt.date(2026, 5, 2)
WHEELS = ("lf", "rf", "lr", "rr")


@cache
def chain(car: str = "7") -> tuple[Tree, ...]:
    """A car's baseline, newest first."""
    [told] = [each for each in team().cars if each.slug == car]
    return tuple(step.document for step in story(told, today=TODAY) if step.sheet == told.sheets[0])[::-1]


def edited(tree: Tree, edits: dict[str, Any]) -> Tree:
    """Set leaves; None removes."""
    changes = [
        FieldChange(steps(path)) if value is None else FieldChange(steps(path), after=canonical(value))
        for path, value in edits.items()
    ]
    changed: Tree = canonical(apply(changes, tree))
    return changed


def freshly_scaled(car: str = "7", **edits: Any) -> Tree:
    """A car read anew in every way, so that nothing was recorded since."""
    return edited(chain(car)[0], {path.replace("__", "."): value for path, value in edits.items()})
