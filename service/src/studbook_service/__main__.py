"""`python -m studbook_service`: the service's commands where the client's command line is not wanted."""

from cyclopts import App

from studbook_service.commands import register


def main() -> None:
    """Run a command of the service."""
    app = App(name="studbook", help="The service that keeps the book of every car's setups.")
    register(app)
    app()


if __name__ == "__main__":
    main()
