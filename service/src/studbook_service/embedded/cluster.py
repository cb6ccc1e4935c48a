"""A PostgreSQL cluster in the data folder.

It listens on a unix socket only, inside a folder that nobody else may enter, so connections over it are trusted and
no password is kept. Whether it runs is found out by connecting: a zombie still has a process id.
"""

import hashlib
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from urllib.parse import quote

from studbook_service.embedded.binaries import Binaries
from studbook_service.embedded.errors import EmbeddedError
from studbook_service.embedded.unprivileged import Unprivileged, unprivileged

DATABASE, OWNER, SERVING_ROLE = "studbook", "studbook_owner", "studbook_serve"

# sun_path holds 104 bytes on macOS, 108 on Linux, the closing zero included; the socket's own name takes 18.
_LONGEST_SOCKET_FOLDER = 104 - 1 - len("/.s.PGSQL.5432.lock")
_START_WITHIN_S = 60.0
_RETRY_START_FOR_S = 30.0
_STOP_WITHIN_S = 30.0
_LOOK_EVERY_S = 0.02
_LOG_TAIL_LINES = 5


class Cluster:
    """PostgreSQL as a child process over `folder/postgres`.

    The caller holds the folder (see `held`) from before `start` until after `stop`.

    Args:
        folder: the data folder; made with mode 0700 when missing. What lies in it is 0700 in any case.
        binaries: the programs to run.
        durable: wait for the disk on commit. Only throw-away test clusters say False.

    Example::

        cluster = Cluster(Path("data"), find_binaries())
        cluster.start()
        cluster.dsn("studbook_owner", "postgres")
        # 'postgresql://studbook_owner@/postgres?host=data/run'
    """

    def __init__(self, folder: Path, binaries: Binaries, *, durable: bool = True) -> None:
        if sys.platform == "win32":
            raise EmbeddedError("no embedded PostgreSQL on Windows: give --database with the address of a server")
        self.folder = folder.resolve()
        self.binaries = binaries
        self.durable = durable
        self.cluster = self.folder / "postgres"
        self.log = self.folder / "postgres.log"
        self.socket = _socket_folder(self.folder)
        self._as: Unprivileged = unprivileged()
        self._process: subprocess.Popen[bytes] | None = None

    def dsn(self, role: str, database: str) -> str:
        """Spell the address of a database for a role."""
        return f"postgresql://{quote(role)}@/{quote(database)}?host={quote(str(self.socket), safe='/')}"

    @property
    def pid(self) -> int | None:
        """Process id of the server we started, or None when it does not run."""
        return None if self._process is None or self._process.poll() is not None else self._process.pid

    def start(self) -> None:
        """Make the cluster when there is none, and run it until it accepts connections.

        A server that outlived a killed service is stopped first. After a crash the remains of the old server can
        stand in the way for some seconds, so the start is tried again for half a minute.

        Raises:
            EmbeddedError: it does not start; the text ends with what PostgreSQL logged.
        """
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if stat.S_IMODE(self.folder.stat().st_mode) == 0o700:  # wider ones are somebody's choice, and can be entered
            self._as.own(self.folder)
        _private(self.socket, self._as)
        if not self.cluster.exists():
            self._make()
        self._check_version()
        if self._answer() != _SILENT:
            self._stop_orphan()
        self._reap()
        give_up = time.monotonic() + _RETRY_START_FOR_S
        while not self._run():
            if time.monotonic() > give_up:
                raise EmbeddedError(f"PostgreSQL does not start: {self._last_words()}")
            time.sleep(0.5)

    def stop(self) -> None:
        """Stop the server we started: clients are cut off, everything committed is on disk."""
        if self._process is None:
            return
        self._process.send_signal(signal.SIGINT)
        try:
            self._process.wait(_STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            self._process.send_signal(signal.SIGQUIT)  # no checkpoint: the next start replays the log
            self._process.wait()
        self._process = None

    def _reap(self) -> None:
        """Wait for a server of ours that was killed: a dead child not waited for counts as a living postmaster."""
        if self._process is None:
            return
        try:
            self._process.wait(_STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            raise EmbeddedError(f"the PostgreSQL started before, process {self._process.pid}, does not end") from None
        self._process = None

    def _make(self) -> None:
        """Initialize beside the final place and move there, so a cut never leaves half a cluster."""
        beside = self.cluster.with_suffix(".tmp")
        if beside.exists():
            shutil.rmtree(beside)
        _private(beside, self._as)
        made = self._program(
            "initdb",
            *("--pgdata", str(beside), "--username", OWNER, "--auth=trust", "--encoding=UTF8", "--locale=C"),
            *(() if self.durable else ("--no-sync",)),
        )
        if made.returncode != 0:
            raise EmbeddedError(f"initdb failed: {made.stderr.decode(errors='replace').strip()}")
        beside.rename(self.cluster)
        _sync(self.folder)

    def _check_version(self) -> None:
        major = int((self.cluster / "PG_VERSION").read_text(encoding="ascii"))
        if major != self.binaries.major:
            raise EmbeddedError(
                f"{self.cluster} was made by PostgreSQL {major}, but {self.binaries.folder} holds "
                f"{self.binaries.major}, which cannot read it: set STUDBOOK_POSTGRES_BIN to the programs of {major}, "
                f"or move the data with pg_upgrade"
            )

    def _run(self) -> bool:
        """Start the server once and wait for it; False when it gave up."""
        settings = {
            "listen_addresses": "",
            "unix_socket_directories": str(self.socket),
            "unix_socket_permissions": "0700",
            "fsync": "on" if self.durable else "off",
            "timezone": "UTC",
            "log_timezone": "UTC",
            "log_checkpoints": "off",
            "jit": "off",
        }
        options = [word for name, value in settings.items() for word in ("-c", f"{name}={value}")]
        with self.log.open("ab") as log:
            # A session of its own: Ctrl-C in the terminal is ours to handle, in order.
            self._process = subprocess.Popen(  # noqa: S603 - PostgreSQL's own program
                [*self._as.prefix, str(self.binaries.folder / "postgres"), "-D", str(self.cluster), *options],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
                cwd=self.cluster,
            )
        give_up = time.monotonic() + _START_WITHIN_S
        while self._process.poll() is None:
            if self._answer() == _ACCEPTS:
                return True
            if time.monotonic() > give_up:
                self.stop()
                raise EmbeddedError(f"PostgreSQL is not ready after {_START_WITHIN_S:.0f} s: {self._last_words()}")
            time.sleep(_LOOK_EVERY_S)
        self._process = None
        return False

    def _stop_orphan(self) -> None:
        """Stop a server left by a killed service. It answered, so the process id in its file is its own."""
        file = self.cluster / "postmaster.pid"
        if not file.exists():
            return
        with suppress(ProcessLookupError):  # it ended in between
            os.kill(int(file.read_text(encoding="utf-8").split(maxsplit=1)[0]), signal.SIGINT)
        give_up = time.monotonic() + _STOP_WITHIN_S
        while file.exists():
            if time.monotonic() > give_up:
                raise EmbeddedError(f"a PostgreSQL left running over {self.cluster} does not stop")
            time.sleep(_LOOK_EVERY_S)

    def _answer(self) -> int:
        words = ("--host", str(self.socket), "--username", OWNER, "--dbname", "postgres", "--quiet")
        return self._program("pg_isready", *words).returncode

    def _program(self, name: str, *words: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(  # noqa: S603 - PostgreSQL's own program
            [*self._as.prefix, str(self.binaries.folder / name), *words],
            capture_output=True,
            check=False,
            cwd=self.folder,
        )

    def _last_words(self) -> str:
        lines = self.log.read_text(encoding="utf-8", errors="replace").splitlines()
        return " | ".join(lines[-_LOG_TAIL_LINES:])


_ACCEPTS, _SILENT = 0, 2  # pg_isready's exit statuses; 1 is "there, but starting or stopping"


def _socket_folder(folder: Path) -> Path:
    """Choose where the socket goes: in the data folder, or where that path is too long in a short folder of ours."""
    inside = folder / "run"
    if len(os.fsencode(inside)) <= _LONGEST_SOCKET_FOLDER:
        return inside
    digest = hashlib.sha256(os.fsencode(folder)).hexdigest()[:12]
    return Path(f"/tmp/studbook-{os.geteuid()}-{digest}")  # noqa: S108 - mode and owner are checked before use


def _private(folder: Path, owner: Unprivileged) -> None:
    """Make sure a folder is there, ours, and closed to everybody else."""
    folder.mkdir(exist_ok=True, mode=0o700)
    if folder.is_symlink() or folder.stat().st_uid not in {os.geteuid(), *(owner.owner or ())[:1]}:
        raise EmbeddedError(f"{folder} belongs to somebody else")
    folder.chmod(0o700)
    owner.own(folder)


def _sync(folder: Path) -> None:
    """Put a rename on disk."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
