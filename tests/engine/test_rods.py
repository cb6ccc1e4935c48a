"""Which sets of rods hold an axle, found by rank and named by motion."""

import pytest

from golden.rear_axles import WHEELS, rear_axle
from studbook_service.engine.rear_axle import Carrier, LinkRod, rear_axle_from_survey
from studbook_service.engine.rods import MOTIONS, Hold, RodsUnsound

LEFT = LinkRod((-84, 22, 9), (-104, 23, 9))
RIGHT = LinkRod((-84, -22, 9), (-104, -23, 9))
TORQUE = LinkRod((-86, 0, 18), (-104, 0, 20))
BAR = LinkRod((-106, 20, 11), (-106, -18, 9))
STRAIGHT = {
    f"{which}_{side}": LinkRod((-84, y, z), (-104, y, z))
    for side, y in (("left", 22), ("right", -22))
    for which, z in (("upper", 19), ("lower", 9))
}
BIRDCAGES: dict[str, Carrier] = {"left": "birdcage_left", "right": "birdcage_right"}
CAGES = {
    f"{which}_{side}": LinkRod((-84, y, z), (-104, y, z), BIRDCAGES[side])
    for side, y in (("left", 22), ("right", -22))
    for which, z in (("upper", 19), ("lower", 9))
}


def refused(**rods: LinkRod) -> Hold:
    with pytest.raises(RodsUnsound) as error:
        rear_axle_from_survey(rods=rods, **WHEELS)
    return error.value.hold


@pytest.mark.parametrize(
    "rods",
    [
        {"left": LEFT, "right": RIGHT, "torque": TORQUE, "bar": BAR},
        # No lateral bar: the upper links splay.
        {"left": LEFT, "right": RIGHT, "up_left": LinkRod((-86, 16, 18), (-103, 3, 20)),
         "up_right": LinkRod((-86, -16, 18), (-103, -3, 20))},
        {**CAGES, "torque": TORQUE, "bar": BAR},
        # An arm on the axle reaches 37 in forward to a spindle link.
        {**CAGES, "lift_arm": LinkRod((-67, 0, 24), (-67, 0, 12)), "bar": BAR},
    ],
    ids=["three links and a bar", "four links, two splayed", "birdcages and a torque link", "birdcages and a lift arm"],
)  # fmt: skip
def test_sound_sets(rods: dict[str, LinkRod]) -> None:
    hold = rear_axle_from_survey(rods=rods, **WHEELS).hold
    assert hold.sound
    assert hold.grip > 0.1
    assert str(hold) == "held"


def test_four_trailing_links_are_too_few_and_too_many() -> None:
    hold = refused(**STRAIGHT)
    assert [motion.parts for motion in hold.free] == [("sideways",)]
    assert hold.dependent == (tuple(STRAIGHT),)
    assert str(hold) == (
        "the axle slides sideways; upper_left, lower_left, upper_right, lower_right hold one motion twice"
    )


def test_a_missing_bar_lets_the_axle_slide() -> None:
    hold = refused(left=LEFT, right=RIGHT, torque=TORQUE)
    assert hold.free[0].parts[0] == "sideways"
    assert not hold.dependent


def test_a_missing_torque_link_lets_the_pinion_turn() -> None:
    hold = refused(**CAGES, bar=BAR)
    assert [motion.parts for motion in hold.free] == [("pinion",)]
    assert "pinion" in str(hold)


def test_a_birdcage_on_one_rod_turns() -> None:
    hold = refused(
        left=LEFT, right=RIGHT, torque=TORQUE, bar=BAR, cage=LinkRod((-104, 25, 2), (-104, 25, 13.5), "birdcage_left")
    )
    assert [motion.parts for motion in hold.free] == [("birdcage_left",)]
    assert hold.free[0].words == "the left birdcage turns"
    assert [set(names) for names in hold.dependent] == [{"cage", "bump", "roll"}]


def test_a_fifth_link_blocks_what_should_move() -> None:
    hold = refused(left=LEFT, right=RIGHT, torque=TORQUE, bar=BAR, post=LinkRod((-104, 10, 30), (-104, 10, 15)))
    assert not hold.free
    (names,) = hold.dependent
    assert "post" in names
    assert "bump" in names
    assert "block the axle's bump" in str(hold)


def test_a_second_bar_is_refused_even_where_it_fits() -> None:
    hold = refused(left=LEFT, right=RIGHT, torque=TORQUE, bar=BAR, spare=BAR)
    assert not hold.free
    assert hold.dependent == (("bar", "spare"),)
    assert hold.grip > 0


def test_two_free_motions_are_named_each_by_itself() -> None:
    """Trailing links that end on the axle's own line hold it, and leave each birdcage free to turn about that line."""
    ends = {"left": LinkRod((-84, 22, 13.5), (-104, 22, 13.5), "birdcage_left")}
    ends["right"] = LinkRod((-84, -22, 13.5), (-104, -22, 13.5), "birdcage_right")
    hold = refused(**ends, torque=TORQUE, bar=BAR)
    assert [motion.parts for motion in hold.free] == [("birdcage_left",), ("birdcage_right",)]
    assert hold.free[1].words == "the right birdcage turns"


def test_a_lone_bar_names_every_motion_it_leaves() -> None:
    hold = refused(bar=BAR)
    assert len(hold.free) == 3
    assert {part for motion in hold.free for part in motion.parts} <= set(MOTIONS)


def test_the_demo_axles_name_what_they_hold_least() -> None:
    for name in ("dirt", "asphalt"):
        hold = rear_axle(name).hold
        assert hold.sound
        assert hold.grip > 0.1
        assert hold.loosest.words
