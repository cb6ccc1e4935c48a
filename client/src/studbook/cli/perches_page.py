"""Perch turns that reach a cross weight, on one page."""

from studbook.cli.environment import bold
from studbook.cli.front_page import closing
from studbook.cli.numbers import fixed
from studbook.cli.printing import table, wrapped
from studbook.cli.scales_page import WHEELS, by_wheel, carrying, weights_table
from studbook.wire.loads import PerchesAnswer


def perches_page(answer: PerchesAnswer) -> list[str]:
    """Lay an answer out: what to turn, what comes of it, and what exact turns would give."""
    rows = [
        [
            f"  {name.upper()}",
            each.text.partition(": ")[2],
            fixed(each.exact_turns, 2),
            fixed(each.thread_showing_in, 3),
        ]
        for name, each in answer.perches.items()
    ]
    lines = table(["PERCHES", "turn", "exact turns", "thread showing in"], rows, right=frozenset({2, 3}))
    columns = {"now": answer.before, "to the step": answer.rounded.weights, "exact": answer.exact.weights}
    heights = answer.rounded.ride_height or answer.rounded.rise
    limits = [] if answer.within_limits else ["  Bite or left percentage is outside the limits given."]
    return [
        *(bold(line) for line in wrapped(answer.headline)),
        "",
        bold(lines[0]),
        *lines[1:],
        "",
        *weights_table("SCALES", columns),
        f"  heights {answer.heights}; to the step: {by_wheel([getattr(heights, f'{name}_in') for name in WHEELS])} in",
        *limits,
        *carrying(answer.rounded.engaged, answer.rounded.lifted),
        *closing(answer.missing, answer.assumptions, answer.cautions),
    ]
