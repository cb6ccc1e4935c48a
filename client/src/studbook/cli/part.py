"""`studbook part`: the parts by their tags, and how they stand."""

from typing import Annotated

from cyclopts import App, Parameter

from studbook.cli import recording
from studbook.cli.environment import open_book
from studbook.cli.options import AllowUnknown, Json, Note
from studbook.cli.printing import bullets, print_answer, print_json, table
from studbook.cli.shop import place_text, shop_lines
from studbook.wire.parts import PartKind
from studbook.wire.shelf import PartState, Shelf

part = App(name="part", help="Parts by their tags: list, show, enter, correct.")

Tag = Annotated[str, Parameter(help="The part's tag, such as s-041.")]


@part.command(name="list")
def list_(
    *, kind: PartKind | None = None, where: str | None = None, car: str | None = None, json: Json = False
) -> None:
    """List the parts as they stand: where each is, laps and nights, alerts; and the studs at hand."""
    with open_book() as book:
        found = book.shelf(kind=kind, where=where, car=car)
    print_answer(found, _states_page, json=json)


@part.command
def show(tag: Tag, /, *, json: Json = False) -> None:
    """Show a part and what was done with it."""
    with open_book() as book:
        record, shelf = book.part(tag), book.shelf(part=tag)
        done = list(book.shop_records(part=tag))
    if json:
        print_json({"record": record, "state": shelf.items[0] if shelf.items else None, "shop_records": done})
        return
    page = recording.page(record)
    for state in shelf.items:
        ran = ((state.laps, "lap"), (state.outings, "outing"), (state.nights, "night"))
        life = ", ".join(f"{many} {what}{'s' * (many != 1)}" for many, what in ran)
        page += ["", f"  {_where(state)}; {life}"]
        for read in state.preloads:
            off = f", {read.drift_in_lb:+g} off target" if isinstance(read.drift_in_lb, float | int) else ""
            page.append(f"  preload {read.torque_in_lb:g} in-lb {read.basis or ''}{off}  ({read.record})")
        page += bullets("Before it goes out:", [alert.detail for alert in state.alerts])
    print(*page, *(["", *shop_lines(done)] if done else []), sep="\n")


@part.command
def new(tag: Tag, /, *fields: str, note: Note = "", allow_unknown: AllowUnknown = False, json: Json = False) -> None:
    """Enter a part: path=value for what is known of it, such as kind=stud stud.length_in=1.7 price_usd=45.

    `studbook fields part` lists what may be known.
    """
    recording.enter("part", tag, fields, given=None, note=note, allow_unknown=allow_unknown, json=json)


recording.add_commands(part, "part", "a part")


def _states_page(shelf: Shelf) -> list[str]:
    rows = [
        (each.part, each.document.kind or "", _where(each), str(each.laps), str(each.nights), _alerts(each))
        for each in shelf.items
    ]
    lines = table(("part", "kind", "where", "laps", "nights", ""), rows, right=frozenset({3, 4}))
    wanting = [alert.detail for alert in shelf.corners]
    wanting += [alert.detail for each in shelf.items for alert in each.alerts]
    lines = lines if rows else ["No such parts yet: studbook part new TAG kind=stud stud.length_in=1.7"]
    lines += bullets("Before they go out:", wanting)
    if shelf.studs:
        lines += ["", "Studs at hand:"]
        for size in shelf.studs:
            length = f"{size.length_in:g} in" if size.length_in else "length unknown"
            taper = f", {size.taper_included_deg:g} deg" if size.taper_included_deg else ""
            lines.append(f"  {size.count} x {length}{taper}: {', '.join(size.parts)}")
    return lines


def _alerts(state: PartState) -> str:
    return ", ".join(dict.fromkeys(alert.code.replace("_", " ") for alert in state.alerts))


def _where(state: PartState) -> str:
    if state.scrapped:
        return "scrapped"
    return " and ".join(place_text(place) or "place not recorded" for place in state.places) or "place not recorded"
