"""Books that meet, in one thread with one random number generator: a seed that fails does so again, step for step.

Three nodes (a shop and two laptops, a fourth when a laptop is cloned) record, merge and exchange on lines they share,
while messages are dropped, doubled, delayed, cut and damaged, nodes crash, are restored from older backups, and clocks
step. Two of them know different fields. The shop is home: it names members, erases, and in every other world protects
lines, which one laptop may record on and the others may not. At the end the wire is whole, protection is lifted and all
is offered from the start, what anybody knows to be erased is erased at home again, and all books must be one.
"""

import random
from collections.abc import Callable, Collection, Coroutine, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

import msgspec

from exchange.making import BOOK, entry
from exchange.wire import NOW
from studbook.history import ancestry, merge
from studbook.history.canonical import Tree
from studbook.wire.exchange import HomeMember
from studbook_service.exchange import erasures
from studbook_service.exchange.admission import AdmissionRules
from studbook_service.exchange.book import ExchangedEntry, PeerStateMoved
from studbook_service.exchange.checking import verify
from studbook_service.exchange.frames import BadFrames, Bounds, CutShort, whole
from studbook_service.exchange.initiator import Session, new_peer_state
from studbook_service.exchange.memory_book import MemoryBook
from studbook_service.exchange.responder import respond

T = TypeVar("T")

DAY_MS = 86_400_000
LINES = ("car/7", "car/7/sheet/baseline", "car/8/sheet/baseline", "car/8/sheet/dirt")
OLD_FIELDS = ("setup.cg.height_in", "setup.front.rf.spring.rate_lb_per_in", "notes")
NEW_FIELDS = (*OLD_FIELDS, "setup.front.rf.bump_stop.gap_in", "setup.rear.spool")
BOUNDS = (
    Bounds(aim=400, most=200_000, inflated=4_000_000, rows=2_000, frame_rows=3),
    Bounds(aim=900, most=200_000, inflated=4_000_000, rows=2_000, frame_rows=3),
)
STEPS = 120


def do(work: Coroutine[Any, Any, T]) -> T:
    """Run a coroutine that waits for nothing."""
    try:
        work.send(None)
    except StopIteration as end:
        result: T = end.value
        return result
    raise RuntimeError("a book in memory waited")


@dataclass
class Node:
    """A place that keeps the book."""

    name: str
    book: MemoryBook
    fields: tuple[str, ...]
    peers: tuple[str, ...] = ()
    clock_ms: int = 1_790_000_000_000
    backups: list[MemoryBook] = field(default_factory=list)
    sessions: dict[str, Session] = field(default_factory=dict)


class World:
    """All nodes, the wire between them, and what happens to them.

    Args:
        seed: decides everything.
    """

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)  # noqa: S311 - chance that repeats is the point
        self.protects = seed % 2 == 0
        self.nodes = {
            "shop": Node("shop", MemoryBook(BOOK), NEW_FIELDS),
            "one": Node("one", MemoryBook(BOOK, home="shop"), NEW_FIELDS, ("shop", "two")),
            "two": Node("two", MemoryBook(BOOK, home="shop"), OLD_FIELDS, ("shop",)),
        }
        self.late: list[tuple[str, str, bytes]] = []
        self.replies: dict[tuple[str, str], list[bytes]] = {}
        self.erased: set[str] = set()
        self.happened: dict[str, int] = {}

    def run(self) -> None:
        """Let things happen, then heal, and prove that all is there."""
        doings: list[tuple[int, Callable[[], None]]] = [
            (34, self.push),
            (40, self.exchange),
            (4, self.back_up),
            (3, self.restore),
            (3, self.crash),
            (3, self.deliver_late),
            (2, self.step_clock),
            (1, self.clone),
            (3, self.decide),
            (3, self.erase),
        ]
        weights = [weight for weight, _ in doings]
        for _ in range(STEPS):
            doing = self.random.choices([each for _, each in doings], weights)[0]
            doing()
        self.heal()

    def push(self, node: Node | None = None) -> None:
        """Record a revision: a new line, an edit on a tip, or a merge of a split."""
        node = node or self.random.choice(list(self.nodes.values()))
        line = self.random.choice(LINES)
        node.clock_ms += self.random.randrange(1, 100_000)
        tips = do(node.book.get(do(node.book.tips(line))))
        whole = not any(tip.erased for tip in tips.values())
        if len(tips) > 1 and whole and self.random.random() < 0.5:
            made = self.merged(node, line, tips)
        else:
            before = [self.random.choice(list(tips.values()))] if tips else []
            tree = self.edited(before, node.fields)
            made = self.entry(node, line, tree, before, note=f"by {node.name}")
        do(node.book.append([made]))

    def edited(self, before: list[ExchangedEntry], fields: tuple[str, ...]) -> Tree:
        """Set or remove a field that this release knows; all others stay."""
        tree: Tree = msgspec.json.decode(before[0].body, type=Tree) if before and not before[0].erased else {}
        *groups, last = self.random.choice(fields).split(".")
        here = tree
        for step in groups:
            here = here.setdefault(step, {})
        if last in here and self.random.random() < 0.2:
            del here[last]
        else:
            here[last] = self.random.choice([True, "loose off", 1, 2.25, [1, 2.5], round(self.random.random(), 3)])
        return tree

    def merged(self, node: Node, line: str, tips: Mapping[str, ExchangedEntry]) -> ExchangedEntry:
        """Settle a split as the book does: a clean merge has no author of its own; else the first side wins."""
        held = {placed.entry.id: placed.entry for placed in do(node.book.since(0, most=100_000))}
        found = merge.merge(
            ancestry.plan(tips, lambda id_: held[id_].header.parents),
            lambda id_: None if held[id_].erased else msgspec.json.decode(held[id_].body, type=Tree),
        )
        if found.conflicts:
            first = tips[min(tips)]
            return self.entry(node, line, msgspec.json.decode(first.body, type=Tree), list(tips.values()), note="ours")
        latest = max(tip.header.at for tip in tips.values())
        return entry(found.tree, parents=tips.values(), line=line, author=merge.AUTHOR, at=latest, kind=_kind(line))

    def entry(self, node: Node, line: str, tree: Tree, parents: list[ExchangedEntry], *, note: str) -> ExchangedEntry:
        """Make a revision by a node's crew at its clock's time."""
        return entry(tree, parents=parents, line=line, author=node.name, at=node.clock_ms, note=note, kind=_kind(line))

    def exchange(self) -> None:
        """Go on with an exchange, or begin one; the wire does what it likes."""
        node = self.random.choice([node for node in self.nodes.values() if node.peers])
        peer = self.random.choice(node.peers)
        session = node.sessions.get(peer) or do(Session.begin(node.book, peer, bounds=BOUNDS))
        node.sessions[peer] = session
        try:
            request = do(session.next_request())
            if request is None:
                for each in do(session.finish(NOW)).refused:
                    self.count(each.code)
                del node.sessions[peer]
                return
            for piece in self.carried(node.name, peer, request):
                do(session.receive(piece))
                if self.random.random() < 0.1:
                    self.push(self.random.choice([node, self.nodes[peer]]))
            do(session.end_response())
        except CutShort:
            self.count("cut")
        except (BadFrames, PeerStateMoved) as error:
            self.count(type(error).__name__)
            if isinstance(error, PeerStateMoved) or self.random.random() < 0.5:
                del node.sessions[peer]

    def carried(self, node: str, peer: str, request: bytes) -> Iterator[bytes]:
        """Carry a request and its response; give the response's pieces that arrive."""
        what = self.random.choices(
            [
                "whole",
                "lost",
                "response lost",
                "doubled",
                "late",
                "cut",
                "stale",
                "damaged",
                "damaged request",
                "undone",
            ],
            [56, 4, 5, 5, 4, 10, 4, 4, 4, 4],
        )[0]
        self.count(what)
        if what == "lost":
            return
        if what == "late":
            self.late.append((node, peer, request))
            return
        if what == "damaged request":
            request = self.damaged(request)
        before = self.nodes[peer].book.copy()
        responses = [self.respond(node, peer, request) for _ in range(2 if what == "doubled" else 1)]
        body = self.random.choice(responses)
        if what == "response lost":
            return
        if what == "undone":  # it responses, loses its disk, and is restored to a moment ago
            self.nodes[peer].book = before
            self.nodes[peer].sessions.clear()
        known = self.replies.setdefault((node, peer), [])
        if what == "stale" and known:
            body = self.random.choice(known)
        known.append(body)
        if what == "damaged" and body:
            body = self.damaged(body)
        length = self.random.randrange(len(body) + 1) if what == "cut" else len(body)
        for start in range(0, length, 150):
            yield body[start : min(start + 150, length)]

    def respond(self, node: str, peer: str, request: bytes) -> bytes:
        """Have a node respond; to what it cannot read it responds with nothing."""
        try:
            return do(
                respond(self.nodes[peer].book, request, via=node, rules=self.rules(node, peer), bounds=BOUNDS)
            ).body
        except BadFrames:
            self.count("refused")
            return b""

    def rules(self, node: str, peer: str) -> AdmissionRules:
        """Say what a node may bring to a peer: only one laptop's token is made for protected lines."""
        return AdmissionRules(closed=() if node == "two" else do(self.nodes[peer].book.decided()).protected)

    def damaged(self, data: bytes) -> bytes:
        """Flip a bit."""
        place = self.random.randrange(len(data))
        return data[:place] + bytes([data[place] ^ 1 << self.random.randrange(8)]) + data[place + 1 :]

    def deliver_late(self) -> None:
        """Let a request arrive that its sender has long given up."""
        if self.late:
            self.respond(*self.late.pop(self.random.randrange(len(self.late))))

    def back_up(self) -> None:
        """Copy a node's book away."""
        node = self.random.choice(list(self.nodes.values()))
        node.backups.append(node.book.copy())

    def restore(self) -> None:
        """Put a node back to a backup; what only it knew is gone."""
        node = self.random.choice(list(self.nodes.values()))
        if node.backups:
            node.book = self.random.choice(node.backups).copy()
            node.sessions.clear()
            self.count("restored")

    def crash(self) -> None:
        """End a node's process: its exchanges are forgotten, its book is not."""
        self.random.choice(list(self.nodes.values())).sessions.clear()

    def step_clock(self) -> None:
        """Set a node's clock a day forward or back."""
        self.random.choice(list(self.nodes.values())).clock_ms += self.random.choice([-DAY_MS, DAY_MS])

    def clone(self) -> None:
        """Copy a laptop's disk into another laptop."""
        if "clone" not in self.nodes:
            one = self.nodes["one"]
            self.nodes["clone"] = Node("clone", one.book.copy(), one.fields, one.peers, one.clock_ms)
            self.count("cloned")

    def decide(self) -> None:
        """Protect a line or lift it, or name a member, or forget the name, at home."""
        shop = self.nodes["shop"].book
        home = do(shop.decided())
        if self.protects and self.random.random() < 0.5:
            home.protected[:] = sorted({*home.protected} ^ {self.random.choice(LINES)})
        else:
            gone = self.random.random() < 0.3
            name = "" if gone else f"N. {self.random.randrange(100)}"
            home.members[self.random.choice(["one", "two"])] = HomeMember(name, "crew", erased=gone)
        do(shop.take_home(home))
        self.count("decided")

    def erase(self, ids: Collection[str] = ()) -> None:
        """Erase some of what the shop has: an entry or two, or those given."""
        node = self.nodes["shop"]
        held = [id_ for id_, entry in _entries(node.book).items() if entry.header.kind != erasures.KIND]
        chosen = sorted(ids) or self.random.sample(held, min(len(held), self.random.choice([1, 1, 2])))
        node.clock_ms += 1
        if chosen:
            do(node.book.append([erasures.erasure(chosen, reason="asked for", at_ms=node.clock_ms)]))
            self.erased.update(chosen)
            self.count("erased")

    def heal(self) -> None:
        """Exchange on a whole wire until all books are one, and prove it."""
        shop = self.nodes["shop"].book
        do(shop.take_home(msgspec.structs.replace(do(shop.decided()), protected=[])))
        entries = [each for node in self.nodes.values() for each in _entries(node.book).values()]
        gone = {each.id for each in entries if each.erased}
        assert gone <= self.erased
        self.exchange_all(from_start=self.protects)
        self.exchange_all()
        if gone:
            self.erase(gone)
        self.exchange_all()
        self.exchange_all()
        known = {each.id: b"" if each.id in gone else each.body for each in entries if not _is_erasure(each)}
        erased = {id_ for id_, each in _entries(shop).items() if _is_erasure(each)}
        for node in self.nodes.values():
            found = _entries(node.book)
            assert {id_: each.body for id_, each in found.items() if not _is_erasure(each)} == known, node.name
            assert erased <= found.keys(), node.name
            assert [do(node.book.tips(line)) for line in LINES] == [do(shop.tips(line)) for line in LINES]
            here, there = do(node.book.decided()), do(shop.decided())
            assert here.protected == there.protected, node.name
            assert there.members.items() <= here.members.items(), node.name
            assert not do(verify(node.book)).faults, node.name

    def exchange_all(self, *, from_start: bool = False) -> None:
        """Exchange between all without a fault."""
        for node in self.nodes.values():
            for peer in node.peers:
                if from_start:
                    version = do(node.book.peer_state(peer)).version + 1
                    state = msgspec.structs.replace(new_peer_state(do(node.book.end())), version=version)
                    do(node.book.append((), peer=peer, state=state))
                self.exchange_whole(node, peer)

    def exchange_whole(self, node: Node, peer: str) -> None:
        """Exchange without a fault; only an erasure that home lost is not taken there."""
        session = do(Session.begin(node.book, peer, bounds=BOUNDS))
        while (request := do(session.next_request())) is not None:
            self.count("sent whole", whole(request, BOUNDS[0])[0].whole)
            do(session.receive(do(respond(self.nodes[peer].book, request, via=node.name, bounds=BOUNDS)).body))
            do(session.end_response())
        assert {each.code for each in do(session.finish(NOW)).refused} <= {"not_home"}

    def count(self, what: str, times: int = 1) -> None:
        """Count what happened, so that a test can see that it did."""
        self.happened[what] = self.happened.get(what, 0) + times


def _kind(line: str) -> str:
    return "sheet" if "/sheet/" in line else "car"


def _is_erasure(entry: ExchangedEntry) -> bool:
    return entry.header.kind == erasures.KIND


def _entries(book: MemoryBook) -> dict[str, ExchangedEntry]:
    return {placed.entry.id: placed.entry for placed in do(book.since(0, most=100_000))}
