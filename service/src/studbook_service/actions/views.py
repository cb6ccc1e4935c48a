"""Entries as the wire shows them."""

import msgspec
from msgspec import UNSET

from studbook.history import merge
from studbook.wire.entries import Author, Revision
from studbook_service.actions.lines import place
from studbook_service.night.times import moment
from studbook_service.store import EntryHead


def revision(head: EntryHead) -> Revision:
    """Show an entry without its body."""
    where = place(head.line)
    named = head.author_name or (merge.AUTHOR if head.author == merge.AUTHOR else "")
    return Revision(
        id=head.id.hex(),
        kind=head.kind,
        line=head.line,
        car=where.car,
        sheet=where.sheet or UNSET,
        parents=[parent.hex() for parent in head.parents],
        generation=head.generation,
        author=Author(id=head.author, name=named),
        at=moment(head.at_ms),
        received_at=head.received_at,
        note=head.note or "",
        content=head.content.hex(),
        carried_from=UNSET if head.carried_from is None else msgspec.json.decode(head.carried_from, type=str),
        erased=head.erased,
    )
