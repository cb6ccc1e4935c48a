"""How answers are laid out: tables, wrapped sentences, JSON. Plain text: sentences of 80 columns, tables of 98."""

import datetime as dt
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final, TypeVar

import msgspec

from studbook.cli.environment import bold
from studbook.history.canonical import encode
from studbook.wire.answers import Missing
from studbook.wire.entries import Author

T = TypeVar("T")

WIDTH: Final = 98
"""Of a table's line."""

PAPER: Final = 80
"""Of a sentence's line."""

_UNITS: Final = {"count": "", "ratio": "", "percent": "%", "deg_f": "°F", "shore_a": "Shore A"}


def print_json(answer: Any) -> None:
    """Print a wire answer for a program."""
    print(msgspec.json.format(msgspec.json.encode(answer), indent=2).decode())


def print_answer(answer: T, page: Callable[[T], Iterable[str]], *, json: bool) -> None:
    """Print an answer: as a program reads it, or laid out."""
    if json:
        print_json(answer)
    else:
        print(*page(answer), sep="\n")


def print_rows(
    answer: Any, header: Sequence[str], rows: Sequence[Sequence[str]], *, json: bool, none: str = ""
) -> None:
    """Print a list: as a program reads it, as a table, or the sentence `none` where there is nothing in it."""
    empty = none and not rows
    print_answer(answer, lambda _: [none] if empty else table(header, rows), json=json)


def table(header: Sequence[str], rows: Iterable[Sequence[str]], *, right: frozenset[int] = frozenset()) -> list[str]:
    """Lay rows out in columns two blanks apart; a line that would grow too long is cut.

    Args:
        header: names of the columns, each of one or two lines.
        rows: cells, as many as there are names.
        right: numbers of the columns that are set to the right.

    Example:
        >>> table(["car", "lb"], [["7", "590"]], right=frozenset({1}))
        ['car   lb', '7    590']
    """
    names = [name.split("\n") for name in header]
    deep = max(len(name) for name in names)
    heads = [[""] * (deep - len(name)) + name for name in names]
    cells = [*([name[line] for name in heads] for line in range(deep)), *(list(row) for row in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(header))]
    lines = [
        "  ".join(
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]
    return [short(line, WIDTH) for line in lines]


def figure_table(header: Sequence[str], rows: Iterable[Sequence[str]], *, left: int = 1) -> list[str]:
    """Lay figures out: the first columns set to the left, all others to the right, their names in bold."""
    lines = table(header, rows, right=frozenset(range(left, len(header))))
    head = 1 + max(name.count("\n") for name in header)
    return [*map(bold, lines[:head]), *lines[head:]]


def side_by_side(title: str, columns: Mapping[str, T], figures: Mapping[str, Callable[[T], str]]) -> list[str]:
    """Set the figures of several wheels, corners or states side by side, each figure on a row of its own.

    Example:
        >>> side_by_side("LENGTHS", {"a": "x", "b": "xyz"}, {"letters": lambda word: str(len(word))})
        ['LENGTHS  a  b', 'letters  1  3']
    """
    return figure_table([title, *columns], [[name, *map(cell, columns.values())] for name, cell in figures.items()])


def headline(sentences: Iterable[str], *, indent: str = "") -> list[str]:
    """Write an answer's first sentences in bold; `indent` goes before all lines of one but its first."""
    return [bold(line) for sentence in sentences for line in wrapped(sentence, indent=indent, first="")]


def wrapped(text: str, *, indent: str = "", first: str | None = None) -> list[str]:
    """Break a sentence into lines.

    Example:
        >>> wrapped("a caution", indent="  ", first="- ")
        ['- a caution']
    """
    begins = indent if first is None else first
    return textwrap.wrap(text, PAPER, initial_indent=begins, subsequent_indent=indent, break_on_hyphens=False)


def bullets(heading: str, sentences: Sequence[str]) -> list[str]:
    """List sentences under a heading, or give nothing where there are none."""
    if not sentences:
        return []
    return ["", heading, *(line for each in sentences for line in wrapped(each, indent="    ", first="  - "))]


def page_end(missing: Sequence[Missing], assumptions: Sequence[str], cautions: Sequence[str]) -> list[str]:
    """End a page: what could not be computed, the assumptions, the cautions."""
    listed: set[str] = set()
    lacks = [
        f"{each.subject.replace('_', ' ')}: {each.why or 'needs ' + _needs(each.fields, listed)}" for each in missing
    ]
    return bullets("Not computed", lacks) + bullets("Assumptions", assumptions) + bullets("Cautions", cautions)


def _needs(fields: Sequence[str], listed: set[str]) -> str:
    """Name the fields that something lacks, each once on a page, by the groups that they are in."""
    new = [each for each in fields if each not in listed]
    above = ["what is named above"] if len(new) < len(fields) else []
    listed.update(new)
    groups: dict[str, list[str]] = {}
    for each in new:
        group, _, name = each.rpartition(".")
        groups.setdefault(group, []).append(name)
    parts = [f"{group}: {', '.join(names)}" if names[1:] else f"{group}.{names[0]}" for group, names in groups.items()]
    return "; ".join(above + parts)


def short(text: str, width: int) -> str:
    """Cut a text that is too long, and show that it was cut.

    Example:
        >>> short("right-front upper stud", 14)
        'right-front...'
    """
    text = " ".join(text.split()) if "\n" in text else text
    return text if len(text) <= width else text[: width - 3] + "..."


def leaf(value: Any) -> str:
    """Show a leaf's value as JSON has it, text without its quotes; nothing where there is none.

    Example:
        >>> leaf([1, 2.5]), leaf("tacky"), leaf(msgspec.UNSET)
        ('[1,2.5]', 'tacky', '-')
    """
    if value is msgspec.UNSET:
        return "-"
    return value if isinstance(value, str) else encode(value).decode()


def unit_text(unit: str) -> str:
    """Write a unit as people do; nothing where the field's name says all there is.

    Example:
        >>> [unit_text(unit) for unit in ("lb_per_in", "in_lb", "count")]
        ['lb/in', 'in-lb', '']
    """
    return _UNITS.get(unit, unit.replace("_per_", "/").replace("_lb", "-lb").replace("_", " "))


def with_unit(value: Any, unit: str) -> str:
    """Show a leaf's value with its unit.

    Example:
        >>> with_unit(375, "lb_per_in"), with_unit(8, "count"), with_unit(msgspec.UNSET, "in")
        ('375 lb/in', '8', '-')
    """
    return leaf(value) if value is msgspec.UNSET else f"{leaf(value)} {unit_text(unit)}".rstrip()


def when(at: dt.datetime) -> str:
    """Show a time by the clock of this place, to the minute."""
    return at.astimezone().strftime("%Y-%m-%d %H:%M")


def who(author: Author) -> str:
    """Name an author; by the id where there is no name: it was erased, or the book is another team's.

    Example:
        >>> who(Author(id="m-q3w7k2nh5d", name="Robin")), who(Author(id="m-q3w7k2nh5d"))
        ('Robin', 'm-q3w7k2nh5d')
    """
    return author.name or author.id
