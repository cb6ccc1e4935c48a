"""Settings from the environment."""

from pathlib import Path

import pytest

from studbook_service.settings import BadSetting, Settings


def test_without_an_environment() -> None:
    settings = Settings.from_environment({})
    assert settings == Settings(data=Path.home() / ".local/share/studbook")
    assert (settings.url, settings.database, settings.postgres_bin) == ("http://127.0.0.1:8710", None, None)


def test_each_variable() -> None:
    settings = Settings.from_environment(
        {
            "STUDBOOK_DATA": "/srv/book",
            "STUDBOOK_DATABASE": "postgresql:///x",
            "STUDBOOK_HOST": "::1",
            "STUDBOOK_PORT": "9",
            "STUDBOOK_POSTGRES_BIN": "/opt/pg/bin",
            "STUDBOOK_RATE": "0",
            "STUDBOOK_PROXIES": "10.0.0.0/8, 192.0.2.7",
            "STUDBOOK_BACKGROUND": "off",
        }
    )
    assert settings == Settings(
        data=Path("/srv/book"),
        database="postgresql:///x",
        host="::1",
        port=9,
        postgres_bin=Path("/opt/pg/bin"),
        rate=0,
        proxies=("10.0.0.0/8", "192.0.2.7"),
        background=False,
    )
    assert settings.url == "http://[::1]:9"


def test_an_empty_variable_is_unset() -> None:
    assert Settings.from_environment({"STUDBOOK_DATABASE": "", "STUDBOOK_DATA": "", "XDG_DATA_HOME": "/x"}) == Settings(
        data=Path("/x/studbook")
    )
    assert Settings.from_environment({"XDG_DATA_HOME": "relative"}).data == Path.home() / ".local/share/studbook"


@pytest.mark.parametrize("port", ["0", "65536", "-1", "http", "8710.0", "١"])
def test_a_port_is_a_port(port: str) -> None:
    with pytest.raises(BadSetting, match="no TCP port"):
        Settings.from_environment({"STUDBOOK_PORT": port})


@pytest.mark.parametrize("rate", ["-1", "1.5", "many", "1000000", "٥"])
def test_a_rate_is_a_number_of_requests(rate: str) -> None:
    with pytest.raises(BadSetting, match="no number of requests"):
        Settings.from_environment({"STUDBOOK_RATE": rate})


@pytest.mark.parametrize("switch", ["no", "0", "ON", "true"])
def test_the_background_worker_is_on_or_off(switch: str) -> None:
    with pytest.raises(BadSetting, match="on or off"):
        Settings.from_environment({"STUDBOOK_BACKGROUND": switch})
