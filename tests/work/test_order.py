"""What comes before what, what never goes on at once, and what brings what: common practice, no source."""

import itertools
from collections.abc import Iterable

import pytest

from studbook_service.work.difference import difference
from studbook_service.work.items import Item
from studbook_service.work.job_spec import Stage
from studbook_service.work.jobs import CHANGE_JOBS, CHECKS, JOB_KINDS
from studbook_service.work.order import comes_before, inspections, kept_apart, with_checks
from work.sheets import car, edited

RF, LF = "setup.front.rf", "setup.front.lf"
RR, LR = "setup.rear.rr", "setup.rear.lr"
EVERYTHING = {
    f"{RF}.upper_stud.length_in": 1.7,
    f"{RF}.upper_shims.front_in": 0.3,
    f"{RF}.tie_rod.length_in": 15.1,
    f"{RF}.tie_rod.outer_spacer_in": 0.375,
    f"{RF}.spring.perch.thread_showing_in": 2.6,
    f"{LF}.lower_stud.length_in": 1.5,
    f"{LF}.spring.rate_lb_per_in": 425,
    f"{LR}.tire.compound": "hard",
    f"{LR}.spring.perch.thread_showing_in": 2.6,
    f"{RR}.spring.rate_lb_per_in": 250,
    f"{RR}.tire.pressure_cold_psi": 9,
    "setup.rear.rods.left_upper.chassis_hole": "3 of 4",
    "setup.drivetrain.spur_ratio": 1.29,
    "setup.front.bar.preload_turns": 2,
    "setup.brakes.front_share_percent": 60,
}


def card(*edits: str, contact: Iterable[str] = ()) -> dict[str, Item]:
    changed = difference(car(), edited({path: EVERYTHING[path] for path in edits or EVERYTHING})).items
    return {item.id: item for item in with_checks([*inspections(list(contact)), *changed])}


@pytest.mark.parametrize(
    ("path", "brought"),
    [
        (f"{RF}.upper_stud.length_in", "camber-rf toe bump-steer-rf swing-rf torque-rf"),
        (f"{LF}.lower_stud.length_in", "camber-lf toe bump-steer-lf swing-lf torque-lf heights scales"),
        (f"{RF}.upper_shims.front_in", "camber-rf toe"),
        (f"{RF}.tie_rod.length_in", "toe swing-rf"),
        (f"{RF}.tie_rod.outer_spacer_in", "toe bump-steer-rf torque-rf swing-rf"),
        (f"{RF}.spring.perch.thread_showing_in", "heights scales"),
        (f"{LF}.spring.rate_lb_per_in", "camber-lf toe heights scales torque-lf"),
        (f"{RR}.spring.rate_lb_per_in", "heights scales torque-rr"),
        (f"{LR}.tire.compound", "stagger torque-lr"),
        (f"{RR}.tire.pressure_cold_psi", "stagger"),
        ("setup.front.bar.preload_turns", "scales"),
        ("setup.drivetrain.spur_ratio", ""),
    ],
)
def test_what_each_job_brings(path: str, brought: str) -> None:
    assert {item.id for item in card(path).values() if not item.change} == set(brought.split())


def test_another_size_of_tire_brings_heights_and_scales() -> None:
    size = {f"{LR}.tire.compound": "hard", f"{LR}.tire.rollout_in": 88}
    checks = {item.id for item in with_checks(difference(car(), edited(size)).items) if not item.change}
    assert checks == {"stagger", "heights", "scales", "torque-lr"}
    alone = {item.id for item in with_checks(difference(car(), edited({f"{LR}.tire.rollout_in": 88})).items)}
    assert alone == {"stagger", "heights", "scales"}


def test_every_wheel_that_comes_off_is_torqued() -> None:
    for kind in JOB_KINDS.values():
        assert ("wheel_torque" in kind.brings) is (kind.lifts and kind is not JOB_KINDS["swing"])
        assert not (kind.wheels_on and kind.lifts)


def test_a_check_says_what_brought_it() -> None:
    assert card()["toe"].because == (
        "bump-spacer-rf",
        "shims-rf",
        "spring-lf",
        "stud-lf-lower",
        "stud-rf-upper",
        "tie-rod-rf",
    )


def test_the_order() -> None:
    jobs = card(contact=["rf"])

    def first(one: str, other: str) -> bool:
        return comes_before(jobs[one], jobs[other])

    chain = "inspect-rf stud-rf-upper perch-rf heights shims-rf camber-rf tie-rod-rf toe bump-steer-rf swing-rf scales"
    order = [*chain.split(), "torque-rf"]
    assert all(first(one, other) for one, other in itertools.combinations(order, 2))
    assert not any(first(other, one) for one, other in itertools.combinations(order, 2))
    assert all(first(one, "toe") for one in ("camber-rf", "camber-lf", "shims-rf"))
    assert first("tire-lr", "pressures")
    assert first("pressures", "stagger")
    assert all(first(one, "heights") for one in ("stagger", "tire-lr", "spring-rr", "perch-lr"))
    assert not first("tire-lr", "perch-lr")
    assert not first("spring-rr", "spring-lf")
    assert first("bar-front", "scales")
    assert first("heights", "bar-front")


def test_never_at_once() -> None:
    jobs = card(contact=["rf"])

    def apart(one: str, other: str, *, on_stands: bool = False) -> bool:
        both = {kept_apart(jobs[a], jobs[b], on_stands=on_stands) for a, b in ((one, other), (other, one))}
        assert len(both) == 1
        return both.pop()

    assert apart("stud-rf-upper", "bump-spacer-rf", on_stands=True)  # one corner
    assert apart("stud-rf-upper", "spring-rr")  # both ends lifted
    assert not apart("stud-rf-upper", "spring-rr", on_stands=True)
    assert not apart("stud-rf-upper", "spring-lf")  # one end
    assert apart("stud-rf-upper", "rod-left_upper")  # somebody under the car
    assert not apart("stud-rf-upper", "gear")  # front corner beside rear gear
    assert apart("perch-rf", "perch-lr")  # left and right perch
    assert not apart("perch-rf", "perch-lr", on_stands=True)
    assert apart("camber-rf", "spring-rr")  # a reading of the car as it stands
    for alone in ("heights", "scales", "toe"):
        assert all(apart(alone, other, on_stands=True) for other in jobs if other != alone)


def test_an_order_that_no_two_jobs_can_disagree_about() -> None:
    """Where one is before another it is never after it, and the card lists it first."""
    jobs = list(card(contact=["rf", "lr"]).values())
    for earlier, later in itertools.combinations(jobs, 2):
        assert not comes_before(later, earlier)


def test_the_table_holds_together() -> None:
    assert set(CHANGE_JOBS) & set(CHECKS) == set()
    for kind in JOB_KINDS.values():
        assert set(kind.brings) <= set(CHECKS)
        assert kind.minutes > 0
        assert 1 <= kind.people <= 2
    assert all(kind.stage > Stage.PERCHES or kind.stage in {Stage.INSPECT, Stage.STAGGER} for kind in CHECKS.values())
    stud, lower = JOB_KINDS["upper_stud"], JOB_KINDS["lower_stud"]
    read = JOB_KINDS["camber_gauge"].minutes + JOB_KINDS["toe_check"].minutes
    assert (stud.minutes + read, lower.minutes + read) == (22, 28)
    assert JOB_KINDS["tie_rod"].minutes + JOB_KINDS["toe_check"].minutes == 8


def test_tools_and_rechecks_are_words_of_the_trade() -> None:
    read_aloud = [text for kind in JOB_KINDS.values() for text in (kind.title, *kind.tools, *kind.rechecks)]
    assert [text for text in read_aloud if "_" in text] == []
