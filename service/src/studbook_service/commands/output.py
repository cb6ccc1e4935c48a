"""What a command prints for its user."""

import sys


def print_line(text: str) -> None:
    """Print a line."""
    print(text, flush=True)  # noqa: T201 - a command speaks to its user


def print_note(text: str) -> None:
    """Print a line on standard error, beside what the command answers."""
    print(f"studbook: {text}", file=sys.stderr, flush=True)  # noqa: T201 - as above


class ProgressLine:
    """A line on a terminal that is written over in place; silent where nobody watches.

    Example:
        >>> ProgressLine().show("1 entry")
    """

    def __init__(self) -> None:
        self._watched = sys.stderr.isatty()

    def show(self, text: str) -> None:
        """Write over the line."""
        if self._watched:
            print(f"\r\033[K{text}", end="", file=sys.stderr, flush=True)  # noqa: T201 - as above

    def clear(self) -> None:
        """Clear the line."""
        self.show("")
