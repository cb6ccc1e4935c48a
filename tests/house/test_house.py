"""The house in order: format, lint, types, floors, size, top level. One test run checks them all."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BIN = Path(sys.executable).parent
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "client", "tests", "deploy", "openapi"}
LONGEST = 500


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "format", "--check", "."),
        ("ruff", "check", "."),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=["format", "lint", "types", "floors"],
)
def test_tools_are_content(command: tuple[str, ...]) -> None:
    run = subprocess.run([BIN / command[0], *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr


def tracked() -> list[Path]:
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return [Path(name) for name in names.splitlines()]


def test_nothing_else_stands_at_the_top() -> None:
    tops = {path.parts[0] for path in tracked()}
    assert {top for top in tops if not top.startswith(".")} == TOP_LEVEL


def test_no_file_grows_into_a_mountain() -> None:
    code = [path for path in tracked() if path.suffix in {".py", ".sql"}]
    long = {str(path): count for path in code if (count := len((ROOT / path).read_text().splitlines())) > LONGEST}
    assert long == {}


def test_the_readme_gives_the_command_that_checks_this() -> None:
    readme = (ROOT / "README.md").read_text()
    assert "pytest" in readme
    assert "studbook demo" in readme
