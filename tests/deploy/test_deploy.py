"""The files of deploy/ under their own tools: hadolint, the Compose schema, caddy, systemd-analyze.

The first two come with the development environment; the others are used where the machine has them, as the checks of
every commit do. The header says which were found.
"""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

DEPLOY = Path(__file__).parents[2] / "deploy"
TOOLS = Path(sys.prefix) / "bin"
CADDYFILE = ("--config", DEPLOY / "Caddyfile", "--adapter", "caddyfile")
UNIT = DEPLOY / "studbook.service"
MOST_EXPOSED = 20  # of 100: `systemd-analyze security` calls anything below 2.0 OK

LINTS: dict[str, tuple[str | Path, ...]] = {
    "container file": (TOOLS / "hadolint", DEPLOY / "Containerfile"),
    "composition": (
        *(TOOLS / "check-jsonschema", "--builtin-schema", "vendor.compose-spec"),
        DEPLOY / "compose.yaml",
    ),
    "proxy": ("caddy", "validate", *CADDYFILE),
    "proxy's format": ("caddy", "fmt", DEPLOY / "Caddyfile"),
    "hardening": ("systemd-analyze", "security", "--offline=true", f"--threshold={MOST_EXPOSED}", UNIT),
    "unit": ("systemd-analyze", "verify", UNIT),
}


@pytest.mark.parametrize("lint", [name for name, command in LINTS.items() if shutil.which(command[0])])
def test_tool_finds_no_fault(lint: str, tmp_path: Path) -> None:
    command = LINTS[lint]
    if lint == "unit":
        # The tool wants the program to exist, so the unit is checked with the one of this environment.
        unit = tmp_path / UNIT.name
        unit.write_text(UNIT.read_text().replace("/opt/studbook/bin/studbook", str(TOOLS / "studbook")))
        command = (*command[:-1], unit)
    result = subprocess.run(command, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout + result.stderr
    if lint == "proxy's format":
        assert result.stdout == (DEPLOY / "Caddyfile").read_text()
    if lint == "unit":
        assert result.stderr == ""


def test_every_mentioned_file_exists() -> None:
    page = (DEPLOY / "README.md").read_text(encoding="utf-8")
    assert [file.name for file in DEPLOY.iterdir() if file.name != "README.md" and file.name not in page] == [
        "Containerfile.dockerignore"
    ]
