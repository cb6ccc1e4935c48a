"""Options that several commands share."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final

from cyclopts import Parameter

Json = Annotated[bool, Parameter(name="--json", negative="", help="Print the service's answer as JSON.")]
Note = Annotated[str, Parameter(name=["-m", "--note"], help="Why: the note kept with the revision.")]
WasSo = Annotated[
    str | None,
    Parameter(name="--at", help="When it was so, such as 2026-05-02T18:00, or 18:00 today; now unless given."),
]
AllowUnknown = Annotated[
    bool, Parameter(negative="", help="Accept new fields that the schema does not know (check the spelling).")
]
Ref = Annotated[str, Parameter(help="CAR/SHEET, CAR/SHEET~1 for one step back, or 6 or more digits of an id.")]
ReadRef = Annotated[
    str, Parameter(help="CAR/SHEET, CAR/SHEET~1, or 6 or more digits of an id; of a source, with SOURCE: before it.")
]
SheetRef = Annotated[str, Parameter(help="CAR/SHEET, such as 7/baseline.")]
TokenFile = Annotated[Path | None, Parameter(help="Read the token of the other book from this file.")]
Remove = Annotated[
    list[str] | None, Parameter(name="--remove", negative="", help="A field to take away; may be repeated.")
]


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Trial:
    """Options of the commands that try changes on a revision."""

    remove: Remove = None
    allow_unknown: AllowUnknown = False


NO_TRIAL: Final = Trial()
