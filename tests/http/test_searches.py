"""Searches over HTTP: computed in a process of their own, which reads never wait for. All numbers are invented."""

import asyncio
import os
import signal
import subprocess
import sys
import time
from functools import partial
from operator import mul, truediv
from pathlib import Path
from typing import Any

import pytest

from studbook_service.actions import search_process

STUDS = [{"joint": "upper", "length_in": 1.7}]
TARGET = [[-2, -1.5], [0, -4], [2, -7.2]]


def wanted(sheet: Any, **more: Any) -> dict[str, Any]:
    return {"revision": sheet.id[:10], "corner": "rf", "camber_target": TARGET, "studs": STUDS} | more


async def test_studs_for_a_camber_curve(sheet: Any, book: Any, team: Any) -> None:
    before = await book.team_head(team.team)
    found = await sheet.client.post("/v1/searches/studs", json=wanted(sheet, keep_count=2, roll_center_in=[3, 5]))
    assert found.status_code == 200, found.text
    answer = found.json()
    assert answer["revision"] == sheet.id
    assert answer["ranked"][0]["outcome"]["camber_off_deg"] < answer["now"]["camber_off_deg"]
    counts = answer["counts"]
    assert counts["total_count"] == counts["fitting_count"] + sum(each["count"] for each in counts["excluded"])
    assert await book.team_head(team.team) == before


async def test_a_car_carried_over_to_itself_stays_as_it_is(sheet: Any) -> None:
    asked = {"source": sheet.id, "revision": sheet.id, "studs": STUDS, "shims_within_in": 0.125}
    found = await sheet.client.post("/v1/searches/carry-over", json=asked)
    assert found.status_code == 200, found.text
    (plan,) = found.json()["ranked"]
    assert (plan["parts_changed_count"], plan["lf"]["todo"], plan["rf"]["todo"]) == (0, [], [])


@pytest.mark.parametrize(
    ("more", "status", "code"),
    [
        ({"revision": "abcdef"}, 404, "not_found"),
        ({"roll_center_in": [5, 3]}, 400, "bad_request"),
        ({"most_count": 100}, 422, "too_costly"),
        ({"camber_target": [[0, 40]]}, 400, "bad_request"),
        ({"studs": [{"joint": "upper", "length_in": 43}]}, 400, "bad_request"),
        ({"inventory": "shelf"}, 400, "bad_request"),
    ],
)
async def test_what_cannot_be_searched(sheet: Any, more: dict[str, Any], status: int, code: str) -> None:
    refused = await sheet.client.post("/v1/searches/studs", json=wanted(sheet, **more))
    assert (refused.status_code, refused.json()["code"]) == (status, code)


async def test_a_thin_document_gets_the_list_of_what_is_missing(sheet: Any) -> None:
    thin = (await sheet.push({"document": {"notes": "thin"}})).json()["revision"]["id"]
    refused = await sheet.client.post("/v1/searches/studs", json=wanted(sheet, revision=thin))
    assert (refused.status_code, refused.json()["code"]) == (422, "fields_missing")
    assert "survey.front.rf.points.upper_ball_in" in {fault["path"] for fault in refused.json()["errors"]}


async def test_reads_and_answers_do_not_wait_for_a_search(sheet: Any, own_context: Any) -> None:
    """With a search under way and the queue full, another search is busy and all else goes on."""
    long = partial(time.sleep, 60)
    waiting = [asyncio.create_task(own_context.search_process.run(long, within_s=60)) for _ in range(3)]
    await asyncio.sleep(0)
    busy = await sheet.client.post("/v1/searches/studs", json=wanted(sheet))
    assert (busy.status_code, busy.json()["code"]) == (503, "busy")
    assert busy.headers["retry-after"] == "1"
    for path in ("/livez", f"/v1/revisions/{sheet.id}/document", f"/v1/revisions/{sheet.id}/front"):
        assert (await sheet.client.get(path)).status_code == 200
    assert not any(task.done() for task in waiting)
    own_context.search_process.close()
    ended = await asyncio.gather(*waiting, return_exceptions=True)
    assert all(isinstance(each, BaseException) for each in ended)


async def test_a_search_process_that_dies_is_replaced(own_context: Any) -> None:
    searches = own_context.search_process
    assert await searches.run(partial(mul, 6, 7), within_s=1) == 42
    pid = await searches.run(os.getpid, within_s=1)
    assert pid != os.getpid()
    under_way = asyncio.create_task(searches.run(partial(time.sleep, 60), within_s=60))
    await asyncio.sleep(0.1)
    os.kill(pid, signal.SIGKILL)
    with pytest.raises(Exception, match="did not come to its end"):
        await under_way
    with pytest.raises(ZeroDivisionError):
        await searches.run(partial(truediv, 1, 0), within_s=1)
    assert await searches.run(os.getpid, within_s=1) not in {pid, os.getpid()}


async def test_a_search_that_takes_much_too_long_is_ended(own_context: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(search_process, "GRACE_S", 0.1)
        with pytest.raises(Exception, match="did not come to its end"):
            await own_context.search_process.run(partial(time.sleep, 60), within_s=0.1)
    assert await own_context.search_process.run(partial(mul, 6, 7), within_s=1) == 42


KILLED = """
import asyncio, os, signal
from studbook_service.actions.search_process import SearchProcess

if __name__ == "__main__":
    print(asyncio.run(SearchProcess().run(os.getpid, within_s=1)), flush=True)
    os.kill(os.getpid(), signal.SIGKILL)
"""


def test_nothing_is_left_behind_by_a_service_that_is_killed(tmp_path: Path) -> None:
    """The output is read to its end: that comes when the last process that holds it has ended."""
    script = tmp_path / "killed.py"
    script.write_text(KILLED)
    ended = subprocess.run([sys.executable, script], stdout=subprocess.PIPE, timeout=60, check=False)
    assert ended.returncode == -signal.SIGKILL
    assert int(ended.stdout) > 0
