"""One service per data folder: its holder keeps a lock there, which the kernel releases when the process ends."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from studbook_service.embedded.errors import EmbeddedError

if sys.platform != "win32":
    import fcntl


@contextmanager
def held(folder: Path, *, address: str) -> Iterator[None]:
    """Hold a data folder for the length of a block.

    Args:
        folder: the data folder; made with mode 0700 when missing.
        address: where the holder answers, for the error of whoever comes second.

    Raises:
        EmbeddedError: another process holds it; the text names it.
    """
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    with (folder / "lock").open("a+", encoding="utf-8") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise EmbeddedError(f"{folder} is {_holder(folder / 'lock')}") from error
        file.truncate(0)
        json.dump(
            {"pid": os.getpid(), "address": address, "started": datetime.now(UTC).isoformat(timespec="seconds")}, file
        )
        file.flush()
        yield


def _holder(lock: Path) -> str:
    """Describe who wrote the lock; it may be read just before its holder has written it."""
    try:
        who = json.loads(lock.read_text(encoding="utf-8"))
    except json.JSONDecodeError:
        return "held by another process"
    return f"held by process {who['pid']} at {who['address']}, started {who['started']}"
