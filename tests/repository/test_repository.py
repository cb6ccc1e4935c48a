"""The repository in order: format, lint, types, floors, sizes, names, spelling. One test run checks them all."""

import ast
import builtins
import re
import subprocess
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BIN = Path(sys.executable).parent
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "client", "tests", "deploy", "openapi"}
LONGEST = 500
LARGEST_DEVELOPERS_BYTES = 12_000
GLOSSARY_MOST = 25
BRITISH = re.compile(
    r"tyre|centre|centring|colour|behaviour|favour|honour|harbour|labour|neighbour|fibre|metres?\b|catalogue|licence"
    r"|modell|travell|levell|labell|(?<!\.)cancelled\b|organis|recognis|normalis|initialis|serialis|spelt\b|grey\b"
    r"|kerb\b|spanners\b|whilst|afterwards\b|towards\b|aluminium",
    re.IGNORECASE,
)


@cache
def tracked() -> tuple[Path, ...]:
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return tuple(path for name in names.splitlines() if (path := Path(name)) and (ROOT / path).exists())


def product_code() -> list[Path]:
    return [path for path in tracked() if path.suffix == ".py" and path.parts[1:2] == ("src",)]


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
def test_tools_find_nothing(command: tuple[str, ...]) -> None:
    run = subprocess.run([BIN / command[0], *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr


def test_top_level_holds_only_what_was_agreed() -> None:
    tops = {path.parts[0] for path in tracked()}
    assert {top for top in tops if not top.startswith(".")} == TOP_LEVEL


def test_no_file_is_longer_than_the_limit() -> None:
    code = [path for path in tracked() if path.suffix in {".py", ".sql"}]
    long = {str(path): count for path in code if (count := len((ROOT / path).read_text().splitlines())) > LONGEST}
    assert long == {}


def test_no_two_classes_share_a_name() -> None:
    where = defaultdict(list)
    for path in product_code():
        for node in ast.parse((ROOT / path).read_text()).body:
            if isinstance(node, ast.ClassDef):
                where[node.name].append(str(path))
    assert {name: paths for name, paths in where.items() if len(paths) > 1} == {}


def test_every_error_that_a_docstring_names_exists() -> None:
    trees = {path: list(ast.walk(ast.parse((ROOT / path).read_text()))) for path in product_code()}
    known = {node.name for nodes in trees.values() for node in nodes if isinstance(node, ast.ClassDef)}
    unknown: dict[str, str] = {}
    named = 0
    for path, nodes in trees.items():
        for node in nodes:
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef | ast.Module):
                continue
            section = re.search(r"^Raises:\n((?: .*\n?|\n)+)", ast.get_docstring(node) or "", re.MULTILINE)
            for names in re.findall(r"^ {4}(\w[^:]*):", section[1], re.MULTILINE) if section else ():
                named += 1
                unknown |= {
                    name: str(path) for name in names.split(", ") if name not in known and not hasattr(builtins, name)
                }
    assert named > 200
    assert unknown == {}


def test_spelling_is_american() -> None:
    british: dict[str, str] = {}
    for path in tracked():
        if "pages" in path.parts or path == Path(__file__).relative_to(ROOT):
            continue  # pages/ holds another project's files as they are
        try:
            lines = (ROOT / path).read_text().splitlines()
        except UnicodeDecodeError:
            continue
        british |= {f"{path}:{number}": line for number, line in enumerate(lines, 1) if BRITISH.search(line)}
    assert british == {}


def test_documents_stay_short() -> None:
    developers = (ROOT / "DEVELOPERS.md").read_text()
    assert len(developers.encode()) < LARGEST_DEVELOPERS_BYTES
    glossary = developers.partition("## Glossary")[2].partition("\n## ")[0]
    assert 0 < len(re.findall(r"^- \*\*", glossary, re.MULTILINE)) <= GLOSSARY_MOST


def test_the_readme_gives_the_command_that_checks_this() -> None:
    readme = (ROOT / "README.md").read_text()
    assert "pytest" in readme
    assert "studbook demo" in readme
