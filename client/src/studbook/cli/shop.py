"""`studbook shop`: what was done with parts."""

from typing import Annotated, Literal

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.cli import recording
from studbook.cli.environment import open_book
from studbook.cli.options import Json, Note
from studbook.cli.printing import table
from studbook.wire.parts import PartPlace, ShopRecord
from studbook.wire.records import Record, typed
from studbook.wire.setup.common import Corner

shop = App(name="shop", help="What was done with parts: list, show, enter, correct.")

Done = Literal["fitted", "removed", "moved", "preload", "contact", "inspected", "rebuilt", "scrapped", "play"]


@shop.command(name="list")
def list_(*, part: str | None = None, what: Done | None = None, json: Json = False) -> None:
    """List what was done, with one part or of one sort if given."""
    with open_book() as book:
        found = book.shop_records(part=part, what=what)
        none = "Nothing yet: studbook shop new PART fitted --car 7 --corner rf --slot upper_stud"
        recording.print_records(found, shop_lines, json=json, none=none)


@shop.command
def new(
    part: Annotated[str, Parameter(help="The part's tag.")],
    what: Done,
    /,
    *fields: str,
    at: Annotated[
        str | None, Parameter(help="When, such as 16:10 today or 2026-05-02T16:10; now unless given.")
    ] = None,
    car: str | None = None,
    corner: Corner | None = None,
    slot: Annotated[str | None, Parameter(help="What it is there: upper_stud, lower_stud, spring, shock ...")] = None,
    where: Annotated[Literal["shelf", "trailer"] | None, Parameter(help="Where it went, if on no car.")] = None,
    note: Note = "",
    json: Json = False,
) -> None:
    """Enter what was done with a part: path=value for what was read, such as preload.torque_in_lb=9.

    `studbook fields shop` lists what may be known.
    """
    where_to = {"where": where or ("car" if car else None), "car": car, "corner": corner, "slot": slot}
    place = {name: value for name, value in where_to.items() if value is not None}
    given = {"what": what, "at": recording.now() if at is None else recording.parse_time(at)}
    document = recording.build_document("shop_record", fields, given=given | ({"place": place} if place else {}))
    with open_book() as book:
        recording.report(book.new_shop_record(part, document, note=note), json=json)


recording.add_commands(shop, "shop_record", "what was done with a part")


def shop_lines(found: list[Record]) -> list[str]:
    """Lay shop records out."""
    rows = []
    for each in found:
        of = typed(each)
        there = place_text(of.place) if of.place else ""
        rows.append((each.name, (of.at or "")[:16].replace("T", " "), there, _read(of), recording.state_words(each)))
    return table(("record", "at", "where", "read", ""), rows)


def place_text(place: PartPlace) -> str:
    """Describe a place in a few words; nothing where it says none.

    Example:
        >>> place_text(PartPlace(where="car", car="7", corner="rf", slot="upper_stud"))
        'car 7 rf upper_stud'
    """
    if not place.car:
        return place.where or ""
    return " ".join(word for word in (f"car {place.car}", place.corner, place.slot) if word)


def _read(record: ShopRecord) -> str:
    """Describe in a few words what was read or found."""
    words = []
    if preload := record.preload or None:
        pull = f"{preload.pull_lb:g} lb at {preload.lever_in:g} in" if preload.pull_lb and preload.lever_in else ""
        torque = pull if preload.torque_in_lb is UNSET else f"{preload.torque_in_lb:g} in-lb"
        words.append(f"{torque} {preload.basis or ''}".strip())
    if record.play_in is not UNSET:
        words.append(f"{record.play_in:g} in of play")
    if found := record.inspected or None:
        words.append(
            "straight" if found.straight else f"bent by {found.bent_by_in:g} in" if found.bent_by_in else "not straight"
        )
        words += ["the whole corner"] * bool(found.whole_corner)
        words += [f"signed {found.signed_by}"] if found.signed_by else ["not signed"]
    return ", ".join(words)
