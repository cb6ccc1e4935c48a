"""`studbook rules`: a series' limits, as the team typed them."""

from collections.abc import Sequence

from studbook.cli import recording
from studbook.cli.environment import open_book
from studbook.cli.options import Json, Note, Remove
from studbook.cli.printing import print_answer
from studbook.core.errors import NotFoundError
from studbook.wire.records import Record


def rules(
    name: str | None = None, /, *changes: str, remove: Remove = None, note: Note = "", json: Json = False
) -> None:
    """List the rules, show those of one name, or enter and correct them.

    Changes: min_total_lb=2350 max_left_percent=54 max_rear_percent=58 tolerance_lb=5 fuel_rule="as it comes off"
    """
    if name is not None:
        put("rules", name, changes, remove=remove, note=note, json=json)
        return
    with open_book() as book:
        none = "No rules yet: studbook rules NAME min_total_lb=2350 max_left_percent=54"
        recording.print_records(book.records("rules"), _names, json=json, none=none)


def put(kind: str, name: str, words: Sequence[str], *, remove: Sequence[str] | None, note: str, json: bool) -> None:
    """Show a record, or enter or correct it, whichever there is to do."""
    with open_book() as book:
        if not words and not remove:
            print_answer(book.record(kind, name), recording.page, json=json)
            return
        try:
            book.record(kind, name)
        except NotFoundError:
            if not words:
                raise
            document = recording.build_document(kind, words)
            recording.report(book.new_record(kind, name, document, note=note), json=json)
            return
    recording.correct(kind, name, words, remove=remove, note=note, allow_unknown=False, json=json)


def _names(found: Sequence[Record]) -> list[str]:
    return [f"{each.name}  {recording.state_words(each)}".rstrip() for each in found]
