"""Two books over a slow link, against stock Git with the same documents: `python tests/bench/exchanging.py`.

The link carries 256 kbit/s each way with 600 ms for a round trip. On our side the shop is a real service over its
embedded database and the laptop a book in memory; on the other a bare repository behind `git http-backend`, each
revision a commit of one pretty-printed JSON file. Bytes are all that passes the link, HTTP headers included.
"""

import asyncio
import json
import os
import random
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from time import perf_counter

import msgspec

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from exchange.making import entry  # noqa: E402 - found on the path set above
from nodes.crashing import Node  # noqa: E402 - as above
from nodes.link import BYTES_PER_S, HOST, GitServer, Link  # noqa: E402 - as above
from studbook.history.canonical import Tree  # noqa: E402 - as above
from studbook.history.changes import FieldChange, apply  # noqa: E402 - as above
from studbook.history.leaves import leaves  # noqa: E402 - as above
from studbook_service.demo.scenario import story, team  # noqa: E402 - as above
from studbook_service.exchange.book import ExchangedEntry  # noqa: E402 - as above
from studbook_service.exchange.driver import Address, ask_head, sync  # noqa: E402 - as above
from studbook_service.exchange.memory_book import MemoryBook  # noqa: E402 - as above

Row = tuple[str, str, str, str]
REVISIONS = 2_000
REACH = {
    "cold clone": 150_000,
    "nothing to say": 1_200,
    "pull 10": 2_200,
}
WORDS = [
    *("loose", "tight", "off", "in", "on", "exit", "entry", "center", "softer", "stiffer"),
    *("more", "less", "wedge", "bite", "push", "free", "hot", "slick", "tacky"),
]


@dataclass
class Writing:
    """Invented work on the demo's sheets: one to three settings changed at a time, with a note."""

    random: random.Random
    tips: dict[str, tuple[ExchangedEntry, Tree]] = field(default_factory=dict)
    at: int = 1_780_000_000_000

    def revisions(self, count: int, lines: Sequence[str]) -> list[ExchangedEntry]:
        """Make revisions on some lines."""
        return [self._next(self.random.choice(lines)) for _ in range(count)]

    def begin(self) -> list[ExchangedEntry]:
        """Make the first revision of each of the demo's sheets."""
        made = []
        for car in team().cars:
            for step in story(car, today=date(2026, 11, 25)):
                line = f"car/{car.slug}/sheet/{step.sheet}"
                if line not in self.tips:
                    made.append(self._keep(line, step.document, []))
        return made

    def _next(self, line: str) -> ExchangedEntry:
        before, tree = self.tips[line]
        numbers = [path for path, value in leaves(tree).items() if isinstance(value, float)]
        changes = []
        for path in self.random.sample(numbers, self.random.choice([1, 1, 1, 2, 3])):
            value = leaves(tree)[path] + self.random.choice([-0.25, -0.125, 0.0625, 0.125, 0.5])
            changes.append(FieldChange(path, after=round(value, 4)))
        return self._keep(line, apply(changes, tree), [before])

    def _keep(self, line: str, tree: Tree, parents: list[ExchangedEntry]) -> ExchangedEntry:
        self.at += self.random.randrange(60_000, 7_200_000)
        note = " ".join(self.random.choices(WORDS, k=self.random.randrange(2, 7)))
        author = self.random.choice(["robin", "ada", "jules"])
        made = entry(tree, line=line, parents=parents, at=self.at, note=note, author=author)
        self.tips[line] = (made, msgspec.json.decode(made.body, type=Tree))
        return made


class Git:
    """The same revisions in Git."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder = folder
        self.root = folder / "git"
        self.bare = self.root / "book.git"
        self.root.mkdir()
        self.run("init", "-q", "--bare", "-b", "main", str(self.bare), at=folder)
        self.run("config", "http.receivepack", "true", at=self.bare)
        self.url = f"http://{HOST}:{port}/book.git"

    def run(self, *words: str, at: Path, check: bool = True) -> int:
        """Run Git with nobody's configuration."""
        environment = {
            "PATH": os.environ["PATH"],
            "HOME": str(self.folder),
            "GIT_CONFIG_NOSYSTEM": "1",
            "GIT_TERMINAL_PROMPT": "0",
            "GIT_AUTHOR_NAME": "crew",
            "GIT_AUTHOR_EMAIL": "crew@studbook.test",
            "GIT_COMMITTER_NAME": "crew",
            "GIT_COMMITTER_EMAIL": "crew@studbook.test",
        }
        done = subprocess.run(["git", *words], cwd=at, env=environment, capture_output=True, check=False)
        assert done.returncode == 0 or not check, done.stderr
        return done.returncode

    def commit(self, made: Sequence[ExchangedEntry], at: Path) -> None:
        """Commit each revision as one file, pretty-printed."""
        parts: list[bytes] = []
        for each in made:
            document = json.dumps(msgspec.json.decode(each.body), indent=2, sort_keys=True).encode() + b"\n"
            note = each.note.encode()
            who = f"{each.header.author} <{each.header.author}@studbook.test> {each.header.at // 1000} +0000"
            first = (
                "from refs/heads/main^0\n"
                if not parts and self.run("rev-parse", "-q", "--verify", "refs/heads/main", at=at, check=False) == 0
                else ""
            )
            parts.append(
                f"commit refs/heads/main\ncommitter {who}\ndata {len(note)}\n".encode()
                + note
                + f"\n{first}M 644 inline {each.header.line}.json\ndata {len(document)}\n".encode()
                + document
                + b"\n"
            )
        environment = {"PATH": os.environ["PATH"], "HOME": str(self.folder)}
        subprocess.run(
            ["git", "fast-import", "--quiet"],
            input=b"".join(parts),
            cwd=at,
            env=environment,
            check=True,
            capture_output=True,
        )


@dataclass
class Measured:
    """One side of one row."""

    requests: int
    up: int
    down: int
    seconds: float

    @property
    def bytes(self) -> int:
        return self.up + self.down

    def __str__(self) -> str:
        return f"{self.requests} requests, {self.up} up + {self.down} down, {self.seconds:.1f} s"


class Bench:
    """Both sides, each behind a link of its own."""

    def __init__(self, folder: Path, shop: Node, git: GitServer) -> None:
        self.folder, self.shop, self.server = folder, shop, git
        self.git = Git(folder, git.port)
        self.clone = folder / "clone"
        self.writing = Writing(random.Random(2026))  # noqa: S311 - the same documents each time
        self.rows: list[Row] = []

    def ours(self, book: MemoryBook, *, cut: float | None = None) -> Measured:
        """Exchange over a link."""
        with Link(self.shop.port, cut).running() as link:
            address = Address("shop", f"http://{HOST}:{link.port}", self.shop.address.token)
            start = perf_counter()
            done = asyncio.run(sync(book, address))
            took = perf_counter() - start
            return Measured(done.requests if cut is None else link.connections, link.up.passed, link.down.passed, took)

    def theirs(self, *commands: tuple[str, ...], at: Path, cut: float | None = None) -> Measured | None:
        """Run Git over a link; None when it fails."""
        with Link(self.server.port, cut).running() as link:
            before, start = self.server.requests, perf_counter()
            url = f"http://{HOST}:{link.port}/book.git"
            for words in commands:
                if self.git.run(*(url if word == "URL" else word for word in words), at=at, check=cut is None):
                    return None
            return Measured(self.server.requests - before, link.up.passed, link.down.passed, perf_counter() - start)

    def row(self, what: str, ours: Measured, theirs: Measured | None) -> None:
        """Keep a row."""
        reach = f"; reach {REACH[what]} bytes" if what in REACH else ""
        ratio = (
            f"{ours.bytes / theirs.bytes:.2f} x bytes, {ours.seconds / theirs.seconds:.2f} x time" if theirs else "-"
        )
        limit = f"git: {theirs}" if theirs else "git: never completes"
        self.rows.append((what, str(ours), limit, f"{ours.bytes} bytes{reach}; {ratio}"))

    def fill(self, book: MemoryBook, made: Sequence[ExchangedEntry]) -> None:
        """Record the same at the shop and in the bare repository, over no link."""
        asyncio.run(book.append(made))
        asyncio.run(sync(book, self.shop.address))
        self.git.commit(made, self.git.bare)

    def run(self) -> list[Row]:
        """Measure everything."""
        identity = asyncio.run(ask_head(self.shop.address)).book
        near, far = [], []
        crew, laptop = MemoryBook(identity, home="shop"), MemoryBook(identity, home="shop")
        first = self.writing.begin()
        lines = sorted(self.writing.tips)
        near, far = lines[::2], lines[1::2]
        self.fill(crew, [*first, *self.writing.revisions(REVISIONS - len(first), lines)])
        # As a server packs what was pushed to it: what fast-import wrote is hardly packed, and would not be fair.
        self.git.run("repack", "-a", "-d", "-f", "-q", "--window=50", "--depth=50", at=self.git.bare)
        whole = self.ours(laptop)
        self.row("cold clone", whole, self.theirs(("clone", "-q", "URL", str(self.clone)), at=self.folder))
        self.git.run("config", "pull.rebase", "false", at=self.clone)
        fetch = ("fetch", "-q", "URL", "main")
        self.row("nothing to say", self.ours(laptop), self.theirs(fetch, at=self.clone))
        self.fill(crew, self.writing.revisions(10, near))
        pull = ("pull", "-q", "--no-edit", "URL", "main")
        self.row("pull 10", self.ours(laptop), self.theirs(pull, at=self.clone))
        made = self.writing.revisions(10, far)
        asyncio.run(laptop.append(made))
        self.git.commit(made, self.clone)
        self.git.run("reset", "-q", "--hard", at=self.clone)
        push = ("push", "-q", "URL", "main")
        self.row("push 10", self.ours(laptop), self.theirs(push, at=self.clone))
        asyncio.run(sync(crew, self.shop.address))
        self.fill(crew, self.writing.revisions(10, near))
        made = self.writing.revisions(10, far)
        asyncio.run(laptop.append(made))
        self.git.commit(made, self.clone)
        self.git.run("reset", "-q", "--hard", at=self.clone)
        self.row("diverged, 10 + 10", self.ours(laptop), self.theirs(pull, push, at=self.clone))
        again = MemoryBook(identity, home="shop")
        cut = self.ours(again, cut=5)
        assert asyncio.run(again.end()) == asyncio.run(laptop.end())
        words = ("clone", "-q", "URL", str(self.folder / "cut"))
        self.row("cold clone, cut every 5 s", cut, self.theirs(words, at=self.folder, cut=5))
        self.rows.append(
            (
                "bytes when cut, against uncut",
                str(cut.bytes),
                f"{whole.bytes}",
                f"{cut.bytes / whole.bytes:.2f} x; reach 1.10 x",
            )
        )
        self.rows.append(
            (
                "the link alone",
                f"{BYTES_PER_S * 8 / 1000:.0f} kbit/s each way",
                f"{whole.bytes / BYTES_PER_S:.1f} s for the clone's bytes",
                "-",
            )
        )
        return self.rows


def rows() -> list[Row]:
    """Every figure as (what, ours, stock Git, bytes and ratios)."""
    with tempfile.TemporaryDirectory(prefix="studbook-bench-") as name:
        folder = Path(name)
        folder.chmod(0o711)
        shop = Node("shop", folder)
        try:
            shop.serve()
            (folder / "repositories").mkdir()
            with GitServer(folder / "git").running() as server:
                return Bench(folder, shop, server).run()
        finally:
            shop.stop()


def main() -> None:
    """Print the report."""
    for row in rows():
        print("\n    ".join(row))


if __name__ == "__main__":
    main()
