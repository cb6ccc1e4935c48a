"""Refusals of access as log lines: which request, which code, whose token by its id; never a token's text."""

import logging
import re
import traceback
from typing import Final

from studbook_service.http.limits import Buckets
from studbook_service.store import BadToken, secret_hash

STATUSES: Final = frozenset({401, 403, 429})
_TOKEN_LIKE: Final = re.compile(r"sbk_[A-Za-z0-9]{6,}")
_LINES_A_S: Final = 5

log: Final = logging.getLogger("studbook")


def hidden(text: str) -> str:
    """Take out of a text whatever looks like a token, whole or cut short.

    Example:
        >>> hidden("GET /v1/cars/sbk_Vq3k9mB2xYw")
        'GET /v1/cars/sbk_...'
    """
    return _TOKEN_LIKE.sub("sbk_...", text)


class TokenFilter(logging.Filter):
    """Keeps tokens out of every line of the service's log, tracebacks included."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Rewrite the record."""
        record.msg, record.args = hidden(record.getMessage()), ()
        if record.exc_info and not record.exc_text:
            record.exc_text = hidden("".join(traceback.format_exception(*record.exc_info)).rstrip())
        return True


log.addFilter(TokenFilter())


class DenialLog:
    """Writes the lines; of requests beyond their rate only some, so that they do not flood the log in turn."""

    def __init__(self) -> None:
        self._lines = Buckets(_LINES_A_S)

    def write(self, *, request_id: str, code: str, token: str, target: str) -> None:
        """Write one line.

        Args:
            request_id: names the exchange.
            code: problem code.
            token: what was shown as token; named by its id if it can be one.
            target: method and path.
        """
        if code != "too_many" or self._lines.take("") is not None:
            log.warning("request %s denied: %s, %s, %s", request_id, code, token_id(token), target)


def token_id(token: str) -> str:
    """Name a token by the first 12 digits of its SHA-256, which open nothing.

    Example:
        >>> token_id(""), token_id("letmein")
        ('no token', 'no token of ours')
    """
    try:
        return f"token {secret_hash(token).hex()[:12]}"
    except BadToken:
        return "no token of ours" if token else "no token"
