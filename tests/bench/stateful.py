"""10,000 requests that follow the API's own description from answer to answer: `python tests/bench/stateful.py`.

A failed check of schemathesis ends it; the tests walk 150. Rows give counts, not times.
"""

import asyncio
import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from bench.isolation import Row, served  # noqa: E402 - found on the path set above
from security.teams import full_team, node_of  # noqa: E402 - as above
from security.walks import Walked, walk  # noqa: E402 - as above
from studbook_service.actions.known_peers import PeerTokens  # noqa: E402 - as above

CASES = 10_000
REACH = 0.6


def walked(folder: Path) -> Walked:
    """Walk in an application of this process."""
    with asyncio.Runner() as runner:
        loop = runner.get_loop()
        service = served(folder)
        app, owner, _ = runner.run(service.__aenter__())
        team = runner.run(full_team(app, owner))
        node = node_of(team)
        address = runner.run(node.__aenter__())
        PeerTokens(folder).keep(team.founded.team, address.name, address.token)
        try:
            return walk(team, loop, CASES)
        finally:
            runner.run(node.__aexit__(None, None, None))
            runner.run(service.__aexit__(None, None, None))


def rows() -> list[Row]:
    """Answers by status, and successes of all."""
    with tempfile.TemporaryDirectory(prefix="studbook-bench-") as folder:
        found = walked(Path(folder))
    statuses = ", ".join(f"{status}: {count:,}" for status, count in sorted(found.statuses.items()))
    never = [name for name, counts in found.operations.items() if not any(200 <= status < 300 for status in counts)]
    return [
        ("requests, each held against the description", f"{found.statuses.total():,}", statuses, "no failure"),
        ("of these, led by an answer before", f"{found.followed:,}", "", ""),
        ("successes", f"{found.good:.0%}", f"{REACH:.0%}", "held" if found.good >= REACH else "missed"),
        ("operations walked", f"{len(found.operations)}", f"without success: {', '.join(never) or 'none'}", ""),
    ]


if __name__ == "__main__":
    for what, ours, limit, ratio in rows():
        print(f"{what:45} {ours:10} {limit:70} {ratio}")
