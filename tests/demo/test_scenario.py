"""The scenario's documents and story: known fields only, sane values, and readings that agree with the geometry."""

import datetime as dt
import math
from functools import cache

import pytest
from msgspec import UNSET

from present import present
from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import leaves, steps
from studbook.wire.answers import Effects, Travels
from studbook.wire.fields import check, field, unknown, unusual
from studbook_service.demo.scenario import DemoCar, DemoStep, story, team
from studbook_service.demo.walk import FITTED
from studbook_service.translate.effects import effects_between
from studbook_service.translate.front import front_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.subjects import DocumentAnswers

TODAY = dt.date(2026, 6, 1)
COARSE = Travels(low_in=-1, high_in=1, step_in=1)
CARS = [pytest.param(car, id=f"car {car.slug}") for car in team().cars]
every_car = pytest.mark.parametrize("car", CARS)


@cache
def steps_of(car: DemoCar) -> list[DemoStep]:
    return story(car, today=TODAY)


def pages(car: DemoCar, sheet: str) -> list[Tree]:
    """A sheet's documents, newest first, and behind them those it was carried from."""
    own = [step for step in steps_of(car) if step.sheet == sheet]
    begun = own[0]
    behind = pages_until(car, begun) if begun.carried_from else []
    return [step.document for step in reversed(own)] + behind


def pages_until(car: DemoCar, begun: DemoStep) -> list[Tree]:
    return [
        step.document for step in reversed(steps_of(car)) if step.sheet == begun.carried_from and step.at < begun.at
    ]


@every_car
def test_every_document_passes_every_check(car: DemoCar) -> None:
    for step in steps_of(car):
        assert (check(step.document), unknown(step.document), unusual(step.document)) == ([], [], [])
        assert canonical(step.document) == step.document


def test_most_known_fields_are_used() -> None:
    used = {field(path) for car in team().cars for step in steps_of(car) for path in leaves(step.document)}
    assert len(used) > 600


@every_car
def test_story_fits_its_six_weeks_and_its_people(car: DemoCar) -> None:
    crew = team()
    begin = dt.datetime.combine(TODAY - dt.timedelta(weeks=6), dt.time(), dt.UTC)
    end = dt.datetime.combine(TODAY, dt.time(), dt.UTC)
    times = [step.at for step in steps_of(car)]
    assert times == sorted(set(times))
    assert begin <= times[0] < times[-1] < end
    assert {step.by for step in steps_of(car)} == set(crew.members)
    assert all(step.note for step in steps_of(car))
    assert [step.sheet for step in steps_of(car) if not step.changes] == [car.sheets[0]]
    assert 12 <= sum(step.sheet == car.sheets[0] for step in steps_of(car)) <= 20


@every_car
def test_tires_stand_on_the_ground_at_the_survey(car: DemoCar) -> None:
    # Patch height is the wheel center's less R cos(camber): plane trigonometry of a wheel leaning by its camber.
    survey = steps_of(car)[0].document["survey"]
    for corner in (survey["front"]["lf"], survey["front"]["rf"]):
        leaning = corner["loaded_radius_in"] * math.cos(math.radians(corner["camber_deg"]))
        assert corner["points"]["wheel_center_in"][2] == pytest.approx(leaning, abs=1e-4)
    for corner in (survey["rear"]["lr"], survey["rear"]["rr"]):
        assert corner["wheel_center_in"][2] == corner["loaded_radius_in"]


@every_car
def test_rods_are_as_long_as_their_ends_are_apart(car: DemoCar) -> None:
    for step in steps_of(car):
        surveyed, fitted = (step.document[part]["rear"]["rods"] for part in ("survey", "setup"))
        for name, rod in fitted.items():
            ends = {**surveyed[name], **rod}
            assert rod["length_in"] == pytest.approx(math.dist(ends["chassis_in"], ends["carrier_in"]), abs=0.002)
    corners = steps_of(car)[0].document["survey"]["front"]
    for side in ("lf", "rf"):
        points, rod = corners[side]["points"], corners[side]["tie_rod"]
        apart = math.dist(points["tie_inner_in"], points["tie_outer_in"])
        assert rod["length_in"] == pytest.approx(apart, abs=0.001)


@every_car
def test_readings_imply_nothing_unrecorded(car: DemoCar) -> None:
    for sheet in car.sheets:
        chain = pages(car, sheet)
        for place, document in enumerate(chain):
            answer = front_answer(document, origins=origins(chain[place:]), travels=COARSE)
            assert not answer.missing
            assert (present(answer.lf).implied, present(answer.rf).implied) == (UNSET, UNSET)


def half_inch_stud() -> tuple[Tree, Effects]:
    """Car 7 as it stands, and what the demo asks about it."""
    chain = pages(team().cars[0], "baseline")
    longer = apply([FieldChange(steps("setup.front.rf.upper_stud.length_in"), after=1.7)], chain[0])
    answer = effects_between(DocumentAnswers(chain), DocumentAnswers([longer, *chain]), travels=COARSE)
    return chain[0], answer


def test_what_the_walk_fits_is_what_the_answer_says() -> None:
    before, answer = half_inch_stud()
    was = leaves(before)
    added = {
        path: FITTED[path] - was[steps(path)]
        for path in FITTED
        if path.endswith(("shims.front_in", "shims.rear_in", "spacer_in"))
    }
    shown = {each.where: sum(each.pieces_in) for each in present(answer.rf).adjustments if each.pieces_in is not UNSET}
    assert list(shown.values()) == pytest.approx(list(added.values()))


def test_what_the_walk_fits_and_reads_agrees_with_the_geometry() -> None:
    before, _ = half_inch_stud()
    after = apply([FieldChange(steps(path), after=value) for path, value in FITTED.items()], before)
    assert check(after) == []
    answer = front_answer(after, origins=origins([after]), travels=COARSE)
    assert present(answer.rf).implied is UNSET
    assert present(answer.rf).now.bump_steer_deg_per_in == pytest.approx(-0.025, abs=0.005)
