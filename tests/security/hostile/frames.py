"""Bodies of an exchange that nobody means well with, in bytes rather than by the project's own writer. Invented."""

import json
import zlib
from collections.abc import Callable
from typing import Any, Final

from studbook.wire.exchange import VERSION

MIB: Final = 1024 * 1024
BAD: Final = "bad_frames"


def frame(said: Any) -> bytes:
    """Spell a frame: length, CRC-32, JSON."""
    data = said if isinstance(said, bytes) else json.dumps(said).encode()
    return len(data).to_bytes(4, "big") + zlib.crc32(data).to_bytes(4, "big") + data


def packed(*frames: bytes) -> bytes:
    """Pack frames as one stream."""
    return zlib.compress(b"".join(frames), 9)


def head(book: str, **more: Any) -> bytes:
    """Spell a head; the book in base64."""
    return frame({"v": VERSION, "book": book, **more})


Make = Callable[[str], bytes]

FRAMES: Final[dict[str, tuple[Make, str]]] = {
    "nothing": (lambda _: b"", BAD),
    "a byte": (lambda _: b"\x78", BAD),
    "JSON": (lambda _: b'{"v":1}', BAD),
    "gzip": (lambda _: b"\x1f\x8b\x08\x00" + bytes(20), BAD),
    "zeros": (lambda _: bytes(400_000), BAD),
    "more than is read": (lambda _: bytes(449 * 1024), "too_large"),
    "an empty stream": (lambda _: packed(), BAD),
    "a stream that is cut": (lambda book: packed(head(book))[:-5], BAD),
    "a sum that is wrong": (lambda book: packed(head(book))[:-1] + b"\x00", BAD),
    "something behind the end": (lambda book: packed(head(book)) + b"more", BAD),
    "a second stream behind the first": (lambda book: packed(head(book)) * 2, BAD),
    "a stream with a dictionary": (lambda _: zlib.compressobj(zdict=b"studbook").flush(), BAD),
    "half a frame": (lambda book: packed(head(book), frame({})[:6]), BAD),
    "a length of 4 GiB": (lambda book: packed(head(book), b"\xff" * 8), BAD),
    "a length one beyond": (lambda book: packed(head(book), (MIB + 1).to_bytes(4, "big") + bytes(60)), BAD),
    "a length of nothing": (lambda book: packed(head(book), frame(b"")), BAD),
    "a flipped bit": (lambda book: packed(head(book), frame({"more": True})[:-1] + b"|"), BAD),
    "a bomb of zeros": (lambda book: packed(head(book), bytes(100 * MIB)), BAD),
    "a bomb in one frame": (lambda book: packed(head(book), frame(b'{"rows":[' + b" " * (MIB - 40) + b"]}") * 40), BAD),
    "a bomb of frames": (lambda book: packed(head(book), frame({}) * 700_000), BAD),
    "a bomb of rows": (lambda book: packed(head(book), frame({"rows": [{}] * 300_000})), BAD),
    "65 rows": (lambda book: packed(head(book), frame({"rows": [{}] * 65, "checks": "AAAA" * 87})), BAD),
    "8,001 rows": (lambda book: packed(head(book), frame({"rows": [{}] * 60, "checks": "AAAA" * 80}) * 134), BAD),
    "rows without checks": (lambda book: packed(head(book), frame({"rows": [{}]})), BAD),
    "checks without rows": (lambda book: packed(head(book), frame({"checks": "AAAA"})), BAD),
    "checks that are no base64": (lambda book: packed(head(book), frame({"rows": [{}], "checks": "!!"})), BAD),
    "no head": (lambda _: packed(frame({"rows": []})), BAD),
    "a head of version 0": (lambda book: packed(frame({"book": book})), BAD),
    "a head of version 10^30": (lambda book: packed(frame({"v": 10**30, "book": book})), BAD),
    "a head that is an array": (lambda _: packed(frame([1])), BAD),
    "a head 100,000 deep": (
        lambda _: packed(frame(b'{"v":%d,"x":' % VERSION + b"[" * 100_000 + b"]" * 100_000 + b"}")),
        BAD,
    ),
    "a head that is no UTF-8": (lambda _: packed(frame(b'{"v":%d,"book":"\xff"}' % VERSION)), BAD),
    "a frame 100,000 deep": (
        lambda book: packed(
            head(book), frame(b'{"rows":[{"body":' + b'{"a":' * 100_000 + b"1" + b"}" * 100_000 + b"}]}")
        ),
        BAD,
    ),
    "a row with another team": (
        lambda book: packed(head(book), frame({"rows": [{"team": 1}], "checks": "AAAAAA=="})),
        BAD,
    ),
    "a row with a number for text": (
        lambda book: packed(head(book), frame({"rows": [{"note": 1}], "checks": "AAAAAA=="})),
        BAD,
    ),
    "a row at 10^400": (lambda book: packed(head(book), frame(b'{"rows":[{"at":1e400}],"checks":"AAAAAA=="}')), BAD),
    "a cursor of words": (lambda book: packed(head(book, cursor=["first", "last"])), BAD),
    "a cursor of one": (lambda book: packed(head(book, cursor=[1])), BAD),
    "another team's book": (lambda _: packed(head("b3RoZXJzIQ==")), "other_book"),
    "no book and entries": (lambda _: packed(head(""), frame({"rows": [{}], "checks": "AAAAAA=="})), "other_book"),
}
"""What makes the body, given the book's identity in base64, and the code."""

REFUSED: Final[dict[str, dict[str, Any]]] = {
    "a forged id": {"after": [], "body": {"n": 1}},
    "itself as parent": {"after": [0], "put": {"n": 1}},
    "a parent from behind": {"after": [-1]},
    "a parent that is a path": {"after": ["../../etc/passwd"]},
    "a hundred parents": {"after": [f"{place:064x}" for place in range(100)]},
    "a line from behind": {"on": -1, "after": []},
    "an author from behind": {"by": -1, "after": []},
    "before time": {"at": -1, "after": []},
    "after time": {"at": 2**62, "after": []},
    "NUL in the note": {"note": "a\0", "after": []},
    "a note of 300,000": {"note": "x" * 300_000, "after": []},
    "a document of 300,000": {"after": [], "body": {"n": "x" * 300_000}},
    "a document 200 deep": {"after": [], "body": json.loads('{"a":' * 200 + "1" + "}" * 200)},
    "a document of 90,000 empty arrays": {"after": [], "body": {"a": [[]] * 90_000}},
    "a document with null": {"after": [], "body": {"a": None}},
    "a name that is none": {"after": [], "body": {"../a": 1}},
    "a number too large": {"after": [], "body": {"a": 1e300}},
    "a path 300,000 deep": {"after": [], "put": {"a" + ".a" * 300_000: 1}},
    "200,000 cuts": {"after": [], "cut": ["a"] * 200_000},
    "carried from a path": {"after": [], "body": {}, "origin": "../x"},
    "erased, with another hash": {"after": [], "content": "AAAA"},
}
"""Rows of an entry that is read, refused by name, and not kept."""
