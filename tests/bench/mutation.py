"""Mutation testing of the book's algebra: `python tests/bench/mutation.py`, some ten minutes on one core.

Needs `pip install mutmut` (3.8 or later). It works on a copy in a temporary folder: each mutant of history/ is one
small change of the code, and counts as killed when a test of tests/history or a law fails or never ends. What survived
is printed as a diff, to be read: either a test is missing, or the change makes no difference.
"""

import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

Row = tuple[str, str, str, str]
ROOT = Path(__file__).parents[2]
BIN = Path(sys.executable).parent
MODULES = ("ancestry", "canonical", "changes", "ids", "leaves", "merge")
TESTS = ("history", "golden/ids.json", "laws/documents.py", "laws/test_history_laws.py", "laws/test_merge_laws.py")
SETTINGS = f"""
[tool.mutmut]
source_paths = ["src"]
only_mutate = {[f"src/studbook/history/{name}.py" for name in MODULES]}
also_copy = ["service", "tests"]
timeout_multiplier = 3.0
[tool.pytest.ini_options]
testpaths = ["tests"]
pythonpath = ["tests", "service"]
addopts = ["--import-mode=importlib", "-p", "no:cacheprovider"]
"""

PROFILE = """
from hypothesis import settings

settings.register_profile("repeat", derandomize=True, database=None, deadline=None)
settings.load_profile("repeat")
"""


def lay_out(folder: Path) -> None:
    """Copy what the tests of history/ need; the service only lends the demo's documents."""
    shutil.copytree(ROOT / "client/src", folder / "src", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "service/src/studbook_service/demo", folder / "service/studbook_service/demo")
    shutil.copy(ROOT / "service/src/studbook_service/__init__.py", folder / "service/studbook_service")
    for name in TESTS:
        here, there = ROOT / "tests" / name, folder / "tests" / name
        there.parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(here, there) if here.is_dir() else shutil.copy(here, there)
    (folder / "pyproject.toml").write_text(SETTINGS)
    (folder / "tests/conftest.py").write_text(PROFILE)


def rows() -> list[Row]:
    """Mutate, test, print what survived, and count."""
    if not (BIN / "mutmut").exists():
        return [("mutants of history/ killed", "not run: pip install mutmut", "all that make a difference", "")]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        lay_out(folder)
        for words in (("run", "--max-children", "1"), ("export-cicd-stats",)):
            subprocess.run([BIN / "mutmut", *words], cwd=folder, check=True, stdout=subprocess.DEVNULL)
        results = subprocess.run(
            [BIN / "mutmut", "results"], cwd=folder, check=True, capture_output=True, text=True
        ).stdout
        for mutant in re.findall(r"(\S+): survived", results):
            subprocess.run([BIN / "mutmut", "show", mutant], cwd=folder, check=True)
        count = json.loads((folder / "mutants/mutmut-cicd-stats.json").read_text())
    killed, total = count["killed"] + count["timeout"], count["total"]
    ours = f"{killed} of {total}, {count['timeout']} of them as endless"
    return [("mutants of history/ killed", ours, "all that make a difference", f"{killed / total:.1%}")]


def main() -> None:
    """Print the row."""
    for row in rows():
        print("  ".join(row))


if __name__ == "__main__":
    main()
