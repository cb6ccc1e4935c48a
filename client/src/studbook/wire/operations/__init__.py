"""Every operation of the API: one row each, by subject. The only place that says where one is and who may."""

from collections.abc import Iterator
from types import ModuleType
from typing import Any, Final

from studbook.wire.operations import access, book, cars, records, revisions, searches, service
from studbook.wire.operations.row import Operation


def _rows(module: ModuleType) -> Iterator[Operation[Any]]:
    return (row for row in vars(module).values() if isinstance(row, Operation))


OPERATIONS: Final[tuple[Operation[Any], ...]] = (
    *(row for module in (cars, revisions, book, searches) for row in _rows(module)),
    *(
        row
        for of in records.RECORD_OPERATIONS.values()
        for row in (of.listing, of.adding, of.reading, of.changing, of.history)
    ),
    *(row for module in (records, access, service) for row in _rows(module)),
)
"""All of them, in the order of the page."""
