"""Files that the command reads and writes: ordinary ones of a bounded size, and nothing through a link.

A folder that others may write to can hold a link under the name that is going to be written, and a file that somebody
else sent can be a device or a pipe that never ends.
"""

import os
import secrets
import stat
from pathlib import Path
from typing import Final

from studbook.cli.exit_codes import CommandFailedError, print_error

FILE_MOST: Final = 1 << 20
"""Bytes; the service takes no larger document."""

_KINDS: Final = (
    (stat.S_ISLNK, "a link, and nothing is written through one"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def read_file(file: Path, *, most: int = FILE_MOST) -> bytes:
    """Read an ordinary file.

    Raises:
        CommandFailedError: it is none, or larger than `most` bytes.
        OSError: it is not there, or may not be read.
    """
    # Without O_NONBLOCK the opening of a pipe waits until somebody writes to it.
    handle = os.open(file, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        _refuse_other(file, os.fstat(handle))
        with os.fdopen(handle, "rb", closefd=False) as source:
            data = source.read(most + 1)
    finally:
        os.close(handle)
    if len(data) > most:
        size = f"{most >> 20} MiB" if most >> 20 else f"{most >> 10} KiB"
        raise CommandFailedError(f"{file} is larger than {size}, the most that is read of such a file")
    return data


def read_secret(file: Path, *, most: int = FILE_MOST) -> bytes:
    """Read a file that holds a token, and tell where others may read it too."""
    data = read_file(file, most=most)
    mode = stat.S_IMODE(file.stat().st_mode)
    if os.name == "posix" and mode & 0o077:
        print_error(f"others on this machine may read {file} (mode {mode:04o}), which holds a token: chmod 600 {file}")
    return data


def write_file(file: Path, data: bytes, *, mode: int = 0o666) -> None:
    """Write a file whole, in place of what was there; it is there only once it is complete.

    Args:
        file: its folder is there.
        data: all of it.
        mode: of a new file, before the user's umask; one that is replaced keeps its own.

    Raises:
        CommandFailedError: there is something of that name that is no ordinary file.
    """
    kept = check_writable(file)
    beside = file.with_name(f".{secrets.token_hex(8)}.part")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        if kept is not None:
            beside.chmod(stat.S_IMODE(kept.st_mode))
        beside.replace(file)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def check_writable(file: Path) -> os.stat_result | None:
    """Refuse to write where there is something else than an ordinary file; give what is known of that one.

    Raises:
        CommandFailedError: there is.
    """
    try:
        found = file.lstat()
    except FileNotFoundError:
        return None
    _refuse_other(file, found)
    return found


def _refuse_other(file: Path, found: os.stat_result) -> None:
    if not stat.S_ISREG(found.st_mode):
        kind = next((words for holds, words in _KINDS if holds(found.st_mode)), "no file")
        raise CommandFailedError(f"{file} is {kind}: name an ordinary file")
