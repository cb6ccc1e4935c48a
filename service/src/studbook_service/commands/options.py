"""Options that several commands take."""

from pathlib import Path
from typing import Annotated
from uuid import UUID

from cyclopts import Parameter

Data = Annotated[
    Path | None,
    Parameter(help="Folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder."),
]
Database = Annotated[str | None, Parameter(help="Address of a PostgreSQL database to use instead. STUDBOOK_DATABASE.")]
OwnerDatabase = Annotated[
    str | None,
    Parameter(help="Address of a PostgreSQL database to use instead, for the role that owns the tables."),
]
Team = Annotated[
    UUID | None, Parameter(help="Whose book, where the database keeps several. STUDBOOK_TOKEN names it too.")
]
