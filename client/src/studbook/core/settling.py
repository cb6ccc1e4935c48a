"""Settling a split sheet: the merge, with what a person chose for each field in conflict."""

from collections.abc import Iterable, Mapping
from typing import Any

from studbook.core.errors import local
from studbook.history.canonical import Tree, UnrecordableError, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import at, steps
from studbook.wire.entries import Conflict, Merge, Sheet


def settled(seen: Sheet, choices: Mapping[str, Any], remove: Iterable[str]) -> Tree:
    """Put choices into the merge of a split sheet.

    Args:
        seen: the split sheet.
        choices: values by dotted path; a conflict about a group is settled by a value for it or for fields inside it.
        remove: paths to leave out.

    Raises:
        ErasedError: some of what the merge is made of was erased.
        BadRequestError: the sheet is not split.
        ConflictsError: a conflict has no choice, or there are more than are listed.
        BadDocumentError: a choice cannot be put in.
    """
    if seen.erased:
        what = (
            f"{seen.car}/{seen.sheet}: what its merge is made of was erased in part; replace it with a whole document"
        )
        raise local("erased", what)
    if not isinstance(seen.merge, Merge):
        raise local("bad_request", f"{seen.car}/{seen.sheet} is not split: there is nothing to settle")
    if seen.merge.unlisted:
        what = f"{seen.car}/{seen.sheet}: the sides differ on {seen.merge.unlisted} more fields than are listed"
        raise local("conflicts", f"{what}; replace it with a whole document", tag=seen.tag)
    removed = list(remove)
    open_ = [each.path for each in seen.merge.conflicts if not _is_settled(each, [*choices, *removed])]
    if open_:
        detail = f"choose a value for {', '.join(open_)}"
        raise local("conflicts", detail, tag=seen.tag, tips=[tip.id for tip in seen.tips])
    document = seen.merge.document
    try:
        changes = [FieldChange(steps(path), after=canonical(value)) for path, value in choices.items()]
        # What is in conflict stands in no merge, so leaving it out needs no change.
        changes += [FieldChange(steps(path)) for path in removed if at(document, steps(path)) is not None]
        return apply(changes, document)
    except UnrecordableError as error:
        raise local("bad_document", str(error)) from None


def merged_tips(seen: Sheet) -> list[str]:
    """Name the tips that the merge of a split sheet is made of."""
    left = seen.merge.left if isinstance(seen.merge, Merge) else 0
    return [tip.id for tip in seen.tips[: len(seen.tips) - left]]


def _is_settled(conflict: Conflict, chosen: Iterable[str]) -> bool:
    return any(path == conflict.path or path.startswith(f"{conflict.path}.") for path in chosen)
