"""Cars and their sheets."""

from litestar import get, patch, post
from litestar.params import FromPath

from studbook.wire.entries import CarChange, NewCar, NewRevision, Page, Pushed
from studbook.wire.entries import Request as Nothing
from studbook_service.actions import cars, merging, pushing, sheets
from studbook_service.actions.recording import Terms
from studbook_service.http.asked import Asked
from studbook_service.http.replies import Reply, named, plain, state_tag


@get("/v1/cars")
async def list_cars(request: Asked) -> Reply:
    """List cars."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await cars.list_cars(desk, bearer))


@post("/v1/cars")
async def add_car(request: Asked) -> Reply:
    """Enter a car."""
    desk, bearer = await request.enter()
    wanted = await request.read(NewCar)
    car, fresh = await cars.add_car(desk, bearer, wanted, await request.keyed(Terms(new=True)))
    location = {"location": f"/v1/cars/{car.car}"} if fresh else {}
    return plain(car, status=201 if fresh else 200, headers={"etag": f'"{car.tag}"', **location})


@get("/v1/cars/{car:str}")
async def read_car(request: Asked, car: FromPath[str]) -> Reply:
    """Read a car."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    found = await cars.read_car(desk, bearer, car)
    return request.reply(found, tag=state_tag(found.tag, found))


@patch("/v1/cars/{car:str}")
async def change_car(request: Asked, car: FromPath[str]) -> Reply:
    """Change a car."""
    desk, bearer = await request.enter()
    terms = await request.terms()
    changed = await cars.change_car(desk, bearer, car, await request.read(CarChange), terms)
    return plain(changed, headers={"etag": f'"{changed.tag}"'})


@get("/v1/cars/{car:str}/sheets")
async def list_sheets(request: Asked, car: FromPath[str]) -> Reply:
    """List a car's sheets."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await sheets.list_sheets(desk, bearer, car))


@get("/v1/cars/{car:str}/sheets/{sheet:str}")
async def read_sheet(request: Asked, car: FromPath[str], sheet: FromPath[str]) -> Reply:
    """Read a sheet; the document is not even fetched for a client that has it."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    head = await sheets.tips(desk, bearer, car, sheet)
    tag = state_tag(head.tag, head)
    if request.has(tag):
        return Reply(status=304, headers=named(tag))
    return request.reply(await sheets.with_document(desk, bearer.team, head), tag=tag)


@post("/v1/cars/{car:str}/sheets/{sheet:str}/revisions")
async def push_revision(request: Asked, car: FromPath[str], sheet: FromPath[str]) -> Reply:
    """Push a revision."""
    desk, bearer = await request.enter()
    terms = await request.terms()
    return _pushed(await pushing.push(desk, bearer, car, sheet, await request.read(NewRevision), terms))


@post("/v1/cars/{car:str}/sheets/{sheet:str}/merge")
async def accept_merge(request: Asked, car: FromPath[str], sheet: FromPath[str]) -> Reply:
    """Accept the merge of a split sheet."""
    desk, bearer = await request.enter()
    return _pushed(await merging.accept(desk, bearer, car, sheet, await request.terms()))


@get("/v1/cars/{car:str}/sheets/{sheet:str}/history")
async def read_history(request: Asked, car: FromPath[str], sheet: FromPath[str]) -> Reply:
    """Read a page of a sheet's history."""
    desk, bearer = await request.enter()
    page = request.ask(Page)
    found = await sheets.history(desk, bearer, car, sheet, limit=page.limit, cursor=page.cursor or None)
    following = f"</v1/cars/{car}/sheets/{sheet}/history?limit={page.limit}&cursor={found.next}>"
    return request.reply(found, headers={"link": f'{following}; rel="next"'} if found.next else {})


def _pushed(pushed: Pushed) -> Reply:
    headers = {"etag": f'"{pushed.tag}"', "location": f"/v1/revisions/{pushed.revision.id}"}
    return plain(pushed, status=201 if pushed.recorded else 200, headers=headers)


HANDLERS = [
    list_cars,
    add_car,
    read_car,
    change_car,
    list_sheets,
    read_sheet,
    push_revision,
    accept_merge,
    read_history,
]
