"""The team's cars: name, number, whether retired."""

from collections.abc import Sequence

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.entries import Car, CarChange, Cars, NewCar, Revision
from studbook_service.actions import merging
from studbook_service.actions.desk import Desk, tree_of
from studbook_service.actions.facts import latest
from studbook_service.actions.lines import by_line, car_line
from studbook_service.actions.recording import Change, Recorded, Terms, check_time, record, tag_of
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.views import revision
from studbook_service.store import Bearer, StoredEntry


async def list_cars(desk: Desk, bearer: Bearer) -> Cars:
    """List the team's cars by name of their lines."""
    tips = await desk.book.head_entries(bearer.team, "car/", "car")
    return Cars(items=[_car(of_one) for of_one in by_line(tips)])


async def read_car(desk: Desk, bearer: Bearer, car: str) -> Car:
    """Show one car.

    Raises:
        Refusal: `not_found`.
    """
    tips = await desk.book.tip_entries(bearer.team, car_line(car))
    if not tips:
        raise Refusal("not_found", f"there is no car {car}")
    return _car(tips)


async def add_car(desk: Desk, bearer: Bearer, wanted: NewCar, terms: Terms) -> tuple[Car, bool]:
    """Enter a car in the book.

    Args:
        desk: this process's place at the book.
        bearer: who asks.
        wanted: the car.
        terms: a new line, and the key of a retry.

    Returns:
        The car, and whether it was entered now rather than by an earlier try.

    Raises:
        Refusal: `exists`.
    """
    check_time(wanted.at)
    body = {"name": wanted.name, "number": wanted.number, "retired": False}
    change = Change(line=car_line(wanted.car), kind="car", compose=lambda _: body, note=wanted.note, at=wanted.at)
    try:
        recorded = await record(desk, bearer, change, terms)
    except Refusal as refusal:
        if refusal.code != "stale":
            raise
        raise Refusal("exists", f"there is a car {wanted.car} already", tag=refusal.tag, tips=refusal.tips) from None
    return _shown(recorded), recorded.fresh


async def change_car(desk: Desk, bearer: Bearer, car: str, wanted: CarChange, terms: Terms) -> Car:
    """Change a car's name or number, or retire it. Where its line is split, this settles it.

    Raises:
        Refusal: `stale`, `not_found`, `erased`, `key_reused`; `conflicts`, the sides differ on a member that is
            not given; `busy`.
    """
    members = {"name": wanted.name, "number": wanted.number, "retired": wanted.retired}
    set_now = {name: value for name, value in members.items() if value is not UNSET}

    line = car_line(car)
    tips = await desk.book.tips(bearer.team, line)
    # The split that its author saw stands there still, or was settled just now: by this very change, if it is a retry.
    known = (tuple(tip.id for tip in tips), *(tip.parents for tip in tips))
    split = next((ids for ids in known if len(ids) > 1 and terms.saw(ids)), ())
    merged = await merging.together(desk, bearer.team, line, split, chosen=set_now) if split else {}

    def compose(parents: Sequence[Tree]) -> Tree:
        return {**(merged if split else parents[0]), **set_now}

    change = Change(line=line, kind="car", compose=compose, note=wanted.note, parents=split, afresh=True)
    return _shown(await record(desk, bearer, change, terms))


def _shown(recorded: Recorded) -> Car:
    return _told(recorded.revision, recorded.tag, recorded.body)


def _car(tips: Sequence[StoredEntry]) -> Car:
    """Show a car by one tip; the tag covers all."""
    shown = latest(tips)
    return _told(revision(shown), tag_of([tip.id for tip in tips]), shown.body)


def _told(shown: Revision, tag: str, body: bytes) -> Car:
    members = tree_of(body)
    return Car(
        car=shown.car,
        name=members.get("name", ""),
        number=members.get("number", ""),
        retired=members.get("retired", False),
        revision=shown,
        tag=tag,
    )
