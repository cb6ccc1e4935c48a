"""The `studbook` command: the book at the shop's and the pit's keyboard."""

import sys
from collections.abc import Sequence

from studbook.cli.exit_codes import CommandFailedError, exit_code

__all__ = ["CommandFailedError", "main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        argv: words of the command line, without the program's name; those of this process unless given.

    Returns:
        Exit code: 0 fine, 1 refused, 2 usage, 3 stale or split, 4 out of reach or busy, 130 interrupted.

    Example:
        >>> main(["pull", "no such form"])
        2
    """
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        from studbook.cli.program import run  # noqa: PLC0415 - an interrupt while modules load ends as any other

        return run(words)
    except (Exception, KeyboardInterrupt) as error:  # noqa: BLE001 - what is no ordinary ending is raised again there
        return exit_code(error)
