"""Every benchmark with its full counts, each against the bare limit of the same run; kept in report.md beside this.

`python tests/bench/report.py [name …]` runs all of them, or those named: a benchmark is a script of this folder with
a function `rows()` giving (what, ours, bare limit, ratio).
"""

import datetime as dt
import importlib
import os
import platform
import sys
from pathlib import Path

HERE = Path(__file__).parent
HEAD = "| what | ours | bare limit | ratio |\n| --- | --- | --- | --- |"


def main(names: list[str]) -> None:
    """Run benchmarks and write the report."""
    sys.path.insert(0, str(HERE))
    wanted = names or sorted(path.stem for path in HERE.glob("*.py") if path.stem != "report")
    cpu = f"{os.cpu_count()} cores, Python {platform.python_version()}, {platform.system()} {platform.machine()}"
    parts = [f"# Benchmarks\n\n{dt.datetime.now(dt.UTC):%Y-%m-%d}, {cpu}. Ratios are against the same run.\n"]
    for name in wanted:
        table = [HEAD, *(f"| {' | '.join(row)} |" for row in importlib.import_module(name).rows())]
        parts.append(f"## {name}\n\n" + "\n".join(table) + "\n")
        print(parts[-1], flush=True)
    (HERE / "report.md").write_text("\n".join(parts))


if __name__ == "__main__":
    main(sys.argv[1:])
