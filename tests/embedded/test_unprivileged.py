"""Stepping down from root."""

import os

import pytest

from studbook_service.embedded import EmbeddedError
from studbook_service.embedded import unprivileged as module
from studbook_service.embedded.unprivileged import Unprivileged, unprivileged


def test_an_ordinary_user_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1234)
    assert unprivileged() == Unprivileged((), None)


def test_a_namespace_is_tried_before_another_user(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    works = {"unshare", "setpriv"}
    monkeypatch.setattr(module, "_runs", lambda prefix: prefix[0] in works)
    assert unprivileged().prefix[:2] == ("unshare", "--user")
    assert unprivileged().owner is None  # files keep theirs
    works.remove("unshare")
    user = unprivileged()
    assert user.prefix[0] == "setpriv"
    assert user.owner is not None
    assert f"--reuid={user.owner[0]}" in user.prefix
    works.remove("setpriv")
    with pytest.raises(EmbeddedError, match="run as an ordinary user, or give --database"):
        unprivileged()


def test_a_missing_program_is_no_way_down() -> None:
    assert not module._runs(("no-such-program-here",))
    assert not module._runs(("false",))
    assert module._runs(("env",))
