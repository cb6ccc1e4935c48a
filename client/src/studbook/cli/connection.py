"""Which book a reference is about: ours, or a source's, as in `friend:7/baseline`."""

from collections.abc import Iterator
from contextlib import contextmanager

from studbook.blocking import Studbook
from studbook.cli import source_store
from studbook.cli.environment import open_book, timeout_s
from studbook.cli.exit_codes import REFUSED, CommandFailedError
from studbook.core.errors import TokenRefusedError
from studbook.core.pulled import Pulled


def split_source(ref: str) -> tuple[str | None, str]:
    """Take the source's name off a reference.

    Example:
        >>> split_source("friend:7/baseline~1"), split_source("7/baseline")
        (('friend', '7/baseline~1'), (None, '7/baseline'))
    """
    name, colon, rest = ref.partition(":")
    return (name, rest) if colon else (None, ref)


def reference_to(pulled: Pulled, source: str | None) -> str:
    """Name the sheet that something was pulled from, as a reference."""
    sheet = f"{pulled.car}/{pulled.sheet}"
    return sheet if source is None else f"{source}:{sheet}"


@contextmanager
def open_book_of(*refs: str) -> Iterator[tuple[Studbook, list[str]]]:
    """Open the book that some references are about.

    Yields:
        The book, and the references as they are called there.

    Raises:
        CommandFailedError: they are about several books, or the source is unknown or shows nothing any more.
    """
    names = {split_source(ref)[0] for ref in refs}
    if len(names) > 1:
        raise CommandFailedError(f"{' and '.join(refs)} are in different books: carry one over first")
    [name] = names
    there = [split_source(ref)[1] for ref in refs]
    if name is None:
        with open_book() as book:
            yield book, there
        return
    with open_source(name) as book:
        yield book, there


@contextmanager
def open_source(name: str) -> Iterator[Studbook]:
    """Open a source's book.

    Raises:
        CommandFailedError: it is unknown, or shows nothing any more.
    """
    source = source_store.find_source(name)
    try:
        with source.book(timeout_s()) as book:
            yield book
    except TokenRefusedError:
        raise CommandFailedError(f"{name} shows you nothing any more: what it shared has ended", code=REFUSED) from None
