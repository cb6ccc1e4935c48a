"""The files of deploy/ under their own tools: hadolint, the Compose schema, caddy, systemd-analyze."""

import subprocess
import sys
from pathlib import Path

import pytest

DEPLOY = Path(__file__).parents[2] / "deploy"
TOOLS = Path(sys.prefix) / "bin"
CADDYFILE = ("--config", DEPLOY / "Caddyfile", "--adapter", "caddyfile")
MOST_EXPOSED = 20  # of 100: `systemd-analyze security` calls anything below 2.0 OK


@pytest.mark.parametrize(
    "command",
    [
        pytest.param((TOOLS / "hadolint", DEPLOY / "Containerfile"), id="container file"),
        pytest.param(
            (TOOLS / "check-jsonschema", "--builtin-schema", "vendor.compose-spec", DEPLOY / "compose.yaml"),
            id="composition",
        ),
        pytest.param(("caddy", "validate", *CADDYFILE), id="proxy"),
        pytest.param(
            (
                "systemd-analyze",
                "security",
                "--offline=true",
                f"--threshold={MOST_EXPOSED}",
                DEPLOY / "studbook.service",
            ),
            id="hardening",
        ),
    ],
)
def test_tool_finds_no_fault(command: tuple[str | Path, ...]) -> None:
    result = subprocess.run(command, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout + result.stderr


def test_proxy_file_is_formatted() -> None:
    file = DEPLOY / "Caddyfile"
    assert subprocess.check_output(["caddy", "fmt", file], text=True) == file.read_text(encoding="utf-8")


def test_unit_is_sound(tmp_path: Path) -> None:
    # The tool wants the program to exist, so the unit is checked with the one of this environment.
    told = (DEPLOY / "studbook.service").read_text(encoding="utf-8")
    unit = tmp_path / "studbook.service"
    unit.write_text(told.replace("/opt/studbook/bin/studbook", str(TOOLS / "studbook")), encoding="utf-8")
    result = subprocess.run(["systemd-analyze", "verify", unit], capture_output=True, text=True, check=False)
    assert (result.returncode, result.stderr) == (0, "")


def test_every_mentioned_file_exists() -> None:
    told = (DEPLOY / "README.md").read_text(encoding="utf-8")
    assert [file.name for file in DEPLOY.iterdir() if file.name != "README.md" and file.name not in told] == [
        "Containerfile.dockerignore"
    ]
