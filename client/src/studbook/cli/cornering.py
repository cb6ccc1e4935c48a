"""`studbook cornering REF --speed-mph --radius-ft`."""

from typing import Annotated

from cyclopts import Parameter

from studbook.cli.assignments import as_edits, read_changes
from studbook.cli.cornering_page import cornering_page
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.printing import print_answer
from studbook.wire.loads import CornerPath
from studbook.wire.units import opt


def cornering(
    ref: Ref,
    /,
    *changes: str,
    radius_ft: Annotated[float, Parameter(help="Of the path, seen from above.")],
    speed_mph: Annotated[float | None, Parameter(help="In the corner.")] = None,
    time_s: Annotated[
        float | None, Parameter(help="Instead of the speed: of a lap, or of the corner's segment.")
    ] = None,
    distance_ft: Annotated[float | None, Parameter(help="Driven in that time.")] = None,
    corner_speed_ratio: Annotated[
        float | None, Parameter(help="Speed in the corner over the mean: 1 for a segment, 0.80 to 0.95 for a lap.")
    ] = None,
    banking_deg: Annotated[float, Parameter(help="+ raised at the outside.")] = 0.0,
    drive_force_lb: Annotated[float, Parameter(help="Of both rear tires.")] = 0.0,
    drive_left_percent: Annotated[float, Parameter(help="The left rear tire's part of it.")] = 50.0,
    yaw_deg: Annotated[float, Parameter(help="+ nose to the inside, tail out.")] = 0.0,
    remove: Remove = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Tell how a car stands in a left-hand corner: loads, roll, travels, camber; nothing is recorded.

    Changes (path=value, path+=amount, path-=amount) are tried on the revision first.
    """
    path = CornerPath(
        radius_ft=radius_ft,
        speed_mph=opt(speed_mph),
        time_s=opt(time_s),
        distance_ft=opt(distance_ft),
        corner_speed_ratio=opt(corner_speed_ratio),
        banking_deg=banking_deg,
        drive_force_lb=drive_force_lb,
        drive_left_percent=drive_left_percent,
        yaw_deg=yaw_deg,
    )
    with open_book() as book:
        pulled = book.pull(ref)
        wanted = read_changes(changes, remove=remove or [], document=pulled.document(), allow_unknown=allow_unknown)
        edits, removed = as_edits(wanted)
        answer = book.cornering(pulled.revision.id, path, edits=edits, remove=removed, allow_unknown=allow_unknown)
    print_answer(answer, cornering_page, json=json)
