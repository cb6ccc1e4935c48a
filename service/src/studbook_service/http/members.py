"""Members, and who holds a token."""

from litestar import get, patch, post
from litestar.params import FromPath

from studbook.wire.access import MemberChange, NewMember
from studbook.wire.entries import Request as Nothing
from studbook_service.actions import members
from studbook_service.http.asked import Asked
from studbook_service.http.replies import Reply, plain


@get("/v1/me")
async def read_me(request: Asked) -> Reply:
    """Say who holds the token."""
    _, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(members.me(bearer))


@get("/v1/members")
async def list_members(request: Asked) -> Reply:
    """List members."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await members.list_members(desk, bearer))


@post("/v1/members")
async def add_member(request: Asked) -> Reply:
    """Add a member."""
    desk, bearer = await request.enter()
    return plain(await members.add_member(desk, bearer, await request.read(NewMember)), status=201)


@patch("/v1/members/{member:str}")
async def change_member(request: Asked, member: FromPath[str]) -> Reply:
    """Change a member."""
    desk, bearer = await request.enter()
    return plain(await members.change_member(desk, bearer, member, await request.read(MemberChange)))


HANDLERS = [read_me, list_members, add_member, change_member]
