"""Two services with two embedded databases that wait for the disk exchange while something is killed (kill -9)."""

import asyncio
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Final

from exchange.making import run
from nodes.link import Link
from studbook import Studbook
from studbook.wire.exchange import Cursor
from studbook_service.commands.temporary_service import HOST, free_port
from studbook_service.exchange.driver import Address, ask_head, sync
from studbook_service.exchange.memory_book import MemoryBook

EACH_ROUND: Final = 200
TARGETS: Final = ("shop service", "laptop service", "shop database", "laptop database", "exchange")


@dataclass
class Node:
    """A service of our own starting."""

    name: str
    folder: Path
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[str] | None = None

    @property
    def data(self) -> Path:
        return self.folder / self.name

    @property
    def address(self) -> Address:
        return Address(self.name, f"http://{HOST}:{self.port}", (self.data / "first-token").read_text().strip())

    def command(self, *words: str) -> subprocess.Popen[str]:
        """Run a command of this node."""
        return subprocess.Popen(
            [sys.executable, "-m", "studbook_service", *words, "--data", str(self.data)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "STUDBOOK_DATABASE": "", "STUDBOOK_TOKEN": ""},
        )

    def output(self, *words: str) -> str:
        """Run a command that must succeed, and give what it prints."""
        process = self.command(*words)
        out, errors = process.communicate(timeout=120)
        assert process.returncode == 0, f"{self.name} {words}: {out}{errors}"
        return out

    def laptop_token(self) -> str:
        """Make a token for a laptop."""
        with Studbook(self.address.url, self.address.token) as book:
            book.add_member("laptop", role="node", id="laptop")
            return book.make_token("laptop", label="laptop").token

    def serve(self, *words: str) -> None:
        """Run the service until it answers."""
        log = (self.folder / f"{self.name}.log").open("a")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "studbook_service", "serve", "--data", self.data, "--port", str(self.port), *words],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            text=True,
            env={**os.environ, "STUDBOOK_DATABASE": ""},
        )
        log.close()
        give_up = time.monotonic() + 90
        while not self.answers():
            assert self.process.poll() is None, (self.folder / f"{self.name}.log").read_text()
            assert time.monotonic() < give_up, f"{self.name} does not answer"
            time.sleep(0.1)

    def answers(self) -> bool:
        """Whether the service and its database answer."""
        with suppress(OSError, HTTPException), closing(HTTPConnection(HOST, self.port, timeout=10)) as connection:
            connection.request("GET", "/readyz")
            return connection.getresponse().status == 200
        return False

    def kill(self, what: str) -> None:
        """End the service, or its PostgreSQL, as a power cut would."""
        assert self.process is not None
        if what == "service":
            self.process.kill()
            self.process.wait()
        else:
            first = (self.data / "postgres" / "postmaster.pid").read_text().splitlines()[0]
            with suppress(ProcessLookupError):
                os.kill(int(first), signal.SIGKILL)

    def stop(self) -> None:
        """End the service in order."""
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            self.process.wait(60)


class Rounds:
    """Rounds of writing on both sides, exchanging, and a kill in the middle.

    Args:
        folder: where the data is kept.
        seed: decides what is killed when.
    """

    def __init__(self, folder: Path, seed: int) -> None:
        self.random = random.Random(seed)  # noqa: S311 - chance that repeats is the point
        self.shop, self.laptop = Node("shop", folder), Node("laptop", folder)
        self.acknowledged: dict[str, str] = {}
        self.writers: dict[str, MemoryBook] = {}
        self.number = 0
        self.under_way = 0  # kills that met an exchange with bytes passed and not all of them
        self.interrupted = 0  # exchanges that did not end well; the others went on by themselves
        self.bytes = 0  # of an exchange that nothing cuts

    @contextmanager
    def running(self) -> Iterator["Rounds"]:
        """Run both services for the length of a block, the laptop's book made one with the shop's."""
        try:
            self.shop.serve()
            self.laptop.serve()
            token = self.shop.folder / "node-token"
            token.write_text(self.shop.laptop_token())
            with Link(self.shop.port, bytes_per_s=8_000, round_trip_s=0.02).running() as self.link:
                url = f"http://{HOST}:{self.link.port}"
                self.laptop.output("peers", "add", "shop", url, "--join", "--token-file", str(token))
                self.measure()
                yield self
        finally:
            self.shop.stop()
            self.laptop.stop()

    def measure(self) -> None:
        """Count the bytes of an exchange that nothing cuts."""
        for node in (self.shop, self.laptop):
            asyncio.run(self.write(node))
        before = self.link.passed
        self.laptop.output("sync", "shop")
        self.bytes = self.link.passed - before

    def round(self) -> None:
        """Write on both sides, exchange, kill something, start it again, exchange: nothing is lost."""
        for node in (self.shop, self.laptop):
            asyncio.run(self.write(node))
        before = self.link.passed
        until = before + self.random.random() * self.bytes
        exchange = self.laptop.command("sync", "shop")
        while self.link.passed < until and exchange.poll() is None:
            time.sleep(0.002)
        self.under_way += exchange.poll() is None and self.link.passed > before
        self.kill(self.random.choice(TARGETS), exchange)
        exchange.communicate(timeout=120)
        self.interrupted += exchange.returncode != 0
        for node in (self.shop, self.laptop):
            if node.process is not None and node.process.poll() is not None:
                node.serve()
            while not node.answers():
                time.sleep(0.1)
        self.laptop.output("sync", "shop")
        for node in (self.shop, self.laptop):
            end = asyncio.run(ask_head(node.address)).end
            assert isinstance(end, Cursor)
            assert end.seq == len(self.acknowledged), (node.name, end)

    async def write(self, node: Node) -> None:
        """Bring new revisions to a node and note which it acknowledged."""
        self.number += 1
        if node.name not in self.writers:
            self.writers[node.name] = MemoryBook((await ask_head(node.address)).book)
        book = self.writers[node.name]
        made = run(EACH_ROUND, line=f"car/{self.number}/sheet/{node.name}")
        await book.append(made)
        progress = await sync(book, node.address)
        assert progress.sent == EACH_ROUND, progress
        self.acknowledged |= {each.id: node.name for each in made}

    def kill(self, target: str, exchange: "subprocess.Popen[str]") -> None:
        """Kill one of what takes part."""
        where, _, what = target.partition(" ")
        if target == "exchange":
            exchange.kill()
        else:
            {"shop": self.shop, "laptop": self.laptop}[where].kill(what)

    def prove(self) -> None:
        """Both books are whole and the same, and hold all that was acknowledged."""
        printed = self.laptop.output("verify", "--peer", "shop")
        assert f"{len(self.acknowledged)} entries, 0 faults" in printed, printed
        assert "0 only here, 0 only there, 0 damaged" in printed, printed
