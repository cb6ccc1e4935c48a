"""What a change does to the subjects beside the front, and which cannot be told."""

from present import present
from studbook.history.canonical import Tree
from studbook.wire.answers import Effects, Travels
from studbook_service.translate.effects import effects_between
from studbook_service.translate.subjects import HEADLINES, SUBJECTS, DocumentAnswers
from translate.documents import REAR, whole_car, with_edits

RAISED = {"setup__rear__rods__lateral_bar__chassis_in": [-100.2, 15.5, 15.2]}


def effects(before: Tree, after: Tree) -> Effects:
    return effects_between(DocumentAnswers([before]), DocumentAnswers([after, before]), travels=Travels())


def test_every_subject_is_compared() -> None:
    found = effects(whole_car(), with_edits(whole_car(), **RAISED))
    told = {each.subject: each for each in found.subjects}
    assert {"rear", "attitude"} <= told.keys() <= SUBJECTS.keys()
    figures = {each.name: each for each in told["rear"].figures}
    assert present(figures["now.roll_center.height_in"].difference) > 0.2
    assert figures["now.roll_center.height_in"].unit == "in"
    assert told["rear"].unmoved > 0
    assert any(sentence.startswith("Rear: rear roll center in high 11.13 -> ") for sentence in found.headline)


def test_a_change_at_the_front_leaves_the_rear_as_it_was() -> None:
    found = effects(whole_car(), with_edits(whole_car(), setup__front__rf__upper_stud__length_in=1.7))
    rear = next(each for each in found.subjects if each.subject == "rear")
    assert rear.figures == []
    assert not any("driveshaft" in each for each in found.cautions)


def test_what_cannot_be_told_for_want_of_fields_is_missing() -> None:
    thin = with_edits(whole_car(), survey__rear__lr__wheel_center_in=None)
    found = effects(thin, with_edits(thin, setup__front__rf__upper_stud__length_in=1.7))
    lacking = {each.subject: each.fields for each in found.missing}
    assert lacking["rear axle"] == ["survey.rear.lr.wheel_center_in"]
    assert "rear" not in {each.subject for each in found.subjects}


def test_rods_that_do_not_locate_the_axle_stop_only_what_needs_it() -> None:
    loose = with_edits(whole_car(), survey__rear__rods__lateral_bar=None)
    found = effects(whole_car(), loose)
    why = present(next(each.why for each in found.missing if each.subject == "rear"))
    assert "slides sideways" in why
    assert present(present(found.axle).before.roll_center.height_in) > 0


def test_a_rear_without_a_front_is_still_compared() -> None:
    bare = with_edits(whole_car(), survey__front=None)
    found = effects(bare, with_edits(bare, **RAISED))
    assert [each.subject for each in found.subjects if each.subject == "rear"] == ["rear"]
    assert [change.path for change in found.changes] == ["setup.rear.rods.lateral_bar.chassis_in"]
    assert {"LF geometry", "RF geometry"} <= {each.subject for each in found.missing}


def test_headlines_name_figures_that_exist() -> None:
    assert HEADLINES.keys() <= SUBJECTS.keys()
    assert REAR.keys() == {"dirt", "asphalt"}
