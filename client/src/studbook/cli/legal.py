"""`studbook legal REF RULES --fuel-burned LB`: the series' scales after the race."""

from typing import Annotated

from cyclopts import Parameter
from msgspec import UNSET

from studbook.cli.around_scales_page import race_page
from studbook.cli.assignments import as_edits, read_changes
from studbook.cli.endings import CommandFailedError
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.printing import print_answer
from studbook.wire.around_scales import RaceConditions
from studbook.wire.units import opt


def legal(
    ref: Ref,
    /,
    *words: str,
    fuel_burned: Annotated[float, Parameter(help="Fuel that will be burned, lb.")],
    driver: Annotated[float | None, Parameter(help="Weight of who drives, lb, if not as scaled.")] = None,
    scale_error: Annotated[float | None, Parameter(help="Standard error of each pad, lb.")] = None,
    remove: Remove = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Tell what a car weighs after the race, against the rules as you typed them; nothing is recorded.

    Words: the name of the rules, else the limits in the setup; and changes to try first, such as
    ballast.left_rail.weight_lb=20
    """
    names = [word for word in words if "=" not in word]
    if len(names) > 1:
        raise CommandFailedError(f"{' and '.join(names)}: name one set of rules, and changes as path=value")
    asked = RaceConditions(
        fuel_burned_lb=fuel_burned,
        rules=names[0] if names else UNSET,
        driver_weight_lb=opt(driver),
        scale_sigma_lb=opt(scale_error),
    )
    with open_book() as book:
        pulled = book.pull(ref)
        changes = [word for word in words if "=" in word]
        wanted = read_changes(changes, remove=remove or [], document=pulled.document(), allow_unknown=allow_unknown)
        edits, removed = as_edits(wanted)
        answer = book.after_race(pulled.revision.id, asked, edits=edits, remove=removed, allow_unknown=allow_unknown)
    print_answer(answer, race_page, json=json)
