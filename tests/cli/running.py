"""What tests that run commands share."""

import io
from collections.abc import Callable

Run = Callable[..., tuple[int, str, str]]
"""Runs a command: exit code, standard output, standard error."""


class Terminal(io.StringIO):
    """What a person types, a line for each question."""

    def isatty(self) -> bool:
        return True


def fine(answer: tuple[int, str, str]) -> str:
    """Give what a command printed that ended well: JSON, or lines of 98 columns at most."""
    assert answer[0] == 0, answer[2]
    assert answer[1][:1] in "{[" or max(map(len, answer[1].splitlines())) <= 98
    return answer[1]
