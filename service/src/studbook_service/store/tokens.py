"""Tokens and opaque ids: how they are made, and what is kept of them. Pure.

A token is `sbk_`, 32 random letters and digits (190 bits) and a checksum of 6, so that a mistyped one is refused
without asking the database, and one that leaked into a text is easy to search for. Ids of members, of the first chief
too, are made at random: they stay in the book after a name is erased.
"""

import re
import secrets
import string
import zlib
from hashlib import sha256

_PREFIX = "sbk_"
_ALPHABET = string.ascii_letters + string.digits
_ID_ALPHABET, _ID_DIGITS = string.ascii_lowercase + "234567", 10  # base 32: 50 bits, enough for a team's members
_SECRET_DIGITS, _CHECK_DIGITS = 32, 6  # 62**6 > 2**32
_FORM = re.compile(rf"{_PREFIX}([A-Za-z0-9]{{{_SECRET_DIGITS}}})([A-Za-z0-9]{{{_CHECK_DIGITS}}})")


class BadToken(ValueError):
    """The text is no token: wrong prefix, length, letter or checksum."""


def mint() -> str:
    """Make a new token; show it once and keep only its `secret_hash`.

    Example:
        >>> len(mint())
        42
    """
    secret = "".join(secrets.choice(_ALPHABET) for _ in range(_SECRET_DIGITS))
    return f"{_PREFIX}{secret}{_checksum(secret)}"


def opaque_id(letter: str) -> str:
    """Make an id that says nothing about what it stands for.

    Args:
        letter: `m` for a member, `s` for a share.

    Returns:
        The letter, a hyphen and 10 random digits of base 32 (a-z, 2-7).

    Example:
        >>> len(opaque_id("m"))
        12
    """
    return f"{letter}-{''.join(secrets.choice(_ID_ALPHABET) for _ in range(_ID_DIGITS))}"


def secret_hash(token: str) -> bytes:
    """Hash a token for looking it up.

    Args:
        token: as it was shown.

    Returns:
        SHA-256 of the token, 32 bytes. No salt: the secret is random and long.

    Raises:
        BadToken: it cannot be one of ours.

    Example:
        >>> secret_hash("sbk_7")
        Traceback (most recent call last):
        studbook_service.store.tokens.BadToken: not a token
    """
    match = _FORM.fullmatch(token)
    if match is None or _checksum(match[1]) != match[2]:
        raise BadToken("not a token")
    return sha256(token.encode("ascii")).digest()


def _checksum(secret: str) -> str:
    """Spell the CRC-32 of the secret in base 62, six digits."""
    rest, digits = zlib.crc32(secret.encode("ascii")), ""
    for _ in range(_CHECK_DIGITS):
        rest, digit = divmod(rest, len(_ALPHABET))
        digits = _ALPHABET[digit] + digits
    return digits
