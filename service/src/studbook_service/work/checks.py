"""Jobs that look at what other jobs moved; common practice, no source, as all of the job table."""

from collections.abc import Mapping
from typing import Final

from studbook_service.work import cautions
from studbook_service.work.kinds import Kind, Stage

JACK: Final = ("jack", "two stands")

CHECKS: Final[Mapping[str, Kind]] = {
    "inspect": Kind(
        title="inspect the whole corner after contact, sign",
        stage=Stage.INSPECT,
        minutes=15,
        tools=("light", "dial", "dye at the shop"),
        looks=("sign",),
        brings=("wheel_torque",),
        lifts=True,
        cautions=(cautions.CONTACT, cautions.LIFT),
    ),
    "stagger": Kind(
        title="rollout and stagger, all four",
        stage=Stage.STAGGER,
        minutes=5,
        tools=("tape",),
        looks=("where it moved: heights, scales, gear",),
        wheels_on=True,
    ),
    "heights": Kind(
        title="ride heights, all four",
        stage=Stage.HEIGHTS,
        minutes=4,
        tools=("tape or blocks",),
        wheels_on=True,
        alone=True,
        standing=True,
        measures=True,
        cautions=(cautions.DIRT_FLOOR,),
    ),
    "camber_gauge": Kind(
        title="camber and caster read",
        stage=Stage.CAMBER,
        minutes=3,
        tools=("camber gauge",),
        wheels_on=True,
        standing=True,
    ),
    "toe_check": Kind(
        title="toe read, both wheels",
        stage=Stage.TOE,
        minutes=5,
        people=2,
        tools=("toe plates or strings",),
        looks=("steering centerd",),
        wheels_on=True,
        alone=True,
        standing=True,
        cautions=(cautions.DIRT_FLOOR,),
    ),
    "bump_sheet": Kind(
        title="bump-steer sheet, one side",
        stage=Stage.BUMP_STEER,
        minutes=15,
        people=2,
        tools=("bump-steer gauge", *JACK),
        looks=("spring out and in again",),
        brings=("wheel_torque",),
        lifts=True,
        measures=True,
        cautions=(cautions.SPRING_OUT, cautions.LIFT),
    ),
    "swing": Kind(
        title="swing lock to lock, full droop and bump",
        stage=Stage.SWING,
        minutes=4,
        people=2,
        tools=JACK,
        looks=("stud, hose, wheel and rod clear", "steering column"),
        lifts=True,
        cautions=(cautions.BIND, cautions.LIFT),
    ),
    "scales": Kind(
        title="scale session, four pads",
        stage=Stage.SCALES,
        minutes=25,
        people=2,
        tools=("pads", "level floor"),
        looks=(
            "pressures and stagger first",
            "driver in, steering straight, settled, two readings",
            "bar off, then hooked",
        ),
        wheels_on=True,
        alone=True,
        standing=True,
        measures=True,
        cautions=(cautions.DIRT_FLOOR,),
    ),
    "wheel_torque": Kind(
        title="nuts and wheel torque",
        stage=Stage.NUTS,
        minutes=2,
        tools=("torque wrench",),
        looks=("every nut touched", "wheel nuts"),
        wheels_on=True,
        cautions=(cautions.WHEEL_NUTS,),
    ),
}
"""They come onto a card because of another job, or because a corner saw contact (`inspect`)."""
