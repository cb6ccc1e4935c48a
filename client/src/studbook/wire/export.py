"""The book as tables: which there are, what their columns mean, and how one is exported.

A row stands for a part of one entry and never changes: a correction is another entry with rows of its own. Every row
carries `line`, `entry` (its id), `seq` (the entry's place in this node's book) and `current`: no other entry followed
it on its line, as of the end of the export.
"""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from msgspec import UNSET, Meta

from studbook.wire.entries import Answer, Request
from studbook.wire.units import Opt

ColumnType = Literal["text", "number", "integer", "flag", "time", "numbers", "json"]
"""`time` is UTC to the millisecond; `numbers` an array of them; `json` text that holds JSON, of any form."""

Row = dict[str, Any]
"""The cells of a row that are not empty, by column. Empty text counts as none. Rows may share an array."""

Parts = Sequence[Row]
"""A row as groups of cells, of different columns; rows with cells in common share the group, which nobody changes."""

Cursor = Annotated[
    str,
    Meta(
        pattern=r"^\d{1,16}-[0-9a-f]{16}$", description="a place in the book, as an export and the list of tables say"
    ),
]

NDJSON, CSV = "application/x-ndjson", "text/csv"
"""Media types. Lines of JSON hold the cells that are not empty; CSV is RFC 4180 with a header row, in UTF-8."""

Form = Literal["ndjson", "csv", "pages"]
"""`pages` are lines of JSON too, each of several rows, `[parts, rows]`: groups of cells, and for each row the places,
from 0, of those groups that make it up. Most of two setups of a car is equal, and is written once in a page."""

WITHIN_S = 5.0


class Column(Answer):
    """One column.

    Attributes:
        unit: symbol of its numbers' unit.
    """

    name: str
    type: ColumnType
    about: str = ""
    unit: Opt[str] = UNSET


class Table(Answer):
    """One table.

    Attributes:
        key: the columns whose cells differ in every row.
    """

    name: str
    about: str
    key: list[str]
    columns: list[Column]


class Tables(Answer):
    """Every table, and where the book stands.

    Attributes:
        cursor: as `until` of several exports it makes all of them of one moment; as `after` of a later one it
            leaves out what these held.
    """

    cursor: str
    items: list[Table]

    def __getitem__(self, name: str) -> Table:
        """Give a table by its name.

        Raises:
            KeyError: there is none.
        """
        for table in self.items:
            if table.name == name:
                return table
        raise KeyError(name)


class ExportQuery(Request):
    """Which part of a table, and in what form.

    Attributes:
        within_s: of the table of effects alone: what the service did not compute by itself yet is computed for so long,
            and then marked as pending.
    """

    format: Annotated[
        Form, Meta(description="a line of JSON for each row; CSV; or pages [parts, rows], each row of parts by place")
    ] = "ndjson"
    after: Opt[Cursor] = UNSET
    until: Opt[Cursor] = UNSET
    within_s: Annotated[
        float, Meta(ge=0, le=600, description="effects alone: compute for so long what is not known yet, seconds")
    ] = WITHIN_S
