"""The service's own commands, which join the `studbook` command where the service is installed."""

from cyclopts import App


def register(app: App) -> None:
    """Add the service's commands to the `studbook` command; each is imported when it is called."""
    app.command(f"{__name__}.serve:serve", name="serve", help="Keep the book and answer over HTTP until stopped.")
    app.command(f"{__name__}.migrate:migrate", name="migrate", help="Bring a database's tables up to date.")
    app.command(f"{__name__}.sync:sync", name="sync", help="Exchange with the other nodes that keep this book.")
    stick = App(name="stick", help="The whole book in a file, as on a stick.")
    stick.command(f"{__name__}.stick:write", name="write", help="Write the whole book into a file.")
    stick.command(f"{__name__}.stick:read", name="read", help="Take the book in a file into this one.")
    app.command(stick)
    app.command(f"{__name__}.verify:verify", name="verify", help="Check the book: ids, parents, chain.")
    app.command(f"{__name__}.erase:erase", name="erase", help="Erase what has to be forgotten, for good.")
    peers = App(name="peers", help="The other nodes that keep this book.")
    peers.command(f"{__name__}.peers:add", name="add", help="Add a node to exchange with.")
    peers.command(f"{__name__}.peers:show", name="list", help="Say when each was last reached and what waits.")
    peers.command(f"{__name__}.peers:home", name="home", help="Say or set where members and protection are decided.")
    app.command(peers)
    # The client's `token` gets one verb more. It is one object for all calls in a process.
    if "token" not in app:
        app.command(App(name="token", help="Tokens of members and laptops."))
    if "recover" not in app["token"]:
        recover = f"{__name__}.recover:recover"
        app["token"].command(recover, name="recover", help="Make a chief's token when none is left.")
    app.command(f"{__name__}.demo:demo", name="demo", help="Walk through the job on three invented cars.")
