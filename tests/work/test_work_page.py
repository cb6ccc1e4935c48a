"""The card as it is printed."""

import pytest

from studbook.cli.work import work_page
from studbook.wire.work import WorkRequest
from studbook_service.work.card import work_card
from work.sheets import car, demo_sheets, edited

STUDS = {"setup.front.rf.upper_stud.length_in": 1.7, "setup.front.rf.lower_stud.length_in": 1.5}


@pytest.mark.parametrize("car", ["7", "21", "12"])
def test_no_page_is_wider_than_paper_of_80_columns(car: str) -> None:
    sheets = demo_sheets()[car]
    for asked in (WorkRequest(), WorkRequest(crew=3, minutes=45, measure_later=True, contact=["rf"])):
        page = work_page(work_card(sheets[0], sheets[-1], request=asked))
        assert max(map(len, page)) <= 80
        assert not any(line.endswith("...") for line in page)


def test_each_job_has_its_box_its_times_and_its_cautions() -> None:
    card = work_card(car(), edited(STUDS), request=WorkRequest(contact=["rf"]))
    page = work_page(card)
    for job in card.jobs:
        assert sum(line.startswith(f"[ ] {job.title}  ({job.id};") for line in page) == 1
    text = " ".join(" ".join(page).split())
    cautions = {caution for job in card.jobs for caution in job.cautions}
    assert all(text.count(caution) == 1 for caution in cautions)
    assert "! as at " in text
    assert "Inspected and signed (inspect-rf): ____" in text
    assert page.index("Cautions") > page.index("Assumptions")


def test_what_is_left_out_owed_or_done_is_on_the_page_too() -> None:
    asked = WorkRequest(minutes=30, measure_later=True, done=["torque-rf"])
    page = work_page(work_card(car(), edited({**STUDS, "setup.brakes.pads": "hard"}), request=asked))
    assert "LEFT OUT" in page or "OWED, to be measured later" in page
    assert "Changed, and covered by no job: see by hand" in page
    assert "  - setup.brakes.pads: medium -> hard" in page
