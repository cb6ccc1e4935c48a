"""`studbook attitude REF --heave --roll --pitch --steer`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.assignments import as_edits, read_changes
from studbook.cli.attitude_page import attitude_page
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.printing import print_answer


def attitude(
    ref: Ref,
    /,
    *changes: str,
    heave: Annotated[float, Parameter(help="Rise of the chassis origin since the survey, in.")] = 0.0,
    roll: Annotated[float, Parameter(help="Since the survey, deg, + right side down.")] = 0.0,
    pitch: Annotated[float, Parameter(help="Since the survey, deg, + nose down.")] = 0.0,
    steer: Annotated[float, Parameter(help="Of the rack or center link, in, + toward the left.")] = 0.0,
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
        edits, removed = as_edits(wanted)
        answer = book.attitude(
            pulled.revision.id,
            heave_in=heave,
            roll_deg=roll,
            pitch_deg=pitch,
            steer_in=steer,
            edits=edits,
            remove=removed,
            allow_unknown=allow_unknown,
        )
    print_answer(answer, attitude_page, json=json)
