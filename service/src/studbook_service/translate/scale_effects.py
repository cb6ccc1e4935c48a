"""What a change of parts does on the scales before anyone turns a perch, and the sentence that says it."""

from collections.abc import Mapping, Sequence

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.scales import OnScales
from studbook_service.engine.one_sided import WHEELS
from studbook_service.translate.errors import FieldsMissing, Unanswerable
from studbook_service.translate.rescaling import car_on_its_wheels, on_scales_answer, rescaled_by, weights
from studbook_service.translate.subjects import DocumentAnswers
from studbook_service.translate.words import CORNER, signed

SCALES_LEAST_LB, SCALES_LEAST_IN = 0.5, 0.01
"""Where every wheel changes by less, no sentence speaks of the scales."""


def scale_effect(before: DocumentAnswers, after: DocumentAnswers) -> OnScales | Missing:
    """Put a car back on its scales after a change, nothing put right.

    Returns:
        What the change alone does; or what is missing for that.
    """
    try:
        old, new = (car_on_its_wheels(each.tree, origins=each.origins) for each in (before, after))
        found = rescaled_by(old.whole, new.whole, old.loads_lb)
    except FieldsMissing as error:
        fields = dict.fromkeys(path for each in error.missing for path in each.fields)
        return Missing(subject="on the scales", fields=list(fields))
    except Unanswerable as error:
        return error.missing_for("on the scales")[0]
    answer = on_scales_answer(found, old.loads_lb, new.whole.reader)
    if _reading(before.tree) != _reading(after.tree):
        answer.read = weights(new.read_lb)
    return answer


def scale_sentences(answer: OnScales) -> list[str]:
    """Say what a crew would see on the scales; nothing where nothing moves."""
    change: dict[str, float] = {name: getattr(answer.change, f"{name}_lb") for name in WHEELS}
    rise: dict[str, float] = {name: getattr(answer.rise, f"{name}_in") for name in WHEELS}
    if max(map(abs, change.values())) < SCALES_LEAST_LB and max(map(abs, rise.values())) < SCALES_LEAST_IN:
        return []
    was, now = answer.before, answer.after
    turned = any(" perch " in cause for cause in answer.causes)
    wheel = _first_wheel(answer.causes, change)
    heights = ", ".join(f"{CORNER[name]} {signed(rise[name], 2)}" for name in WHEELS)
    sentence = (
        f"On the scales{'' if turned else ', before any perch is turned'}: {CORNER[wheel]}"
        f" {signed(change[wheel], 0)} lb,"
        f" cross {was.cross_percent:.1f} -> {now.cross_percent:.1f}, bite {was.bite_lb:.0f} -> {now.bite_lb:.0f};"
        f" chassis over the wheels {heights} in."
    )
    lifted = [f"{', '.join(answer.lifted)} off the scales."] if answer.lifted else []
    return [sentence, *lifted]


def _first_wheel(causes: Sequence[str], change: Mapping[str, float]) -> str:
    """Name the wheel that a crew looks at first: that of the first cause, else the one whose load changes most."""
    first = causes[0].split(" ", 1)[0].lower() if causes else ""
    return first if first in change else max(change, key=lambda name: abs(change[name]))


def _reading(tree: Tree) -> object:
    return (tree.get("measured") or {}).get("scales")
