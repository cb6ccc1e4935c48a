"""How a command speaks to its user."""

import sys


def say(text: str) -> None:
    """Print a line."""
    print(text, flush=True)  # noqa: T201 - a command speaks to its user


def warn(text: str) -> None:
    """Print a line beside what a command answers."""
    print(f"studbook: {text}", file=sys.stderr, flush=True)  # noqa: T201 - as above


class Counter:
    """A line on a terminal that counts on in place; silent where nobody watches.

    Example:
        >>> Counter()("1 entry")
    """

    def __init__(self) -> None:
        self._watched = sys.stderr.isatty()

    def __call__(self, text: str) -> None:
        """Show how far it is."""
        if self._watched:
            print(f"\r\033[K{text}", end="", file=sys.stderr, flush=True)  # noqa: T201 - as above

    def done(self) -> None:
        """Clear the line."""
        self("")
