"""`studbook what-if REF path=value ...`."""

from studbook.cli.effects import effects_page
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Ref, Remove
from studbook.cli.parsing import as_edits, change_text, parse_changes
from studbook.cli.printing import print_json


def what_if(
    ref: Ref,
    /,
    *changes: str,
    remove: Remove = None,
    allow_unknown: AllowUnknown = False,
    json: Json = False,
) -> None:
    """Tell what changes would do to the car; nothing is recorded.

    Changes: path=value, path+=amount, path-=amount. A path may be shortened to its last steps where one field alone
    ends so: rf.upper_stud.length_in+=0.5
    """
    with open_book() as book:
        pulled = book.pull(ref)
        wanted = parse_changes(changes, remove=remove or [], document=pulled.document(), allow_unknown=allow_unknown)
        edits, removed = as_edits(wanted)
        answer = book.what_if(pulled.revision.id, edits, remove=removed, allow_unknown=allow_unknown)
    if json:
        print_json(answer)
    else:
        print(f"What if, on {pulled.car}/{pulled.sheet} at {pulled.revision.id[:12]}:")
        print(*(f"  {change_text(change)}" for change in wanted), "", sep="\n")
        print(*effects_page(answer, changes_told=True), sep="\n")
