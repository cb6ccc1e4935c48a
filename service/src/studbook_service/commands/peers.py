"""`studbook peers`: the other nodes that keep this book."""

import asyncio
import getpass
import sys
from pathlib import Path
from typing import Annotated, Final

from cyclopts import Parameter

from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.files import read_secret
from studbook.core.address import checked_address
from studbook.core.bearer_token import token_fault
from studbook.core.errors import AddressError
from studbook.history.canonical import SLUG
from studbook_service.actions.known_peers import add_peer
from studbook_service.actions.peers import shown_peers
from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.node import open_node, read_settings
from studbook_service.commands.options import Data, Database
from studbook_service.commands.output import print_line
from studbook_service.exchange.driver import Address
from studbook_service.settings import BadSetting, Settings
from studbook_service.store import audit_event

_TOKEN_MOST: Final = 4096


def add(
    name: Annotated[str, Parameter(help="How to call it here.")],
    url: Annotated[str, Parameter(help="Where it answers.")],
    *,
    join: Annotated[bool, Parameter(help="This book began alone and becomes part of the other.")] = False,
    token_file: Annotated[Path | None, Parameter(help="Read the token from here instead.")] = None,
    insecure_http: Annotated[
        bool, Parameter(negative="", help="Allow plain http to another machine: all on the way can read the token.")
    ] = False,
    data: Data = None,
    database: Database = None,
) -> None:
    """Add a node to exchange with. Its token, of role node, is typed in, or read from standard input."""
    with exit_on_error():
        if not SLUG.fullmatch(name):
            raise BadSetting(f"{name!r} is no name: 1 to 48 of a-z, 0-9, _ and -")
        settings = read_settings(data, database)
        place = _address(url, insecure_http=insecure_http or settings.insecure_http)
        asyncio.run(_add(settings, Address(name, place, _read_token(token_file)), join=join))


def show(*, data: Data = None, database: Database = None) -> None:
    """Say when each node was last reached, and what waits for it."""
    with exit_on_error():
        asyncio.run(_show(read_settings(data, database)))


def home(
    name: Annotated[str | None, Parameter(help="The peer that is home from now on.")] = None,
    *,
    here: Annotated[bool, Parameter(help="This node is.")] = False,
    data: Data = None,
    database: Database = None,
) -> None:
    """Say where members, protection and erasures are decided, or let that be another node, or this one.

    `peers add` does so by itself. When the home is lost for good, one node takes its place with --here, and all others
    name it.
    """
    with exit_on_error():
        if here and name is not None:
            raise BadSetting("give a peer's name or --here")
        asyncio.run(_home(read_settings(data, database), name, here=here))


def _address(url: str, *, insecure_http: bool) -> str:
    try:
        return checked_address(url, insecure_http=insecure_http)
    except AddressError as error:
        raise BadSetting(str(error)) from None


def _read_token(file: Path | None) -> str:
    """Read the token, and refuse what cannot be one without showing it."""
    try:
        if file is not None:
            text = read_secret(file, most=_TOKEN_MOST).decode(errors="replace")
        elif sys.stdin.isatty():
            text = getpass.getpass("Token: ")
        else:
            text = sys.stdin.readline(_TOKEN_MOST)
    except (CommandFailedError, OSError) as error:
        raise BadSetting(str(error)) from None
    fault = token_fault(text)
    if fault is None:
        return text.strip()
    del text  # a traceback may show it
    raise BadSetting(fault)


async def _add(settings: Settings, address: Address, *, join: bool) -> None:
    async with open_node(settings, begins=True) as node:
        home = await add_peer(node.books, node.team, node.tokens, address, join=join, by=node.actor)
    decided = "; members and protection are decided there from now on" if home else ""
    print_line(f"{address.name} is added{decided}: studbook sync {address.name}")
    if home:
        print_line(
            f"{address.name} takes what its own members record here (after the sync: studbook token new --member ID), "
            "and what this book's first chief records if the token --introduces"
        )


async def _home(settings: Settings, name: str | None, *, here: bool) -> None:
    async with open_node(settings) as node:
        access = node.books.access
        if here or name is not None:
            if node.role != "chief":
                raise BadSetting(f"a {node.role} does not decide where the book's home is: a chief does")
            if name is not None and name not in {peer.name for peer in await node.books.peers.list(node.team)}:
                raise BadSetting(f"no peer is {name}")
            recorded = audit_event(actor=node.actor, action="home.set", subject="home", peer=name or "here")
            await access.set_home(node.team, name, audit=recorded)
        print_line(await access.home(node.team) or "here")


async def _show(settings: Settings) -> None:
    async with open_node(settings) as node:
        for peer in (await shown_peers(node.books, node.team)).items:
            reached = f"reached {peer.reached_at:%Y-%m-%d %H:%M} UTC" if peer.reached_at else "never reached"
            failed = f"; then: {peer.failure}" if peer.failure else ""
            home = "  (home)" if peer.home else ""
            print_line(
                f"{peer.name}{home}  {peer.url}  {reached}{failed}; {peer.waiting} waiting, {len(peer.refused)} refused"
            )
