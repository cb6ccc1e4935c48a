"""Documents as they come in: whole or as edits on another, checked, with every fault reported at once."""

from collections.abc import Iterable, Sequence

import msgspec
from msgspec import UNSET

from studbook.history.canonical import MAX_DEPTH, SLUG, Tree, UnrecordableError, canonical, encode
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import Path, dotted, leaves, steps
from studbook.wire import fields
from studbook.wire.entries import Edit
from studbook.wire.problem import FieldFault
from studbook.wire.setup import Setup
from studbook_service.actions.refusals import Refusal

DOCUMENT_MOST_BYTES = 256 * 1024
FAULTS_MOST = 200
"""So many are listed one by one; of more, how many."""


def whole(document: Tree, of: type = Setup) -> Tree:
    """Bring a whole document to its one form and check every field.

    Args:
        document: as received.
        of: its Struct.

    Raises:
        Refusal: `bad_document`, with pointers into the request's `document`; `too_large`, before its fields are
            looked at.

    Example:
        >>> whole({"notes": "tacky", "setup": {}})
        {'notes': 'tacky'}
    """
    try:
        tree: Tree = canonical(document)
    except UnrecordableError as error:
        raise _bad([_fault(error, "/document")]) from None
    refuse_large(encode(tree))
    faults = fields.check(tree, of)
    if faults:
        raise _bad(_pointed(fault, "/document", 0) for fault in faults)
    return tree


def edits(wanted: Sequence[Edit], of: type = Setup) -> list[FieldChange]:
    """Read edits and check each value against its field.

    Raises:
        Refusal: `bad_document`, with pointers into the request's `edits`.

    Example:
        >>> edits([Edit(path="setup.cg.height_in", value=17.0)])
        [FieldChange(path=('setup', 'cg', 'height_in'), before=UNSET, after=17)]
    """
    changes: list[FieldChange] = []
    faults: list[FieldFault] = []
    seen: set[Path] = set()
    for place, edit in enumerate(wanted):
        path = steps(edit.path)
        if wrong := _misspelled(edit, path, seen):
            faults.append(FieldFault(pointer=f"/edits/{place}", path=edit.path[:200], detail=wrong))
            continue
        seen.add(path)
        try:
            value = UNSET if edit.value is UNSET else canonical(edit.value, depth=len(path))
        except UnrecordableError as error:
            faults.append(_fault(error, f"/edits/{place}/value", edit.path))
            continue
        if value is not UNSET:
            faults += (_pointed(fault, f"/edits/{place}/value", len(path)) for fault in fields.fits(path, value, of))
        changes.append(FieldChange(path, after=value))
    if faults:
        raise _bad(faults)
    return changes


def edited(changes: Sequence[FieldChange], parent: Tree) -> Tree:
    """Apply checked edits to the document they were made on.

    Raises:
        Refusal: `bad_document`, an edit goes through a value or removes what is not there.
    """
    try:
        return apply(changes, parent)
    except UnrecordableError as error:
        raise _bad([_at_edit(FieldFault(path=dotted(error.path), detail=error.reason), changes)]) from None


def refuse_unknown(
    tree: Tree, *, parents: Sequence[Tree], changes: Sequence[FieldChange] | None = None, of: type = Setup
) -> None:
    """Refuse fields that neither the schema nor any parent knows.

    Args:
        tree: the new document.
        parents: the documents it follows.
        changes: the edits it was made by, when it was, for their pointers.
        of: its Struct.

    Raises:
        Refusal: `bad_document`, each with the nearest known name.
    """
    kept = {dotted(path) for parent in parents[1:] for path in leaves(parent)}
    found = fields.unknown(tree, known=parents[0] if parents else None, of=of)
    faults = [fault for fault in found if fault.path not in kept]
    if not faults:
        return
    if changes is None:
        raise _bad(_pointed(fault, "/document", 0) for fault in faults)
    raise _bad(_at_edit(fault, changes) for fault in faults[:FAULTS_MOST])


def refuse_faulty(faults: Sequence[FieldFault], *, changes: Sequence[FieldChange] | None = None) -> None:
    """Refuse a document for what was found wrong with it as a whole.

    Args:
        faults: with the fields' paths; those without one are about its name.
        changes: the edits it was made by, when it was, for their pointers.

    Raises:
        Refusal: `bad_document`, if there are any.
    """
    if faults:
        raise _bad(
            msgspec.structs.replace(fault, pointer="/name")
            if fault.path is UNSET
            else _pointed(fault, "/document", 0)
            if changes is None
            else _at_edit(fault, changes)
            for fault in faults
        )


def refuse_large(body: bytes) -> None:
    """Refuse a document that is too large to keep.

    Raises:
        Refusal: `too_large`.
    """
    if len(body) > DOCUMENT_MOST_BYTES:
        raise Refusal("too_large", f"the document has {len(body)} bytes, {DOCUMENT_MOST_BYTES} are accepted")


def _misspelled(edit: Edit, path: Path, seen: set[Path]) -> str | None:
    if not all(SLUG.fullmatch(step) for step in path):
        return f"{edit.path[:80]!r} is no path: names of a-z, 0-9, _ and - joined by dots"
    if len(path) > MAX_DEPTH:
        return f"{edit.path[:80]}: nested deeper than {MAX_DEPTH} levels"
    if path in seen:
        return f"{edit.path} stands twice"
    if edit.remove is (edit.value is not UNSET):
        return f"{edit.path}: give either a value or remove: true"
    if isinstance(edit.value, dict):
        return f"{edit.path}: an edit sets one value; name the fields inside it one by one"
    return None


def _fault(error: UnrecordableError, pointer: str, edit: str | None = None) -> FieldFault:
    inside = dotted(error.path)
    path = f"{edit}.{inside}".rstrip(".") if edit else inside
    where = "".join(f"/{step}" for step in error.path)
    detail = f"{path}: {error.reason}" if path else error.reason
    return FieldFault(pointer=f"{pointer}{where}", path=path or UNSET, detail=detail)


def _pointed(fault: FieldFault, pointer: str, skipped: int) -> FieldFault:
    """Say where in the request a fault is, given that the pointer stands for the path's first steps."""
    inside = steps(str(fault.path))[skipped:]
    return msgspec.structs.replace(fault, pointer="/".join([pointer, *inside]))


def _at_edit(fault: FieldFault, changes: Sequence[FieldChange]) -> FieldFault:
    path = steps(str(fault.path))
    place = next((n for n, change in enumerate(changes) if path[: len(change.path)] == change.path), 0)
    return msgspec.structs.replace(fault, pointer=f"/edits/{place}")


def _bad(faults: Iterable[FieldFault]) -> Refusal:
    found = list(faults)
    detail = found[0].detail if len(found) == 1 else f"{found[0].detail} (and {len(found) - 1} more)"
    return Refusal("bad_document", detail, errors=found[:FAULTS_MOST])
