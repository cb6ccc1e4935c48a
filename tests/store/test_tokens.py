"""The form of a token."""

import zlib
from hashlib import sha256

import pytest

from studbook_service.store import BadToken, mint, secret_hash


def test_a_token_says_whose_it_is_and_checks_itself() -> None:
    tokens = {mint() for _ in range(200)}
    assert len(tokens) == 200
    for token in tokens:
        assert token.startswith("sbk_")
        assert secret_hash(token) == sha256(token.encode()).digest()
        value = 0
        for letter in token[-6:]:
            value = value * 62 + "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789".index(letter)
        assert value == zlib.crc32(token[4:-6].encode())


@pytest.mark.parametrize("place", range(4, 42))
def test_one_wrong_letter_is_noticed(place: int) -> None:
    token = mint()
    wrong = "a" if token[place] != "a" else "b"
    with pytest.raises(BadToken):
        secret_hash(token[:place] + wrong + token[place + 1 :])


@pytest.mark.parametrize(
    "text",
    ["", "sbk_", "Bearer", mint()[:-1], mint() + "a", " " + mint(), mint() + "\n"],
    ids=["empty", "prefix", "word", "shorter", "longer", "space", "newline"],
)
def test_other_texts_are_no_tokens(text: str) -> None:
    with pytest.raises(BadToken):
        secret_hash(text)
