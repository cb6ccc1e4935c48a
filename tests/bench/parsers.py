"""What the fuzzer drives: every parser that reads what others wrote, and what must hold of it.

A parser may say no in its own words, and only so; what it takes must read back as it was written.
"""

import asyncio
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from exchange.making import run
from studbook.formats import Form, FormatError, as_csv, cells, read, write
from studbook.history.canonical import UnrecordableError, encode, parse
from studbook.history.canonical import canonical as one_form
from studbook.history.ids import entry_id
from studbook.wire.exchange import REFUSALS, VERSION, Head
from studbook_service.exchange.composing import Composer
from studbook_service.exchange.frames import UP, BadFrames, Reader, Writer
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond

Target = Callable[[bytes], None]

DOCUMENT = Path(__file__).parents[1] / "http" / "document.json"
BOOK = b"8 bytes."

# Looking for the nearest known name takes a hundred times what parsing does, and reads nothing.
unhinted: Any = lambda _: None  # noqa: E731 - in the place of two functions
as_csv.nearest = cells.nearest = unhinted  # type: ignore[attr-defined] # imported there


def canonical(data: bytes) -> None:
    """Parse, bring to the one form, write, read again: the same bytes."""
    try:
        written = encode(one_form(parse(data)))
    except UnrecordableError:
        return
    if encode(one_form(parse(written))) != written:
        raise AssertionError(written)


def document(form: Form) -> Target:
    """Read a document in a form, write it, read it again: the same tree."""

    def read_back(data: bytes) -> None:
        try:
            tree = read(data, form)
        except FormatError:
            return
        if encode(read(write(tree, form), form)) != encode(tree):
            raise AssertionError(encode(tree))

    return read_back


def frames(data: bytes) -> None:
    """Read a stream, as it is and as what comes out of one."""
    for stream in (data, zlib.compress(data, 1)):
        reader = Reader(UP)
        try:
            for _ in reader.feed(stream):
                pass
        except BadFrames:
            continue


def rebuilding(data: bytes) -> None:
    """Answer a request whose frame is the input: what is kept has the id of its header, what is refused is named."""
    writer = Writer()
    writer.add(Head(v=VERSION, book=BOOK))
    book, opened = MemoryBook(BOOK), zlib.decompress(writer.finish()) + framed(data)
    try:
        answered = asyncio.run(respond(book, zlib.compress(opened, 1), via="n1"))
    except BadFrames:
        return
    if any(each.code not in REFUSALS for each in answered.refused):
        raise AssertionError(answered.refused)
    if any(each.id != entry_id(each.header) for each in answered.added):
        raise AssertionError(answered.added)


def framed(data: bytes) -> bytes:
    """Put length and sum before what is to be a frame."""
    return len(data).to_bytes(4, "big") + zlib.crc32(data).to_bytes(4, "big") + data


TARGETS: dict[str, Target] = {
    "canonical": canonical,
    "json": document("json"),
    "csv": document("csv"),
    "toml": document("toml"),
    "frames": frames,
    "rebuilding": rebuilding,
}


def seeds(name: str) -> list[bytes]:
    """Give what a target begins with: good input of its own kind."""
    if name in {"frames", "rebuilding"}:
        made = [msgspec.json.encode(Composer().frame(list(run(count)), {})) for count in (1, 2, 5)]
        whole = [framed(each) for each in made]
        return made if name == "rebuilding" else [*whole, zlib.compress(b"".join(whole))]
    full = read(DOCUMENT.read_bytes(), "json")
    part = {"notes": full["notes"], "setup": {"front": {"rf": full["setup"]["front"]["rf"]}, "cg": full["setup"]["cg"]}}
    own = {"own": {"a": [1, 2.5, {"b": "=x"}], "c": True, "d": "'-1"}, "notes": "two\r\nlines \t"}
    form: Any = "json" if name == "canonical" else name
    return [write(each, form).encode() for each in (part, own)]
