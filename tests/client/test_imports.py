"""What an import brings along: no transport, no asyncio, no engine. Proven by the modules loaded, not by a clock."""

import subprocess
import sys

import pytest

HEAVY = ("httpx2", "asyncio", "numpy", "cyclopts", "ssl", "studbook_service")


def loaded_after(program: str) -> set[str]:
    told = "import sys; print(*sorted(sys.modules), sep='\\n')"
    run = subprocess.run([sys.executable, "-c", f"{program}\n{told}"], capture_output=True, text=True, check=True)
    return set(run.stdout.split())


@pytest.mark.parametrize(
    "program", ["import studbook", "import studbook; studbook.Studbook('http://127.0.0.1:1', 't').close()"]
)
def test_the_transport_comes_with_the_first_call(program: str) -> None:
    before = loaded_after("pass")
    assert [name for name in HEAVY if name in loaded_after(program) - before] == []


def test_import_alone_loads_no_setup_structs() -> None:
    assert "studbook.wire.setup" not in loaded_after("import studbook")


def test_every_public_name_is_there() -> None:
    import studbook  # noqa: PLC0415 - its names are read one by one

    assert all(getattr(studbook, name) is not None for name in studbook.__all__)
    with pytest.raises(AttributeError, match="no attribute 'Book'"):
        _ = studbook.Book
