"""Several record at one moment what cannot all be: each is judged by what the others recorded. All is invented."""

import asyncio
import random
from collections import Counter
from typing import Any

import httpx2
import pytest

from studbook_service.night.times import moment_ms
from studbook_service.night.whereabouts import DatedRecord, whereabouts
from studbook_service.store import BookMoved, BookStore

Json = dict[str, Any]
CARS = [str(number) for number in range(2, 8)]
ROUNDS = 12


async def enter(client: httpx2.AsyncClient, path: str, name: str, document: Json) -> int:
    answer = await client.post(path, json={"name": name, "document": document})
    assert answer.status_code in (201, 422), answer.text
    return answer.status_code


async def fit(client: httpx2.AsyncClient, part: str, car: str, *, at: str = "16:10", number: int = 1) -> int:
    """Fit a part to a car; each fitting has a line of its own."""
    place = {"where": "car", "car": car, "corner": "rf", "slot": "upper_stud"}
    document = {"what": "fitted", "at": f"2026-05-02T{at}Z", "place": place}
    return await enter(client, "/v1/shop-records", f"{part}/2026-05-02-fitted-{number}", document)


@pytest.fixture
async def garage(client: httpx2.AsyncClient) -> httpx2.AsyncClient:
    """A book with some cars."""
    for car in CARS:
        assert (await client.post("/v1/cars", json={"car": car})).status_code == 201
    return client


async def test_two_at_one_moment_never_both_fit_a_part(garage: httpx2.AsyncClient) -> None:
    for number in range(ROUNDS):
        part = f"s-{number}"
        await enter(garage, "/v1/parts", part, {"kind": "stud"})
        ended = await asyncio.gather(fit(garage, part, "2", number=1), fit(garage, part, "3", number=2))
        assert sorted(ended) == [201, 422]
    shelf = (await garage.get("/v1/shelf")).json()["items"]
    assert {(each["part"], len(each["places"])) for each in shelf} == {(f"s-{number}", 1) for number in range(ROUNDS)}


@pytest.mark.parametrize("count", range(2, 7))
async def test_of_many_fittings_of_one_part_exactly_one_stands(garage: httpx2.AsyncClient, count: int) -> None:
    await enter(garage, "/v1/parts", "s-1", {"kind": "stud"})
    ended = await asyncio.gather(*(fit(garage, "s-1", car, number=int(car)) for car in CARS[:count]))
    assert Counter(ended) == {201: 1, 422: count - 1}


@pytest.mark.parametrize("seed", range(3))
async def test_whatever_is_recorded_at_once_no_part_is_on_two_cars(garage: httpx2.AsyncClient, seed: int) -> None:
    dice = random.Random(seed)  # noqa: S311 - reproducible cases, no secret
    parts = ["s-1", "s-2"]
    for part in parts:
        await enter(garage, "/v1/parts", part, {"kind": "stud"})

    async def something(number: int) -> int:
        part, at = dice.choice(parts), f"{dice.randrange(10, 20)}:{dice.randrange(10, 60)}"
        if dice.random() < 0.6:
            return await fit(garage, part, dice.choice(CARS), at=at, number=number)
        document = {"what": "removed", "at": f"2026-05-02T{at}Z", "place": {"where": "shelf"}}
        return await enter(garage, "/v1/shop-records", f"{part}/2026-05-02-removed-{number}", document)

    for first in range(0, 24, 6):
        await asyncio.gather(*(something(number) for number in range(first, first + 6)))
    items = (await garage.get("/v1/shop-records", params={"limit": 100})).json()["items"]
    assert {part for part in parts if any(each["name"].startswith(part) for each in items)} == set(parts)
    for part in parts:
        told = [
            DatedRecord(name=each["name"], tip="", at_ms=moment_ms(each["document"]["at"]) or 0, body=each["document"])
            for each in items
            if each["name"].startswith(f"{part}/")
        ]
        assert whereabouts(told).clashes == []
    assert not any("flags" in each for each in items)


async def test_what_can_all_be_is_all_recorded(garage: httpx2.AsyncClient) -> None:
    await enter(garage, "/v1/parts", "j-1", {"kind": "joint"})
    reading = {"what": "preload", "at": "2026-05-02T16:00Z", "preload": {"basis": "running", "torque_in_lb": 10}}
    names = [f"j-1/2026-05-02-preload-{number}" for number in range(1, 9)]
    ended = await asyncio.gather(*(enter(garage, "/v1/shop-records", name, reading) for name in names))
    assert ended == [201] * len(names)


async def test_where_others_never_rest_it_ends_as_busy(
    garage: httpx2.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = 0

    async def push(*_: object, **__: object) -> None:
        nonlocal tries
        tries += 1
        raise BookMoved("meanwhile")

    await enter(garage, "/v1/parts", "s-1", {"kind": "stud"})
    monkeypatch.setattr(BookStore, "push", push)
    document = {"what": "removed", "at": "2026-05-02T16:00Z", "place": {"where": "shelf"}}
    answer = await garage.post("/v1/shop-records", json={"name": "s-1/2026-05-02-removed-1", "document": document})
    assert (answer.status_code, answer.json()["code"], tries) == (503, "busy", 10)
    assert answer.headers["retry-after"] == "1"
