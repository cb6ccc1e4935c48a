"""The service's own commands, which join the `studbook` command where the service is installed."""

from cyclopts import App


def register(app: App) -> None:
    """Add the service's commands to the `studbook` command; each is imported when it is called."""
    app.command(f"{__name__}.serve:serve", name="serve", help="Keep the book and answer over HTTP until stopped.")
    app.command(f"{__name__}.migrate:migrate", name="migrate", help="Bring a database's tables up to date.")
    app.command(f"{__name__}.demo:demo", name="demo", help="Walk through the job on three invented cars.")
