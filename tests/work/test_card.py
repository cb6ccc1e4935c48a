"""The whole card. Minutes are the table's, common practice with no source; sums are done by hand beside each test."""

import itertools
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import UNSET

from laws.documents import EDITS, Edits, changed, demo_documents
from present import present
from studbook.history.canonical import Tree
from studbook.history.changes import diff
from studbook.history.leaves import dotted
from studbook.wire.shop import JobTimes
from studbook.wire.work import Job, WorkCard, WorkRequest
from studbook_service.translate.errors import FieldsUnfit
from studbook_service.work.card import work_card
from studbook_service.work.request_checks import RequestUnfitError
from work.sheets import car, demo_sheets, edited

RF, LF = "setup.front.rf", "setup.front.lf"
RR, LR = "setup.rear.rr", "setup.rear.lr"
STUD = {f"{RF}.upper_stud.length_in": 1.7, f"{RF}.upper_stud.part": "u-rf-2"}
SPRING = {f"{RR}.spring.rate_lb_per_in": 250, f"{RR}.spring.part": "250 x 12"}
GEAR = {"setup.drivetrain.spur_ratio": 1.29}
BIAS = {"setup.brakes.front_share_percent": 60}


def made(edits: dict[str, Any], /, *, back: bool = False, **asked: Any) -> WorkCard:
    sides = (edited(edits), car()) if back else (car(), edited(edits))
    return work_card(*sides, request=WorkRequest(**asked), back=back)


def job(card: WorkCard, id_: str) -> Job:
    return next(each for each in card.jobs if each.id == id_)


def states(card: WorkCard) -> dict[str, str]:
    return {each.id: each.state for each in card.jobs}


def test_a_stud_alone() -> None:
    """14 for the stud, 3 camber, 5 toe, 15 bump sheet, 4 swing, 2 torque: nobody can help, so 43."""
    card = made(STUD)
    times = [(each.id, each.begin_min, each.end_min) for each in card.jobs]
    assert times == [
        ("stud-rf-upper", 0, 14),
        ("camber-rf", 14, 17),
        ("toe", 17, 22),
        ("bump-steer-rf", 22, 37),
        ("swing-rf", 37, 41),
        ("torque-rf", 41, 43),
    ]
    assert (card.finish_min, card.bound_min, card.optimal, card.everything_fits) == (43, 43, True, True)
    assert card.headline[0] == "For Monday or between days, unless it is broken: RF upper stud."
    stud = job(card, "stud-rf-upper")
    assert stud.who == [1, 2]
    assert stud.todo == [
        "length 1.2 -> 1.7 in (+0.50 in); ball goes UP 0.49 in relative to the spindle",
        "part u-rf-1 -> u-rf-2",
        "preload to 6 in-lb",
        "nut to 45 ft-lb",
    ]
    assert set(stud.brings) == {"camber-rf", "toe", "bump-steer-rf", "swing-rf", "torque-rf"}
    assert any("taper" in caution.lower() for caution in stud.cautions)
    assert "line of the balls" in card.assumptions[0]
    assert [(part.kind, part.name, part.about) for part in stud.parts] == [("stud", "u-rf-2", "1.7 in")]


def test_a_lower_joint_says_that_it_carries_the_car() -> None:
    card = made({f"{RF}.lower_stud.length_in": 1.5})
    assert job(card, "stud-rf-lower").cautions[0].startswith("The lower joint usually carries the car in tension")
    assert {"heights", "scales"} <= set(states(card))


def test_a_gear_goes_beside_a_front_corner() -> None:
    """Three people: the gear's 10 minutes beside the stud's 14. Two: beside the camber gauge's 3 alone, 43 + 10 - 3."""
    assert made(STUD | GEAR, crew=3).finish_min == 43
    assert made(STUD | GEAR, crew=2).finish_min == 50
    gear = job(made(STUD | GEAR, crew=3), "gear")
    assert present(gear.end_min) <= 43
    assert gear.wheels_on


def test_what_fits() -> None:
    """25 minutes: the stud takes 43, the rear spring 15 + 4 + 25 + 2; gear 10 and bias 1 fit."""
    card = made(STUD | SPRING | GEAR | BIAS, minutes=25)
    assert {each.id: each.fits for each in card.changes} == {
        "gear": True,
        "brakes": True,
        "rf-geometry": False,
        "rr-spring": False,
    }
    assert states(card)["stud-rf-upper"] == "left_out"
    assert job(card, "stud-rf-upper").begin_min is UNSET
    assert card.finish_min == 10
    assert card.optimal
    assert not card.everything_fits
    assert "In 25 minutes 2 of 4 changes fit (no choice is better): brakes, gear." in card.headline


def test_priorities_come_first_and_measuring_can_be_owed() -> None:
    """Stud 43, spring 46: of three one fits. With bump sheet, heights, scales owed 28 and 17, 2 of it at once: 43."""
    both = STUD | SPRING | GEAR
    card = made(both, minutes=45, priorities=["stud-rf-upper"])
    assert [each.id for each in card.changes if each.fits] == ["rf-geometry"]
    other = made(both, minutes=46, priorities=["rr-spring", "rf-geometry"])
    assert [each.id for each in other.changes if each.fits] == ["rr-spring"]
    unwished = made(both, minutes=46)  # of three that are alone alike the first on the card
    assert [each.id for each in unwished.changes if each.fits] == ["rf-geometry"]
    owing = made(both, minutes=46, measure_later=True)
    assert [each.id for each in owing.changes if each.fits] == ["rf-geometry", "rr-spring"]
    assert {id_ for id_, state in states(owing).items() if state == "owed"} == {"bump-steer-rf", "heights", "scales"}
    assert owing.finish_min == 43
    assert any(line.startswith("Owed: ") for line in owing.headline)


def test_a_crew_of_one_is_told_what_takes_two() -> None:
    card = made(STUD | GEAR, crew=1)
    [left] = [each for each in card.changes if not each.fits]
    assert left.why_not == "RF upper stud takes 2 people"
    assert card.finish_min == 10
    alone = made(
        STUD | GEAR,
        crew=1,
        own={kind: JobTimes(people=1) for kind in ("upper_stud", "toe_check", "bump_sheet", "swing")},
    )
    assert alone.finish_min == 53


def test_contact_is_inspected_first_and_the_card_is_made_all_the_same() -> None:
    card = made(GEAR, crew=1, contact=["rf"])
    assert [each.id for each in card.jobs] == ["inspect-rf", "gear", "torque-rf"]
    assert card.sign_first == ["inspect-rf"]
    assert "Crack test" in job(card, "inspect-rf").cautions[0]
    late = made(GEAR, crew=1, contact=["rf"], minutes=12)
    assert states(late)["inspect-rf"] == "planned"
    assert not late.everything_fits
    assert "It does not fit in 12 minutes." in late.headline
    many = {kind: JobTimes(people=3) for kind in ("inspect", "wheel_torque")}
    assert job(made(GEAR, crew=1, contact=["rf"], own=many), "inspect-rf").people == 1
    nothing = made({}, contact=["lr"])
    assert [each.id for each in nothing.jobs] == ["inspect-lr", "torque-lr"]


def test_what_is_done_takes_no_more_time() -> None:
    card = made(STUD, done=["stud-rf-upper", "camber-rf"])
    assert card.finish_min == 26
    assert states(card)["stud-rf-upper"] == states(card)["camber-rf"] == "done"
    assert job(card, "toe").because == ["stud-rf-upper"]


def test_the_teams_own_figures_go_first() -> None:
    own = {"upper_stud": JobTimes(time_min=10.5, price_usd=45), "scales": JobTimes(time_min=12)}
    card = made(STUD | SPRING, own=own, crew=2)
    assert job(card, "stud-rf-upper").minutes == 10.5
    assert job(card, "stud-rf-upper").own_figures
    assert not job(card, "toe").own_figures
    assert card.parts_price_usd == 45
    assert any("the team's own for scales, upper_stud" in line for line in card.assumptions)


def test_the_way_back() -> None:
    card = made(STUD | GEAR, back=True)
    assert {each.id for each in card.jobs if each.change is not UNSET} == {"stud-rf-upper", "gear"}
    assert job(card, "stud-rf-upper").todo[0] == (
        "length 1.7 -> 1.2 in (-0.50 in); ball goes DOWN 0.49 in relative to the spindle"
    )
    assert job(card, "stud-rf-upper").parts[0].name == "u-rf-1"
    some = made(STUD | GEAR, back=True, done=["gear"])
    assert list(states(some)) == ["gear"]
    assert set(some.unneeded) == {"stud-rf-upper", "camber-rf", "toe", "bump-steer-rf", "swing-rf", "torque-rf"}
    assert any(line.startswith("No longer needed: ") for line in some.headline)


def test_words_at_the_car() -> None:
    edits = {
        f"{LR}.spring.perch.thread_showing_in": 2.59375,
        f"{RF}.upper_shims.front_in": 0.3125,
        f"{RF}.tie_rod.length_in": 15.0370,
        f"{LR}.tire.pressure_cold_psi": 9.5,
        f"{RR}.shock.rebound.clicks": 8,
    }
    card = made(edits)
    assert job(card, "perch-lr").todo == ["1.5 turns in (tighten, raises), 2.59375 in of thread showing"]
    assert job(card, "shims-rf").todo == ["front pivot: add 0.06 in (1/16) of shim (pivot inboard)"]
    assert job(card, "tie-rod-rf").todo == ["0.037 in longer, 2 flats"]
    assert job(card, "pressures").todo == ["LR pressure cold 10 -> 9.5 psi"]
    assert job(card, "clicks").todo == ["rebound clicks 6 -> 8"]
    assert job(card, "camber-rf").todo == ["camber to -4 deg", "caster to 5 deg"]
    moved = {
        "setup.ballast.left_rail.weight_lb": None,
        "setup.ballast.seat.weight_lb": 25,
        f"{RF}.spring.rubber_count": 1,
    }
    card = made(moved)
    assert job(card, "ballast").todo == ["left rail: weight 38 lb -> none", "seat: weight none -> 25 lb"]
    assert job(card, "rubber-rf").todo == ["rubber none -> 1"]


def test_nothing_to_do() -> None:
    card = made({"notes": "tacky"})
    assert card.headline == ["Nothing to do."]
    assert (card.jobs, card.finish_min, card.optimal, card.everything_fits) == ([], 0, True, True)
    assert [each.path for each in card.recorded] == ["notes"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"crew": 0}, "crew: 0 is below the least accepted, 1"),
        ({"crew": 7}, "crew: 7 is above the most accepted, 6"),
        ({"minutes": -5}, "minutes: -5 min is below the least accepted, 0 min"),
        ({"own": {"upper_stud": JobTimes(time_min=-1)}}, "own.upper_stud.time_min: -1 min is below the least"),
        ({"own": {"uper_stud": JobTimes(time_min=1)}}, "own: uper_stud is no kind of job; the nearest is upper_stud"),
        ({"contact": ["fr"]}, "contact: fr is no corner"),
        ({"priorities": ["geer"]}, "priorities: geer is no change or job of this card; the nearest is gear"),
    ],
)
def test_nonsense_is_refused(asked: dict[str, Any], said: str) -> None:
    with pytest.raises(RequestUnfitError) as refused:
        made(GEAR, **asked)
    assert str(refused.value).startswith(said)
    assert refused.value.faults[0].value is not UNSET


FLAGS = st.tuples(st.booleans(), st.booleans())


def pairs() -> list[tuple[Tree, Tree]]:
    return [pair for documents in demo_sheets().values() for pair in itertools.pairwise(documents)]


@pytest.mark.parametrize("crew", [1, 2, 3, 6])
def test_the_demos_cards(crew: int) -> None:
    """Whatever the demo's crews changed makes a card that is proven, whole, and back again of the same jobs."""
    for before, after in pairs():
        card = work_card(before, after, request=WorkRequest(crew=crew))
        assert card.optimal
        assert msgspec.convert(msgspec.to_builtins(card), WorkCard) == card
        back = work_card(after, before, request=WorkRequest(crew=crew), back=True)
        assert {job.id for job in back.jobs if job.change} == {job.id for job in card.jobs if job.change}


@given(
    st.sampled_from(pairs()),
    st.integers(1, 6),
    st.integers(0, 120),
    st.integers(1, 40),
    st.tuples(*[st.booleans()] * 2),
)
@settings(max_examples=80, deadline=None)
def test_more_crew_or_minutes_are_never_worse(
    pair: tuple[Tree, Tree], crew: int, minutes: int, more: int, flags: tuple[bool, bool]
) -> None:
    def card(crew: int, minutes: int) -> WorkCard:
        asked = WorkRequest(crew=crew, minutes=minutes, measure_later=flags[0], on_stands=flags[1])
        found = work_card(*pair, request=asked)
        assert found.optimal
        assert found.finish_min <= minutes
        return found

    def fitting(card: WorkCard) -> int:
        return sum(change.fits for change in card.changes)

    base = card(crew, minutes)
    assert fitting(card(crew, minutes + more)) >= fitting(base)
    assert fitting(card(min(6, crew + more), minutes)) >= fitting(base)


@given(st.sampled_from(pairs()), st.integers(1, 6), st.sampled_from([False, True]))
@settings(max_examples=80, deadline=None)
def test_everybody_is_in_one_place_at_a_time(pair: tuple[Tree, Tree], crew: int, on_stands: Any) -> None:
    planned = [
        job
        for job in work_card(*pair, request=WorkRequest(crew=crew, on_stands=on_stands)).jobs
        if job.begin_min is not UNSET and job.end_min is not UNSET
    ]
    for each in planned:
        assert len(set(each.who)) == len(each.who) == each.people
        assert set(each.who) <= set(range(1, crew + 1))
    for one, other in itertools.combinations(planned, 2):
        begin_min = max(present(one.begin_min), present(other.begin_min))
        if begin_min < min(present(one.end_min), present(other.end_min)):
            assert not set(one.who) & set(other.who)
            assert one.where != other.where or not one.where


@given(st.integers(0, 50), EDITS, st.booleans())
@settings(max_examples=150, deadline=None)
def test_any_two_documents_make_a_card_or_are_refused(number: int, edits: Edits, back: Any) -> None:
    documents = demo_documents()
    one = documents[number % len(documents)]
    other = changed(one, edits)
    try:
        card = work_card(one, other, request=WorkRequest(crew=3, minutes=60), back=back)
    except FieldsUnfit:
        return
    told = [each.path for each in (*card.by_hand, *card.recorded)]
    told += [leaf.path for change in card.changes for leaf in change.changes]
    assert sorted(told) == sorted(dotted(change.path) for change in diff(one, other))
