"""`studbook legal REF RULES --fuel-burned LB`: the series' scales after the race."""

from typing import Annotated

from cyclopts import Parameter
from msgspec import UNSET

from studbook.cli.environment import open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import NO_TRIAL, Json, Ref, Trial
from studbook.cli.parsing import trial_of
from studbook.cli.printing import bullets, headline, page_end, print_answer
from studbook.cli.weights import weights_table
from studbook.wire.around_scales import RaceAnswer, RaceTerms
from studbook.wire.units import opt


def legal(
    ref: Ref,
    /,
    *words: str,
    fuel_burned: Annotated[float, Parameter(help="Fuel that will be burned, lb.")],
    driver: Annotated[float | None, Parameter(help="Weight of who drives, lb, if not as scaled.")] = None,
    scale_error: Annotated[float | None, Parameter(help="Standard error of each pad, lb.")] = None,
    trial: Trial = NO_TRIAL,
    json: Json = False,
) -> None:
    """Show what the car weighs after the race, against the rules you entered; nothing is recorded.

    Words: the name of the rules, else the limits in the setup; and changes to try first, such as
    ballast.left_rail.weight_lb=20
    """
    names = [word for word in words if "=" not in word]
    if len(names) > 1:
        raise CommandFailedError(f"{' and '.join(names)}: name one set of rules, and changes as path=value")
    conditions = RaceTerms(
        fuel_burned_lb=fuel_burned,
        rules=names[0] if names else UNSET,
        driver_weight_lb=opt(driver),
        scale_sigma_lb=opt(scale_error),
    )
    with open_book() as book:
        pulled, _, edits = trial_of(book, ref, [word for word in words if "=" in word], trial)
        answer = book.after_race(pulled.revision.id, conditions, **edits)
    print_answer(answer, race_page, json=json)


def race_page(answer: RaceAnswer) -> list[str]:
    """Lay a prediction out: the limits in words, then the weights, then what it rests on."""
    page = [*headline(answer.headline, indent="  "), "", f"by {answer.source}"]
    if answer.scaled is not UNSET and answer.after is not UNSET:
        page += ["", *weights_table("SCALES", {"now": answer.scaled, "after the race": answer.after})]
    else:
        page += ["", f"total after the race {answer.total_lb:,.0f} lb"]
    return page + bullets("In between", answer.moved) + page_end(answer.missing, answer.assumptions, answer.cautions)
