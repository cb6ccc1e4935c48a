"""Coverage-guided fuzzing of every parser that reads what others wrote: `python tests/bench/fuzz.py`, five minutes.

Needs the dependency group `fuzz` (atheris). What is driven, and what must hold, stands in parsers.py. Each parser runs
in a process of its own, from good input and from what was found before (tests/security/hostile/found); a crash, a hang
of 10 s or 2 GiB ends it and leaves its input there.
"""

import importlib
import importlib.util
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

Row = tuple[str, str, str, str]
TESTS = Path(__file__).parents[1]
FOUND = TESTS / "security" / "hostile" / "found"
PARSERS = ("canonical", "json", "csv", "toml", "frames", "rebuilding")
SECONDS_EACH = 50
BOUNDS = ("-timeout=10", "-rss_limit_mb=2048", "-max_len=16384", "-print_final_stats=1")


def fuzz(name: str, folder: Path, seconds: int) -> None:
    """Fuzz one parser in this process, which ends with it."""
    atheris = importlib.import_module("atheris")  # only where its group is installed
    sys.path.insert(0, str(TESTS))
    with atheris.instrument_imports(include=["studbook", "studbook_service", "tomllib"], enable_loader_override=False):
        parsers = importlib.import_module("parsers")
    known = [file.read_bytes() for file in FOUND.glob(f"{name}-*")]
    for place, seed in enumerate([*parsers.seeds(name), *known]):
        (folder / f"seed-{place}").write_bytes(seed)
    words = [sys.argv[0], *BOUNDS, f"-max_total_time={seconds}", f"-artifact_prefix={FOUND}/{name}-", str(folder)]
    atheris.Setup(words, parsers.TARGETS[name])
    atheris.Fuzz()


def fuzzed(name: str, seconds: int) -> Row:
    """Fuzz one parser in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, __file__, name, folder, str(seconds)]
        ended = subprocess.run(command, capture_output=True, text=True, check=False)
    if ended.returncode:
        print(ended.stderr[-4000:], file=sys.stderr)
    runs = int(last_figure(r"stat::number_of_executed_units:\s*(\d+)", ended.stderr))
    covered, peak = last_figure(r"cov: (\d+)", ended.stderr), last_figure(r"stat::peak_rss_mb:\s*(\d+)", ended.stderr)
    crashes = "one, kept beside those known" if ended.returncode else "no crash"
    return (f"{name}, {seconds} s", f"{runs:,} executions, {crashes}", f"{covered} branches, {peak} MiB at most", "-")


def last_figure(pattern: str, report: str) -> str:
    """Find the last figure of a kind."""
    figures: list[str] = re.findall(pattern, report)
    return figures[-1] if figures else "0"


def rows() -> list[Row]:
    """Fuzz every parser in turn."""
    if importlib.util.find_spec("atheris") is None:
        return [("parsers fuzzed", "not run: pip install --group fuzz", "", "")]
    return [fuzzed(name, int(os.environ.get("FUZZ_SECONDS", SECONDS_EACH))) for name in PARSERS]


def main(words: list[str]) -> None:
    """Fuzz one parser, or all."""
    if words:
        name, folder, seconds = words
        fuzz(name, Path(folder), int(seconds))
    else:
        for row in rows():
            print(*row, sep=" | ")


if __name__ == "__main__":
    main(sys.argv[1:])
