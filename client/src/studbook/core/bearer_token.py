"""A bearer's token in this process: checked as it comes in, and shown by nothing.

A token is easily printed by accident: in the text of an exception, a log, a traceback with its variables, a pickle.
So it is held by an object that has no text and cannot be pickled, and what comes back is searched for it.
"""

import re
from typing import Any, Final, NoReturn

from studbook.core.errors import BadTokenError

_LEAST_HIDDEN: Final = 12
"""Characters; less is no secret, and stands in many a word."""

_MOST: Final = 400
_OTHER: Final = re.compile(r"[^\x21-\x7e]")
_HIDDEN: Final = "(token)"


class BearerToken:
    r"""A token.

    Args:
        text: the token; blanks and line breaks around it are no part of it.

    Raises:
        BadTokenError: it is none.

    Example:
        >>> BearerToken(" sbk_7 \n")
        BearerToken()
    """

    __slots__ = ("_text",)

    def __init__(self, text: str) -> None:
        fault, self._text = token_fault(text), text.strip()
        del text  # an error's traceback may show the variables of each function that it came through
        if fault is not None:
            self._text = ""
            raise BadTokenError(fault)

    def __repr__(self) -> str:
        return "BearerToken()"

    def __reduce_ex__(self, protocol: Any) -> NoReturn:
        """Refuse to be pickled or copied."""
        raise TypeError("a token is not pickled")

    def reveal(self) -> str:
        """Give the token, to be sent and nothing else."""
        return self._text

    def hide(self, text: str) -> str:
        """Take the token out of a text that is going to be shown."""
        return text if len(self._text) < _LEAST_HIDDEN else text.replace(self._text, _HIDDEN)

    def hide_bytes(self, data: bytes) -> bytes:
        """Take the token out of an answer; a service that sends it back is hostile or broken."""
        return data if len(self._text) < _LEAST_HIDDEN else data.replace(self._text.encode(), _HIDDEN.encode())


def token_fault(text: str) -> str | None:
    r"""Say what keeps a text from being a token, without showing any of it; None where nothing does.

    Example:
        >>> token_fault("sbk_7\n"), token_fault("sbk_7\nsbk_8")
        (None, 'the token has a line break at place 6: it must be one word')
    """
    text = text.strip()
    if not text:
        return "the token is empty"
    if len(text) > _MOST:
        return f"the token has {len(text)} characters: a token has no more than {_MOST}"
    other = _OTHER.search(text)
    if other is None:
        return None
    place, character = other.start() + 1, other[0]
    if character in "\r\n":
        return f"the token has a line break at place {place}: it must be one word"
    if character.isspace():
        return f"the token has a blank at place {place}: it must be one word"
    return f"the token has a character at place {place} that no token has: letters, digits and ASCII signs"
