"""Documents of real size for the laws: the demo's own, and random edits on them."""

import datetime as dt
from collections.abc import Sequence
from functools import cache
from typing import Any

from hypothesis import strategies as st

from studbook.history.ancestry import MergePlan
from studbook.history.canonical import canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import at, grown, leaves
from studbook.history.merge import Merged, merge
from studbook_service.demo.scenario import story, team

Tree = dict[str, Any]
Edits = Sequence[tuple[str, int, float]]
TODAY = dt.date(2026, 5, 2)


@cache
def demo_documents() -> tuple[Tree, ...]:
    """Give what the demo's cars were, from the first revision to the last."""
    return tuple(step.document for car in team().cars for step in story(car, today=TODAY))


def changed(tree: Tree, edits: Edits) -> Tree:
    """Change a document in a few places, chosen by number: few numbers make sides that meet in the same leaf."""
    for kind, which, number in edits:
        paths = sorted(leaves(tree))
        if not paths:
            return tree
        path = paths[which % len(paths)]
        group = path[: max(1, len(path) - 1)]
        match kind:
            case "set":
                tree = apply([FieldChange(path, after=canonical(number))], tree)
            case "bend":
                tree = apply([FieldChange(path, after=[canonical(number), True, "bent"])], tree)
            case "remove":
                tree = apply([FieldChange(path)], tree)
            case "add":
                added = (*path[:-1], f"new-{which % 3}")
                if not isinstance(at(tree, added), dict):
                    tree = apply([FieldChange(added, after=canonical(number))], tree)
            case "open":
                inside = (*path, f"in-{which % 2}")
                tree = apply([FieldChange(path), FieldChange(inside, after=canonical(number))], tree)
            case "shut":
                kept = {each: value for each, value in leaves(tree).items() if each[: len(group)] != group}
                tree = grown(kept | {group: canonical(number)})
    return tree


def _edits(*kinds: str) -> st.SearchStrategy[list[tuple[str, int, float]]]:
    # The first few leaves are drawn often, so that both sides change the same.
    which = st.integers(0, 5) | st.integers(0, 400)
    return st.lists(st.tuples(st.sampled_from(kinds), which, st.integers(0, 2) | st.floats(-50, 50)), max_size=8)


EDITS = _edits("set", "bend", "remove", "add", "open", "shut")
VALUES = _edits("set", "bend")
WHICH = st.integers(0, 1000)


def document(which: int) -> Tree:
    """Give one of the demo's documents."""
    return demo_documents()[which % len(demo_documents())]


def fork(which: int, *edits: Edits) -> tuple[Tree, ...]:
    """Give a document, and what each side's edits make of it."""
    base = document(which)
    return (base, *(changed(base, each) for each in edits))


def three_way(base: Tree, one: Tree, other: Tree) -> Merged:
    """Merge two documents that began as a third."""
    plan = MergePlan(tips=("x", "y"), common=("a",), bases={("a",): (), ("x", "y"): (("a",),)})
    return merge(plan, {"a": base, "x": one, "y": other}.__getitem__)
