"""The team's cars: name, number, whether retired."""

from collections.abc import Sequence

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.entries import Car, CarChange, Cars, NewCar, Revision
from studbook.wire.operations import cars as operations
from studbook_service.actions import merges
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.entries import (
    EntryDraft,
    Precondition,
    Recorded,
    check_time,
    record,
    record_first,
    tag_of,
)
from studbook_service.actions.facts import latest
from studbook_service.actions.lines import by_line, car_line
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.results import Tagged, Written, state_tag
from studbook_service.actions.views import revision
from studbook_service.store import Bearer, StoredEntry


@carries_out(operations.LIST_CARS)
async def list_cars(context: Context, bearer: Bearer) -> Cars:
    """List the team's cars by name of their lines."""
    tips = await context.book.head_entries(bearer.team, "car/", "car")
    return Cars(items=[_car(of_one) for of_one in by_line(tips)])


@carries_out(operations.READ_CAR)
async def read_car(context: Context, bearer: Bearer, car: str) -> Tagged:
    """Show one car."""
    tips = await context.book.tip_entries(bearer.team, car_line(car))
    if not tips:
        raise Refusal("not_found", f"there is no car {car}")
    shown = _car(tips)
    return Tagged(shown, state_tag(shown.tag, shown))


@carries_out(operations.ADD_CAR)
async def add_car(context: Context, bearer: Bearer, new: NewCar, precondition: Precondition) -> Written:
    """Enter a car in the book."""
    check_time(new.at)
    body = {"name": new.name, "number": new.number, "retired": False}
    draft = EntryDraft(line=car_line(new.car), kind="car", compose=lambda _: body, note=new.note, at=new.at)
    recorded = await record_first(context, bearer, draft, precondition, exists=f"there is a car {new.car} already")
    return Written(_recorded(recorded), recorded.tag, made=new.car if recorded.fresh else "", now=recorded.fresh)


@carries_out(operations.CHANGE_CAR)
async def change_car(
    context: Context, bearer: Bearer, car: str, change: CarChange, precondition: Precondition
) -> Written:
    """Change a car's name or number, or retire it. Where its line is split, this settles it.

    Raises:
        Refusal: `conflicts`, the sides differ on a member that is not given.
    """
    members = {"name": change.name, "number": change.number, "retired": change.retired}
    set_now = {name: value for name, value in members.items() if value is not UNSET}
    line = car_line(car)
    split = precondition.split_of(await context.book.tips(bearer.team, line))
    merged = await merges.merged_tree(context, bearer.team, line, split, chosen=set_now) if split else {}

    def compose(parents: Sequence[Tree]) -> Tree:
        return {**(merged if split else parents[0]), **set_now}

    draft = EntryDraft(line=line, kind="car", compose=compose, note=change.note, parents=split, afresh=True)
    recorded = await record(context, bearer, draft, precondition)
    return Written(_recorded(recorded), recorded.tag)


def _recorded(recorded: Recorded) -> Car:
    return _shown(recorded.revision, recorded.tag, recorded.body)


def _car(tips: Sequence[StoredEntry]) -> Car:
    """Show a car by one tip; the tag covers all."""
    shown = latest(tips)
    return _shown(revision(shown), tag_of([tip.id for tip in tips]), shown.body)


def _shown(shown: Revision, tag: str, body: bytes) -> Car:
    members = tree_of(body)
    return Car(
        car=shown.car,
        name=members.get("name", ""),
        number=members.get("number", ""),
        retired=members.get("retired", False),
        revision=shown,
        tag=tag,
    )
