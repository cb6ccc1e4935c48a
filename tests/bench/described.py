"""Every operation requested as its description has it and otherwise, 40 times each: `python tests/bench/described.py`.

These are the generated requests of tests/http/test_description.py, new each time; the tests make 2 of each that repeat.
"""

import re
import subprocess
import sys
from pathlib import Path

Row = tuple[str, str, str, str]
TEST = Path(__file__).parents[1] / "http" / "test_description.py"
WORDS = ("-q", "--hypothesis-profile=explore", "-k", "generated")


def rows() -> list[Row]:
    """Ask, and count the kinds of request whose answers were all as described."""
    run = subprocess.run(
        [sys.executable, "-m", "pytest", TEST, *WORDS], cwd=TEST.parents[2], capture_output=True, text=True, check=False
    )
    if run.returncode:
        print(run.stdout[-8000:], file=sys.stderr)
    counts = {what: number for number, what in re.findall(r"(\d+) (passed|failed)", run.stdout)}
    total = sum(map(int, counts.values()))
    verdict = "missed" if run.returncode else "held"
    return [("operations, requested rightly and wrongly", counts.get("passed", "0"), f"{total}", verdict)]


if __name__ == "__main__":
    for row in rows():
        print(*row, sep=" | ")
