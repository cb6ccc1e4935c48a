"""How a command ends: its exit code, and what is wrong in a line for each field, on standard error."""

import os
import sys
from typing import Final

from studbook.core import errors
from studbook.formats import FormatError
from studbook.history.canonical import UnrecordableError

FINE, REFUSED, USAGE, STALE, OUT_OF_REACH, INTERRUPTED = 0, 1, 2, 3, 4, 130

EXIT_CODES: Final = """Exit codes:
  0  fine
  1  refused: a bad document, not found, not allowed, no such answer
  2  the command line, a file's name or a setting is wrong
  3  someone pushed before you, or the sheet is split: pull again, or merge
  4  the service or its database is out of reach or too busy: try again later
  130  interrupted
Environment:
  STUDBOOK_URL         the service; http://127.0.0.1:8710 unless set
  STUDBOOK_TOKEN       your token
  STUDBOOK_FROM_TOKEN  a token for another team's book: sources add, carry
  STUDBOOK_TIMEOUT_S   seconds that a request is tried for; 30 unless set
  STUDBOOK_INSECURE_HTTP  1 allows plain http to another machine, as --insecure-http does for one command
  XDG_CONFIG_HOME      your sources are in studbook/ there; ~/.config unless set
  XDG_STATE_HOME       requests without an answer are in studbook/ there; ~/.local/state unless set
  VISUAL or EDITOR     for `studbook edit`
  NO_COLOR             no bold letters"""

_OUT_OF_REACH: Final = (
    errors.ConnectionFailedError,
    errors.DeadlineError,
    errors.UnavailableError,
    errors.UnreadableAnswerError,
    errors.TooManyError,
    errors.TooSlowError,
    errors.BusyError,
)
_CODES: Final[tuple[tuple[tuple[type[Exception], ...], int], ...]] = (
    ((errors.UnchangedError,), FINE),
    ((errors.StaleError, errors.SplitError, errors.ConflictsError), STALE),
    ((errors.BadReferenceError, errors.BadTokenError, errors.AddressError), USAGE),
    (_OUT_OF_REACH, OUT_OF_REACH),
    ((errors.StudbookError, UnrecordableError, FormatError), REFUSED),
    ((OSError,), USAGE),
)


class CommandFailedError(Exception):
    """A command cannot go on; its text is for the user.

    Args:
        text: one line for each fault.
        code: the exit code.
    """

    def __init__(self, text: str, *, code: int = USAGE) -> None:
        super().__init__(text)
        self.code = code


def exit_code(error: BaseException) -> int:
    """Print what went wrong and give the exit code; an unforeseen error is raised again.

    Example:
        >>> exit_code(CommandFailedError("no such file", code=2))
        2
    """
    if isinstance(error, KeyboardInterrupt):
        return INTERRUPTED
    if isinstance(error, BrokenPipeError):
        # Whoever read our output has gone; nothing more may be written when the interpreter flushes it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    if isinstance(error, CommandFailedError):
        print_error(str(error))
        return error.code
    code = next((code for kinds, code in _CODES if isinstance(error, kinds)), None)
    if code is None:
        raise error
    print_error("\n".join([*error_lines(error), *getattr(error, "__notes__", ())]))
    return code


def error_lines(error: BaseException) -> list[str]:
    """Describe an error in lines: one, or one for each bad field.

    Example:
        >>> error_lines(ValueError("no"))
        ['no']
    """
    if isinstance(error, errors.RefusedError) and len(error.faults) > 1:
        request = f" [request {error.request_id}]" if error.request_id else ""
        what = f"{error.problem.detail or error.problem.title}{request}"
        return [what, *(f"  {fault.detail}" for fault in error.faults)]
    if isinstance(error, OSError) and error.filename:
        return [f"{error.filename}: {error.strerror}"]
    return [str(error)]


def print_error(text: str) -> None:
    """Write to standard error, headed by the program's name."""
    print(f"studbook: {text}", file=sys.stderr)
