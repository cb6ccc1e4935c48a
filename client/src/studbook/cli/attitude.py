"""`studbook attitude REF --heave --roll --pitch --steer`."""

from typing import Annotated

from cyclopts import Parameter
from msgspec import UNSET

from studbook.cli.assignments import read_changes
from studbook.cli.attitude_page import attitude_page
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.printing import print_json
from studbook.history.leaves import dotted


def attitude(
    ref: Ref,
    /,
    *changes: str,
    heave: Annotated[float, Parameter(help="Rise of the chassis origin since the survey, in.")] = 0.0,
    roll: Annotated[float, Parameter(help="Since the survey, deg, + right side down.")] = 0.0,
    pitch: Annotated[float, Parameter(help="Since the survey, deg, + nose down.")] = 0.0,
    steer: Annotated[float, Parameter(help="Of the rack or centre link, in, + toward the left.")] = 0.0,
    remove: Remove = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Tell how the car stands on its four wheels at an attitude; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    with open_book() as book:
        pulled = book.pull(ref)
        wanted = read_changes(changes, remove=remove or [], document=pulled.document(), allow_unknown=allow_unknown)
        answer = book.attitude(
            pulled.revision.id,
            heave_in=heave,
            roll_deg=roll,
            pitch_deg=pitch,
            steer_in=steer,
            edits={dotted(each.path): each.after for each in wanted if each.after is not UNSET},
            remove=[dotted(each.path) for each in wanted if each.after is UNSET],
            allow_unknown=allow_unknown,
        )
    if json:
        print_json(answer)
    else:
        print(*attitude_page(answer), sep="\n")
