"""What a pull brings: a revision, and its document to read and to change."""

from dataclasses import dataclass, field

import msgspec

from studbook.core.errors import UnchangedError, local
from studbook.core.references import SheetName
from studbook.history.canonical import Tree, UnrecordableError, canonical, encode, parse
from studbook.history.changes import diff
from studbook.history.ids import tips_tag
from studbook.history.leaves import dotted
from studbook.wire.entries import Edit, Revision
from studbook.wire.setup import Setup


@dataclass(frozen=True, slots=True)
class Pulled:
    """A setup as it was when it was pulled; it does not change, its copies do.

    Attributes:
        car, sheet: slugs.
        tag: the sheet's state that a push will say it has seen.
        revision: id, author, time, note.

    Example::
        document = pulled.document()
        document["setup"]["front"]["rf"]["upper_stud"]["length_in"] = 1.7
        book.push(pulled, document, note="longer stud")

    In the Structs that `setup` gives, a field that the document leaves out is `msgspec.UNSET`.
    """

    car: str
    sheet: str
    tag: str
    revision: Revision
    content: bytes = field(repr=False)

    def document(self) -> Tree:
        """Give the whole document, unknown fields included, fresh at each call: change it and push it."""
        tree: Tree = parse(self.content)
        return tree

    def setup(self) -> Setup:
        """Give the document as typed Structs, fresh at each call: change them and push them.

        Raises:
            BadDocumentError: it came from another book with values this schema refuses; use `document`.
        """
        try:
            return msgspec.convert(self.document(), Setup)
        except msgspec.ValidationError:
            from studbook.wire.fields import check  # noqa: PLC0415 - the catalog of fields is seldom needed here

            faults = check(self.document())
            raise local("bad_document", faults[0].detail) from None


def pulled(revision: Revision, document: Tree, *, tag: str | None = None) -> Pulled:
    """Put a revision and its document together.

    Args:
        revision: of a sheet.
        document: as answered.
        tag: the sheet's tag; if not given, that of a sheet whose only tip is this revision, so a push of an older
            revision is stale by itself.

    Raises:
        BadReferenceError: the revision is no sheet's.
    """
    if not revision.sheet:
        raise local("bad_reference", f"{revision.id[:12]} is a revision of {revision.line}, not of a sheet")
    return Pulled(
        car=revision.car,
        sheet=revision.sheet,
        tag=tag or tips_tag([revision.id]),
        revision=revision,
        content=encode(canonical(document)),
    )


def edits_since(base: Pulled, document: Tree | Setup) -> list[Edit]:
    """List what differs from what was pulled; typed Structs are compared by the fields they know.

    Raises:
        UnchangedError: nothing differs.
        BadDocumentError: the document holds what the book cannot.
    """
    before = tree_of(base.setup()) if isinstance(document, Setup) else base.document()
    changes = diff(before, tree_of(document))
    if not changes:
        raise UnchangedError(f"nothing differs from {base.revision.id[:12]} of {SheetName(base.car, base.sheet)}")
    return [
        Edit(path=dotted(change.path), value=change.after)
        if change.after is not msgspec.UNSET
        else Edit(path=dotted(change.path), remove=True)
        for change in changes
    ]


def tree_of(document: Tree | msgspec.Struct) -> Tree:
    """Give a document as a canonical tree.

    Raises:
        BadDocumentError: it holds what the book cannot.

    Example:
        >>> tree_of(Setup(notes="tacky"))
        {'notes': 'tacky'}
    """
    try:
        tree: Tree = canonical(msgspec.to_builtins(document))
    except UnrecordableError as error:
        raise local("bad_document", str(error)) from None
    return tree
