"""What a user's type checker sees of both clients: `using.py` is checked by two of them, in their strict modes."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

BIN = Path(sys.executable).parent
SCRIPT = Path(__file__).with_name("using.py")


def mypy(script: Path, folder: Path) -> list[str]:
    config = folder / "mypy.ini"
    config.write_text("[mypy]\nstrict = true\n")
    return [str(BIN / "mypy"), "--config-file", str(config), "--cache-dir", str(folder), str(script)]


def pyright(script: Path, folder: Path) -> list[str]:
    project = folder / "pyrightconfig.json"
    project.write_text(json.dumps({"typeCheckingMode": "strict", "include": [str(script)]}))
    return [str(BIN / "basedpyright"), "--project", str(project), "--pythonpath", sys.executable]


WRONG = {
    "assert_type(book.cars(), list[Car])": "assert_type(book.cars(), list[Sheet])",
    'assert_type(await book.sheet("7/baseline"), Sheet)': 'assert_type(await book.sheet("7/baseline"), Any)',
}


@pytest.mark.parametrize(("checker", "rule"), [(mypy, "[assert-type]"), (pyright, "(reportAssertTypeFailure)")])
def test_a_users_script_is_typed(checker: Callable[[Path, Path], list[str]], rule: str, tmp_path: Path) -> None:
    right = subprocess.run(checker(SCRIPT, tmp_path), capture_output=True, text=True, check=False)
    assert right.returncode == 0, right.stdout + right.stderr
    # The checker sees the types: another one is found, and so is `Any`.
    text = SCRIPT.read_text()
    for line, wrong in WRONG.items():
        assert line in text
        text = text.replace(line, wrong)
    script = tmp_path / "wrong.py"
    script.write_text(text)
    found = subprocess.run(checker(script, tmp_path), capture_output=True, text=True, check=False)
    assert found.stdout.count(rule) == len(WRONG), found.stdout + found.stderr
