"""`studbook serve` on an address that others reach says what it offers them; on loopback it says nothing of that."""

from ipaddress import IPv4Address
from pathlib import Path
from typing import Any

import pytest

from studbook_service.commands.serve import _print_ready
from studbook_service.settings import Settings


@pytest.mark.parametrize(
    ("host", "told"),
    [("127.0.0.1", 0), ("::1", 0), ("localhost", 0), (str(IPv4Address(0)), 1), ("::", 1), ("192.0.2.1", 1)],
)
def test_a_public_address_says_what_it_offers(capsys: Any, tmp_path: Path, host: str, told: int) -> None:
    _print_ready(Settings(data=tmp_path, host=host))
    out, err = capsys.readouterr()
    assert out == f"Studbook answers at {Settings(data=tmp_path, host=host).url}\n"
    assert err.count("\n") == told
    if told:
        assert f"every computer that reaches {host}:8710 is offered the book" in err
        assert "unencrypted" in err
