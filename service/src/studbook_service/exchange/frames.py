"""Frames in bytes.

Rules:
    A body is one zlib stream, flushed after each frame, so a cut stream gives all frames before the cut.
    Nothing a sender says is believed before it is measured: not a length, not how much comes out of the stream.
    A frame carries a CRC-32 beside its length. Without it a bit flipped on the way looks like a damaged entry at the
        peer, which is refused for good. With it the frame is requested again, and a `hash` refusal means damage in the
        peer's book.
    The first frame is the head. One of another version is refused, and nothing of its stream is read.
"""

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, TypeVar

import msgspec

from studbook.wire.exchange import VERSION, Frame, Head

T = TypeVar("T", bound=msgspec.Struct)

_LENGTH_BYTES: Final = 4
_START_BYTES: Final = 8
_FRAME_MOST: Final = 1024 * 1024
FRAME_ROWS_MOST: Final = 64
SHORTER_MOST: Final = 6
_STEP: Final = 64 * 1024


@dataclass(frozen=True, slots=True)
class Bounds:
    """How large a body may be.

    Attributes:
        aim: the sender begins no further frame beyond so many compressed bytes.
        most: the receiver refuses more compressed bytes than this: one frame of the largest entry beyond the aim.
        inflated: the receiver refuses a stream out of which more comes.
        rows: the receiver refuses more entries than this.
        frame_rows: the sender puts no more entries into one frame.
    """

    aim: int
    most: int
    inflated: int
    rows: int
    frame_rows: int = FRAME_ROWS_MOST

    def shorter(self, halved: int) -> "Bounds":
        """Give the bounds of a body that the sender ends earlier.

        Args:
            halved: how often the aim is halved; more than six times counts as six.
        """
        times = min(max(halved, 0), SHORTER_MOST)
        return replace(self, aim=self.aim >> times, rows=max(self.rows >> times, 2 * FRAME_ROWS_MOST))

    def full(self, writer: "Writer") -> bool:
        """Whether a sender should begin no further frame."""
        return (
            writer.size >= self.aim
            or writer.inflated >= self.inflated - 2 * _FRAME_MOST
            or writer.rows >= self.rows - FRAME_ROWS_MOST
        )


UP: Final = Bounds(aim=64_000, most=448 * 1024, inflated=6 * 1024 * 1024, rows=8_000)
DOWN: Final = Bounds(aim=256_000, most=640 * 1024, inflated=24 * 1024 * 1024, rows=32_000)
FILE: Final = Bounds(aim=2**62, most=2**62, inflated=2**62, rows=2**62)
"""A file is as long as the book; its frames are bounded like all."""


BEFORE_0_2: Final = "books made before Studbook 0.2 cannot be exchanged or loaded"


class BadFrames(ValueError):
    """A stream that no book of ours writes."""


class OtherVersion(BadFrames):
    """A stream of another version than `VERSION`; asking again does not help."""


class CutShort(Exception):
    """A stream that ended before its end; what came before is good."""


class Writer:
    """Packs frames.

    Example:
        >>> writer = Writer()
        >>> writer.add(Head(v=VERSION))
        >>> len(writer.finish()) < 40
        True
    """

    def __init__(self) -> None:
        self._deflate = zlib.compressobj(9, zlib.DEFLATED, zlib.MAX_WBITS, 9)
        self._encoder = msgspec.json.Encoder()
        self._parts: list[bytes] = []
        self.size = 0
        self.inflated = 0
        self.rows = 0

    def add(self, frame: Head | Frame) -> None:
        """Pack one more frame."""
        self.rows += len(frame.rows) if isinstance(frame, Frame) else 0
        data = self._encoder.encode(frame)
        self.inflated += _START_BYTES + len(data)
        self._put(self._deflate.compress(len(data).to_bytes(_LENGTH_BYTES, "big") + _crc(data) + data))
        self._put(self._deflate.flush(zlib.Z_SYNC_FLUSH))

    def finish(self) -> bytes:
        """End the stream and give all of it."""
        self._put(self._deflate.flush())
        return b"".join(self._parts)

    def take(self) -> bytes:
        """Give what was packed since the last time, for a stream that goes out piece by piece."""
        given, self._parts = b"".join(self._parts), []
        return given

    def _put(self, data: bytes) -> None:
        self._parts.append(data)
        self.size += len(data)


class Reader:
    """Unpacks frames from a stream that arrives in pieces.

    Attributes:
        received: compressed bytes so far.

    Example:
        >>> writer = Writer()
        >>> writer.add(Head(v=VERSION))
        >>> [type(each).__name__ for each in Reader(UP).feed(writer.finish())]
        ['Head']
    """

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        self._inflate = zlib.decompressobj()
        self._held = bytearray()
        self._inflated = 0
        self._head: Head | None = None
        self._rows = 0
        self._frames = 0
        self.received = 0

    def feed(self, data: bytes) -> Iterator[Head | Frame]:
        """Give the frames that are complete now.

        Raises:
            BadFrames: this is no stream of frames, or it is larger than it may be.
        """
        self.received += len(data)
        if self.received > self._bounds.most:
            raise BadFrames(f"more than {self._bounds.most} bytes")
        while True:
            try:
                out = self._inflate.decompress(self._inflate.unconsumed_tail + data, _STEP)
            except zlib.error:
                raise BadFrames("these bytes are no book and no part of one") from None
            data = b""
            self._inflated += len(out)
            if self._inflated > self._bounds.inflated:
                raise BadFrames(f"more than {self._bounds.inflated} bytes come out of it")
            self._held += out
            yield from self._complete()
            if self._inflate.eof and (self._inflate.unused_data or self._held):
                raise BadFrames("something follows the last frame")
            if len(out) < _STEP and not self._inflate.unconsumed_tail:
                return

    @property
    def ended(self) -> bool:
        """Whether the stream came to its end."""
        return self._inflate.eof

    def _complete(self) -> Iterator[Head | Frame]:
        while len(self._held) >= _START_BYTES:
            length = int.from_bytes(self._held[:_LENGTH_BYTES], "big")
            if length > _FRAME_MOST:
                raise BadFrames(f"a frame of {length} bytes, {_FRAME_MOST} are accepted")
            if len(self._held) < _START_BYTES + length:
                return
            data = bytes(self._held[_START_BYTES : _START_BYTES + length])
            if self._held[_LENGTH_BYTES:_START_BYTES] != _crc(data):
                raise BadFrames("a frame was damaged on its way")
            del self._held[: _START_BYTES + length]
            if self._head is None:
                self._head = _read(data, Head)
                if self._head.v != VERSION:
                    newer = f"exchange version {self._head.v}, here {VERSION}"
                    other = f"this comes from a newer Studbook ({newer}): update this one"
                    raise OtherVersion(BEFORE_0_2 if self._head.v == 1 else other)
                yield self._head
            else:
                frame = _read(data, Frame)
                self._rows += len(frame.rows)
                self._frames += 1
                if len(frame.rows) > FRAME_ROWS_MOST or max(self._rows, self._frames) > self._bounds.rows:
                    raise BadFrames("too many entries")
                yield frame


def whole(data: bytes, bounds: Bounds) -> tuple[Head, list[Frame]]:
    """Unpack a stream that is here completely.

    Raises:
        BadFrames: this is no complete stream of frames, or it is larger than it may be.
    """
    reader = Reader(bounds)
    found: list[Any] = list(reader.feed(data))
    if not reader.ended or not found:
        raise BadFrames("the stream was cut short")
    return found[0], found[1:]


def _crc(data: bytes) -> bytes:
    return zlib.crc32(data).to_bytes(_START_BYTES - _LENGTH_BYTES, "big")


def _read(data: bytes, form: type[T]) -> T:
    try:
        return msgspec.json.decode(data, type=form)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise BadFrames(f"no {form.__name__.lower()}: {str(error)[:200]}") from None
