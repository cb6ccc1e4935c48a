"""Cars: entered once, changed on what was seen."""

from typing import Any


async def test_a_car_is_entered_once(client: Any) -> None:
    new = {"car": "7", "name": "Old blue", "number": "7"}
    made = await client.post("/v1/cars", json=new, headers={"idempotency-key": "k1"})
    assert made.status_code == 201
    assert made.headers["location"] == "/v1/cars/7"
    again = await client.post("/v1/cars", json=new, headers={"idempotency-key": "k1"})
    assert again.status_code == 200
    assert again.json() == made.json()
    other = await client.post("/v1/cars", json=new | {"name": "New red"})
    assert (other.status_code, other.json()["code"]) == (409, "exists")
    assert [car["car"] for car in (await client.get("/v1/cars")).json()["items"]] == ["7"]
    bad = await client.post("/v1/cars", json={"car": "No. 7"})
    assert bad.status_code == 400


async def test_a_car_is_changed_on_what_was_seen(client: Any) -> None:
    made = (await client.post("/v1/cars", json={"car": "7", "name": "Old blue"})).json()
    assert (await client.patch("/v1/cars/7", json={"number": "7x"})).status_code == 428
    tag = {"if-match": f'"{made["tag"]}"'}
    changed = await client.patch("/v1/cars/7", json={"number": "7x", "retired": True}, headers=tag)
    assert changed.status_code == 200
    told = changed.json()
    assert (told["name"], told["number"], told["retired"]) == ("Old blue", "7x", True)
    assert (await client.get("/v1/cars/7")).json() == told
    stale = await client.patch("/v1/cars/7", json={"number": "8"}, headers=tag)
    assert (stale.status_code, stale.json()["tag"]) == (412, told["tag"])
    again = await client.patch("/v1/cars/7", json={"number": "7x", "retired": True}, headers=tag)
    assert (again.status_code, again.json()) == (200, told)
    none = await client.patch("/v1/cars/8", json={"number": "8"}, headers=tag)
    assert none.status_code == 404


async def test_sheets_are_listed_by_car(sheet: Any) -> None:
    await sheet.client.post("/v1/cars", json={"car": "70"})
    for path in ("/v1/cars/70/sheets/baseline", "/v1/cars/7/sheets/dry-slick"):
        await sheet.client.post(f"{path}/revisions", json={"document": {}}, headers={"if-none-match": "*"})
    items = (await sheet.client.get("/v1/cars/7/sheets")).json()["items"]
    assert [item["sheet"] for item in items] == ["baseline", "dry-slick"]
    assert items[0]["tag"] == sheet.tag
    assert (await sheet.client.get("/v1/cars/70/sheets")).json()["items"][0]["car"] == "70"
