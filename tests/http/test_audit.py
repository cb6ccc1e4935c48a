"""The record of every change of access: complete, in order, chained, and without names or tokens."""

from hashlib import sha256
from typing import Any

from studbook.history.canonical import encode


async def test_every_change_is_recorded_in_its_order(client: Any, sheet: Any, join: Any, shared_with: Any) -> None:
    robin = await join("Robin", days=7)
    token = sha256(robin.token.encode()).hexdigest()[:12]
    share = await shared_with("7", "baseline")
    await client.put(f"{sheet.path}/protection")
    await client.delete(f"{sheet.path}/protection")
    await client.delete(f"/v1/shares/{share.id}")
    await client.patch(f"/v1/members/{robin.id}", json={"name": "Robin K.", "role": "viewer"})
    await client.delete(f"/v1/tokens/{token}")
    await client.patch(f"/v1/members/{robin.id}", json={"ended": True})
    lines = (await client.get("/v1/audit")).json()["items"]
    line = "car/7/sheet/baseline"
    assert [(each["action"], each["subject"]) for each in lines[1:]] == [
        ("member.add", robin.id),
        ("token.make", token),
        ("share.make", share.id),
        ("protection.on", line),
        ("protection.off", line),
        ("share.end", share.id),
        ("member.change", robin.id),
        ("token.end", token),
        ("member.end", robin.id),
    ]
    assert (lines[0]["action"], lines[0]["actor"]) == ("team.found", "owner")
    assert {each["actor"] for each in lines[1:]} == {"chief"}
    assert [each["seq"] for each in lines] == list(range(1, 11))
    assert lines[2]["detail"]["member"] == robin.id
    assert lines[3]["detail"]["line"] == line
    assert lines[7]["detail"] == {"renamed": True, "role": "viewer"}
    text = (await client.get("/v1/audit")).text
    for hidden in ("Robin", "Lee", robin.token[4:], share.token[4:]):
        assert hidden not in text


async def test_whoever_reads_it_can_verify_the_chain(client: Any, join: Any) -> None:
    """Recomputed from the answer alone, by the rule in `AuditLine`."""
    await join("Robin")
    chain = bytes(32)
    for each in (await client.get("/v1/audit")).json()["items"]:
        told = {key: each[key] for key in ("action", "actor", "subject")} | {"at": milliseconds(each["at"])}
        if "detail" in each:
            told["detail"] = each["detail"]
        chain = sha256(chain + encode(told)).digest()
        assert each["chain"] == chain.hex()


async def test_pages_meet_end_to_end(client: Any, join: Any) -> None:
    for name in ("Robin", "Ada"):
        await join(name)
    whole = (await client.get("/v1/audit")).json()["items"]
    pages, after = [], 0
    while after is not None:
        page = (await client.get(f"/v1/audit?after={after}&limit=2")).json()
        pages += page["items"]
        after = page.get("next")
    assert pages == whole
    assert (await client.get(f"/v1/audit?after={whole[-1]['seq']}")).json() == {"items": []}


async def test_what_does_not_fit_is_named(client: Any) -> None:
    for query, name, said in [
        ("after=-1", "after", "-1 is below the least accepted, 0"),
        ("limit=0", "limit", "0 is below the least accepted, 1"),
        ("limit=501", "limit", "501 is above the most accepted, 500"),
        ("after=x", "after", "'x' is not a whole number"),
        ("since=3", "since", "unknown"),
    ]:
        refused = await client.get(f"/v1/audit?{query}")
        assert refused.status_code == 400
        (fault,) = refused.json()["errors"]
        assert (fault["pointer"], said in fault["detail"]) == (name, True), fault


def milliseconds(at: str) -> int:
    import datetime as dt  # noqa: PLC0415 - here alone

    return (dt.datetime.fromisoformat(at) - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(milliseconds=1)
