"""`studbook perches REF --cross`."""

from typing import Annotated, Literal

from cyclopts import Parameter

from studbook.cli.environment import bold, open_book
from studbook.cli.front import page_end
from studbook.cli.number_format import fixed
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.parsing import as_edits, parse_changes
from studbook.cli.printing import print_answer, table, wrapped
from studbook.cli.weights import WHEELS, by_wheel, carrying, weights_table
from studbook.wire.loads import CrossWanted, PerchesAnswer
from studbook.wire.units import opt

Perch = Literal["lf", "rf", "lr", "rr"]


def perches(
    ref: Ref,
    /,
    *changes: str,
    cross: Annotated[float, Parameter(help="Cross weight to reach, percent.")],
    perch: Annotated[
        list[Perch] | None, Parameter(negative="", help="A perch that may be turned; repeat it. All four unless given.")
    ] = None,
    step: Annotated[float, Parameter(help="Turns are rounded to this: 1, 0.5, 0.25, or 0.166667 for flats.")] = 0.25,
    least_bite: Annotated[float | None, Parameter(help="Least bite wanted, lb.")] = None,
    most_bite: Annotated[float | None, Parameter(help="Most bite wanted, lb.")] = None,
    least_left: Annotated[float | None, Parameter(help="Least left percentage wanted.")] = None,
    most_left: Annotated[float | None, Parameter(help="Most left percentage wanted.")] = None,
    remove: Remove = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Tell which perch turns reach a cross weight, heights held or disturbed least; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    asked = CrossWanted(
        cross_percent=cross,
        perches=perch or ["lf", "rf", "lr", "rr"],
        step_turns=step,
        least_bite_lb=opt(least_bite),
        most_bite_lb=opt(most_bite),
        least_left_percent=opt(least_left),
        most_left_percent=opt(most_left),
    )
    with open_book() as book:
        pulled = book.pull(ref)
        wanted = parse_changes(changes, remove=remove or [], document=pulled.document(), allow_unknown=allow_unknown)
        edits, removed = as_edits(wanted)
        answer = book.search_perches(
            pulled.revision.id, asked, edits=edits, remove=removed, allow_unknown=allow_unknown
        )
    print_answer(answer, perches_page, json=json)


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
        *page_end(answer.missing, answer.assumptions, answer.cautions),
    ]
