"""Every benchmark with its full counts, each against the bare limit of the same run; kept in reports/ beside this.

`python tests/bench/report.py [name …]` runs all of them but those of five minutes and more (mutation, fuzz,
described), or those named.
A benchmark is a script of this folder with a function `rows()` giving (what, ours, bare limit, ratio).
"""

import datetime as dt
import importlib
import os
import platform
import sys
from pathlib import Path

HERE = Path(__file__).parent
REPORTS = HERE / "reports"
HEAD = "| what | ours | bare limit | ratio |\n| --- | --- | --- | --- |"
ONLY_WHEN_NAMED = {"mutation", "fuzz", "described"}


def main(names: list[str]) -> None:
    """Run benchmarks and keep their reports."""
    sys.path.insert(0, str(HERE))
    found = sorted(path.stem for path in HERE.glob("*.py") if "\ndef rows(" in path.read_text())
    machine = f"{os.cpu_count()} cores, Python {platform.python_version()}, {platform.system()} {platform.machine()}"
    REPORTS.mkdir(exist_ok=True)
    for name in names or [name for name in found if name not in ONLY_WHEN_NAMED]:
        table = [HEAD, *(f"| {' | '.join(row)} |" for row in importlib.import_module(name).rows())]
        text = f"# {name}\n\n{dt.datetime.now(dt.UTC):%Y-%m-%d}, {machine}.\n\n" + "\n".join(table) + "\n"
        (REPORTS / f"{name}.md").write_text(text)
        print(text, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
