"""One holder per data folder."""

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from studbook_service.embedded import EmbeddedError, held


def test_the_second_is_told_who_holds_it(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with held(folder, address="http://127.0.0.1:8710"):
        refusal = rf"held by process {os.getpid()} at http://127\.0\.0\.1:8710, started 20"
        with pytest.raises(EmbeddedError, match=refusal), held(folder, address="elsewhere"):
            pass
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    with held(folder, address="next"):
        assert json.loads((folder / "lock").read_text(encoding="utf-8"))["address"] == "next"


def test_a_holder_not_named_yet_still_holds(tmp_path: Path) -> None:
    with held(tmp_path, address="here"):
        (tmp_path / "lock").write_text("", encoding="utf-8")
        with pytest.raises(EmbeddedError, match="held by another process"), held(tmp_path, address="elsewhere"):
            pass


def test_a_killed_holder_holds_no_more(tmp_path: Path) -> None:
    code = (
        "import os, pathlib, signal, sys\n"
        "from studbook_service.embedded import held\n"
        "with held(pathlib.Path(sys.argv[1]), address='gone'):\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    ended = subprocess.run([sys.executable, "-c", code, tmp_path], check=False)
    assert ended.returncode == -9
    with held(tmp_path, address="next"):
        pass
