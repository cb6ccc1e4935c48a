"""`studbook tolerances`: how far a reading may be off before it is a finding."""

from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import Json, Note, Remove
from studbook.cli.rules import put
from studbook.core.errors import NotFoundError


def tolerances(*changes: str, remove: Remove = None, note: Note = "", json: Json = False) -> None:
    """Show the team's own tolerances, or set them; all others follow common practice.

    Changes: corner_lb=8 total_lb=15 cross_percent=0.2 height_in=0.0625 camber_deg=0.2 caster_deg=0.3 toe_in=0.03125
    lead_in=0.0625 play_in=0.003 spread_lb=3
    """
    try:
        put("tolerances", "tolerances", changes, remove=remove, note=note, json=json)
    except NotFoundError:
        raise CommandFailedError("none of your own yet: studbook tolerances corner_lb=8", code=0) from None
