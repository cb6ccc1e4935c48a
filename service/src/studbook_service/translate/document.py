"""Reading a document by dotted path, and remembering what was lacking and what had to be assumed."""

from dataclasses import dataclass, field
from typing import Any

from studbook.history.canonical import Tree
from studbook.history.leaves import at, steps
from studbook.wire.answers import Missing
from studbook.wire.fields import check
from studbook_service.translate.errors import FieldsUnfit

CORNERS = ("lf", "rf")

READ_MOST = 16
"""So much of what was read last is kept, by the very document: subject after subject asks for it, change after change.

Whoever looks copies the deque first, which no other thread can interrupt.
"""


@dataclass(kw_only=True)
class DocumentReader:
    """A setup document under reading.

    Attributes:
        tree: the document.
        lacking: paths asked for by `need` that are not there, in order of asking.
        assumed: sentences about what had to be assumed.

    Example:
        >>> reader = DocumentReader(tree={"notes": "tacky"})
        >>> reader.get("notes"), reader.need("setup.cg.height_in"), reader.lacking
        ('tacky', None, ['setup.cg.height_in'])
    """

    tree: Tree
    lacking: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)

    def get(self, path: str) -> Any:
        """Give the value at a path, or None."""
        return at(self.tree, steps(path))

    def need(self, path: str) -> Any:
        """Give the value at a path; when there is none, note the path as lacking."""
        value = self.get(path)
        if value is None:
            self.lacking.append(path)
        return value

    def assume(self, sentence: str) -> None:
        """Note an assumption once."""
        if sentence not in self.assumed:
            self.assumed.append(sentence)


def checked(tree: Tree) -> Tree:
    """Give the document back, or refuse one whose values are out of type or bounds.

    Raises:
        FieldsUnfit: with every fault.
    """
    faults = check(tree)
    if faults:
        raise FieldsUnfit(faults)
    return tree


def note_missing(missing: list[Missing], subject: str, fields: list[str]) -> None:
    """Note fields that a subject lacks, beside those that it lacks already.

    Example:
        >>> found = [Missing(subject="stud stress", fields=["a"])]
        >>> note_missing(found, "stud stress", ["b"])
        >>> found[0].fields
        ['a', 'b']
    """
    for each in missing:
        if each.subject == subject:
            each.fields += fields
            return
    missing.append(Missing(subject=subject, fields=fields))
