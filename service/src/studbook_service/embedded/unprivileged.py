"""Running PostgreSQL as root, which it refuses.

A user namespace that maps one ordinary user onto root is enough for it, and files keep their owner. Where the kernel
or a container forbids that, the programs run as the user `postgres` or `nobody`, who is given the data folder.
"""

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from studbook_service.embedded.errors import EmbeddedError

if sys.platform != "win32":
    import pwd

_NAMESPACE = ("unshare", "--user", "--map-user=1000", "--map-group=1000", "--")
_USERS = ("postgres", "nobody")


@dataclass(frozen=True, slots=True)
class Unprivileged:
    """How to start a program as somebody PostgreSQL accepts.

    Attributes:
        prefix: words to put before the command.
        owner: user and group id that must own the data folder, or None when it is ours already.
    """

    prefix: tuple[str, ...] = ()
    owner: tuple[int, int] | None = None

    def own(self, folder: Path) -> None:
        """Give a folder to whom the programs run as."""
        if self.owner is not None:
            os.chown(folder, *self.owner)


def unprivileged() -> Unprivileged:
    """Choose how to start PostgreSQL as the present user.

    Raises:
        EmbeddedError: we are root and nothing here lets us step down.
    """
    if os.geteuid() != 0:
        return Unprivileged()
    return in_namespace() or as_user() or _refuse()


def in_namespace() -> Unprivileged | None:
    """Step down into a user namespace; None where that is not allowed."""
    return Unprivileged(_NAMESPACE) if _runs(_NAMESPACE) else None


def as_user() -> Unprivileged | None:
    """Step down to an ordinary user; None where there is none."""
    known = {user.pw_name: user for user in pwd.getpwall()}
    for name in _USERS:
        if name not in known:
            continue
        uid, gid = known[name].pw_uid, known[name].pw_gid
        prefix = ("setpriv", f"--reuid={uid}", f"--regid={gid}", "--clear-groups", "--")
        if _runs(prefix):
            return Unprivileged(prefix, (uid, gid))
    return None


def _refuse() -> Unprivileged:
    raise EmbeddedError(
        "PostgreSQL does not run as root, and neither unshare nor setpriv works here: "
        "run as an ordinary user, or give --database"
    )


def _runs(prefix: tuple[str, ...]) -> bool:
    if shutil.which(prefix[0]) is None:
        return False
    tried = subprocess.run([*prefix, "true"], capture_output=True, check=False)  # noqa: S603 - words from this file
    return tried.returncode == 0
