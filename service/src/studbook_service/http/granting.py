"""What is granted: tokens, shares, protection; and the record of every change to who may what."""

from litestar import delete, get, post, put
from litestar.params import FromPath

from studbook.wire.access import AuditPage, NewShare, NewToken
from studbook.wire.entries import Request as Nothing
from studbook_service.actions import audit, protection, shares, tokens
from studbook_service.http.asked import Asked
from studbook_service.http.replies import Reply, plain


@get("/v1/tokens")
async def list_tokens(request: Asked) -> Reply:
    """List tokens."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await tokens.list_tokens(desk, bearer))


@post("/v1/tokens")
async def make_token(request: Asked) -> Reply:
    """Make a token."""
    desk, bearer = await request.enter()
    return plain(await tokens.make_token(desk, bearer, await request.read(NewToken)), status=201)


@delete("/v1/tokens/{token:str}", status_code=200)
async def end_token(request: Asked, token: FromPath[str]) -> Reply:
    """End a token."""
    desk, bearer = await request.enter()
    return plain(await tokens.end_token(desk, bearer, token))


@get("/v1/shares")
async def list_shares(request: Asked) -> Reply:
    """List shares."""
    desk, bearer = await request.enter()
    request.ask(Nothing)
    return request.reply(await shares.list_shares(desk, bearer))


@post("/v1/shares")
async def make_share(request: Asked) -> Reply:
    """Share a car or a sheet."""
    desk, bearer = await request.enter()
    return plain(await shares.make_share(desk, bearer, await request.read(NewShare)), status=201)


@delete("/v1/shares/{share:str}", status_code=200)
async def end_share(request: Asked, share: FromPath[str]) -> Reply:
    """End a share."""
    desk, bearer = await request.enter()
    return plain(await shares.end_share(desk, bearer, share))


@put("/v1/cars/{car:str}/sheets/{sheet:str}/protection")
async def protect_sheet(request: Asked, car: FromPath[str], sheet: FromPath[str]) -> Reply:
    """Let only a chief record on a sheet."""
    desk, bearer = await request.enter()
    return plain(await protection.protect(desk, bearer, car, sheet))


@delete("/v1/cars/{car:str}/sheets/{sheet:str}/protection", status_code=200)
async def unprotect_sheet(request: Asked, car: FromPath[str], sheet: FromPath[str]) -> Reply:
    """Let the crew record on a sheet again."""
    desk, bearer = await request.enter()
    return plain(await protection.unprotect(desk, bearer, car, sheet))


@get("/v1/audit")
async def read_audit(request: Asked) -> Reply:
    """Read a page of the record of changes."""
    desk, bearer = await request.enter()
    page = request.ask(AuditPage)
    return request.reply(await audit.read_audit(desk, bearer, after=page.after, limit=page.limit))


HANDLERS = [
    list_tokens,
    make_token,
    end_token,
    list_shares,
    make_share,
    end_share,
    protect_sheet,
    unprotect_sheet,
    read_audit,
]
