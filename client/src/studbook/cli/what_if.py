"""`studbook what-if REF path=value ...`."""

from studbook.cli.effects import effects_page
from studbook.cli.environment import open_book
from studbook.cli.options import NO_TRIAL, Json, Ref, Trial
from studbook.cli.parsing import change_text, trial_of
from studbook.cli.printing import print_json


def what_if(ref: Ref, /, *changes: str, trial: Trial = NO_TRIAL, json: Json = False) -> None:
    """Show what changes would do to the car; nothing is recorded.

    Changes: path=value, path+=amount, path-=amount. A path may be shortened to its last steps where one field alone
    ends so: rf.upper_stud.length_in+=0.5
    """
    with open_book() as book:
        pulled, wanted, edits = trial_of(book, ref, changes, trial)
        answer = book.what_if(pulled.revision.id, **edits)
    if json:
        print_json(answer)
    else:
        print(f"What if, on {pulled.car}/{pulled.sheet} at {pulled.revision.id[:12]}:")
        print(*(f"  {change_text(change)}" for change in wanted), "", sep="\n")
        print(*effects_page(answer, show_changes=False), sep="\n")
