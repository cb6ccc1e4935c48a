"""`studbook perches REF --cross`: perch turns that reach a cross weight."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.environment import open_book
from studbook.cli.number_format import fixed
from studbook.cli.options import NO_TRIAL, Json, Ref, Trial
from studbook.cli.parsing import trial_of
from studbook.cli.printing import figure_table, headline, page_end, print_answer
from studbook.cli.weights import by_wheel, carrying, weights_table
from studbook.wire.loads import CrossWanted, PerchesAnswer
from studbook.wire.setup.common import Corner
from studbook.wire.units import opt


def perches(
    ref: Ref,
    /,
    *changes: str,
    cross: Annotated[float, Parameter(help="Cross weight to reach, percent.")],
    perch: Annotated[
        list[Corner] | None,
        Parameter(negative="", help="A perch that may be turned; repeat it. All four unless given."),
    ] = None,
    step: Annotated[float, Parameter(help="Turns are rounded to this: 1, 0.5, 0.25, or 0.166667 for flats.")] = 0.25,
    least_bite: Annotated[float | None, Parameter(help="Least bite wanted, lb.")] = None,
    most_bite: Annotated[float | None, Parameter(help="Most bite wanted, lb.")] = None,
    least_left: Annotated[float | None, Parameter(help="Least left percentage wanted.")] = None,
    most_left: Annotated[float | None, Parameter(help="Most left percentage wanted.")] = None,
    trial: Trial = NO_TRIAL,
    json: Json = False,
) -> None:
    """Find the perch turns that reach a cross weight, heights held or disturbed least; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    wanted = CrossWanted(
        cross_percent=cross,
        perches=perch or ["lf", "rf", "lr", "rr"],
        step_turns=step,
        least_bite_lb=opt(least_bite),
        most_bite_lb=opt(most_bite),
        least_left_percent=opt(least_left),
        most_left_percent=opt(most_left),
    )
    with open_book() as book:
        pulled, _, edits = trial_of(book, ref, changes, trial)
        answer = book.search_perches(pulled.revision.id, wanted, **edits)
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
    columns = {"now": answer.before, "to the step": answer.rounded.weights, "exact": answer.exact.weights}
    heights = answer.rounded.ride_height or answer.rounded.rise
    limits = [] if answer.within_limits else ["  Bite or left percentage is outside the limits given."]
    return [
        *headline([answer.headline]),
        "",
        *figure_table(["PERCHES", "turn", "exact turns", "thread showing in"], rows, left=2),
        "",
        *weights_table("SCALES", columns),
        f"  heights {answer.heights}; to the step: {by_wheel(heights)} in",
        *limits,
        *carrying(answer.rounded.engaged, answer.rounded.lifted),
        *page_end(answer.missing, answer.assumptions, answer.cautions),
    ]
