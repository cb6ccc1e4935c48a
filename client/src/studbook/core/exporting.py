"""Tables of the book as they come in: chunks of pages into rows. No I/O."""

from dataclasses import dataclass
from typing import Any

from studbook.core.call import Reply
from studbook.core.errors import UnreadableAnswerError
from studbook.wire.export import CURSOR, Row, Table
from studbook.wire.rows import from_pages


@dataclass(frozen=True, slots=True)
class Extract:
    """A part of a table that is on its way.

    Attributes:
        cursor: where it ends.
        chunks: of bytes, to be iterated as the driver does.
    """

    cursor: str
    chunks: Any


def extract_of(reply: Reply) -> Extract:
    """Read the beginning of an export."""
    return Extract(reply.headers.get(CURSOR.lower(), ""), reply.chunks)


class Lines:
    r"""Takes chunks of pages as they come, and gives rows.

    Example:
        >>> from studbook.wire.export import Column
        >>> lines = Lines(Table(name="", about="", key=[], columns=[Column(name="a", type="number")]))
        >>> lines.rows(b'[[{"a":1}],[[0]]]\n[[{"a'), lines.rows(b'":2}],[[0]]]\n')
        ([{'a': 1}], [{'a': 2}])
    """

    def __init__(self, table: Table) -> None:
        self._table = table
        self._begun = b""

    def rows(self, chunk: bytes) -> list[Row]:
        """Take a chunk.

        Raises:
            UnreadableAnswerError: it holds other than rows of the table.
        """
        whole, end, begun = chunk.rpartition(b"\n")
        if not end:
            self._begun += chunk
            return []
        whole, self._begun = self._begun + whole, begun
        try:
            return from_pages(self._table, whole)
        except ValueError as error:
            raise UnreadableAnswerError(200, str(error)) from error
