"""What a file was pulled from, kept beside it in `.FILE.studbook`.

A push needs to know which revision the file began as: only what differs from that one is sent, and the service can
tell whether someone pushed since. The origin is beside the file and not in it: the file then holds the setup alone in
all three forms, and any program may rewrite it.
"""

import hashlib
from pathlib import Path
from typing import Any

import msgspec

from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.files import read_file, write_file


class FileOrigin(msgspec.Struct, frozen=True):
    """Where a file comes from.

    Attributes:
        sheet: `CAR/SHEET`, with the source's name before it if it was pulled from one.
        revision: full id.
        sha256: of the file as it was written, to know whether it has changed since.
    """

    sheet: str
    revision: str
    sha256: str


def origin_file(file: Path) -> Path:
    """Name the bookmark of a file.

    Example:
        >>> origin_file(Path("setups/7.toml")).as_posix()
        'setups/.7.toml.studbook'
    """
    return file.with_name(f".{file.name}.studbook")


def save_origin(file: Path, *, sheet: str, revision: str, sha256: str | None = None) -> None:
    """Remember which revision a file holds: as it is now, or as it was with the hash that is given."""
    mark = FileOrigin(sheet, revision, sha256 or _digest(file))
    write_file(origin_file(file), msgspec.json.format(msgspec.json.encode(mark), indent=2) + b"\n")


def load_origin(file: Path) -> FileOrigin | None:
    """Read which revision a file began as, or None for a file that was not pulled.

    Raises:
        CommandFailedError: the bookmark was damaged.
    """
    if not origin_file(file).exists():
        return None
    try:
        return msgspec.json.decode(read_file(origin_file(file)), type=FileOrigin)
    except msgspec.DecodeError as error:
        raise CommandFailedError(f"{origin_file(file)} is damaged ({error}): pull again to another file") from None


def is_changed(file: Path) -> bool:
    """Whether a file holds what a pull would not bring back."""
    if not file.exists():
        return False
    mark: Any = load_origin(file)
    return mark is None or mark.sha256 != _digest(file)


def _digest(file: Path) -> str:
    return hashlib.sha256(read_file(file)).hexdigest()
