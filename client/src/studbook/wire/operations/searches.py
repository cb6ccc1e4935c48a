"""Searches for parts and for perch turns, and answers around the scales."""

from typing import Final

from studbook.wire.around_scales import Race, RaceAnswer, Returned, ReturnedAnswer, SessionWeights
from studbook.wire.loads import PerchesAnswer, PerchSearch
from studbook.wire.operations.row import OF_ENGINE, PEOPLE, reading, trying
from studbook.wire.searches import CarryOver, CarryOverAnswer, StudSearch, StudSearchAnswer

SEARCH_STUDS: Final = trying(
    "search_studs",
    "/v1/searches/studs",
    body=StudSearch,
    answer=StudSearchAnswer,
    example={
        "revision": "0f3a9c",
        "corner": "rf",
        "camber_target": [[-2, -1.5], [0, -4], [2, -7.2]],
        "studs": [{"joint": "upper", "length_in": 1.7}],
    },
    about="Search for the studs, shims, spacers and rod at one front corner that come closest to a camber curve: "
    "every combination of what is at hand is tried",
)

SEARCH_CARRY_OVER: Final = trying(
    "search_carry_over",
    "/v1/searches/carry-over",
    body=CarryOver,
    answer=CarryOverAnswer,
    example={"source": "0f3a9c", "revision": "7be210", "studs": [{"joint": "upper", "length_in": 1.7}]},
    about="Search for the parts by which one car reads at the front like another: outcomes are matched, not parts",
)

SEARCH_PERCHES: Final = trying(
    "search_perches",
    "/v1/searches/perches",
    body=PerchSearch,
    answer=PerchesAnswer,
    example={"revision": "0f3a9c", "cross_percent": 51, "perches": ["lr", "rr"], "step_turns": 0.5},
    about="Answer which turns of which perches bring a revision's car to a cross weight, the ride heights held or "
    "disturbed least. Nothing is stored",
)

TRY_RACE: Final = trying(
    "try_race",
    "/v1/after-race",
    body=Race,
    answer=RaceAnswer,
    example={"revision": "0f3a9c", "fuel_burned_lb": 40, "rules": "late-models"},
    about="Answer what a revision's car weighs after the race against rules as the team typed them: fuel burned, "
    "another driver, ballast moved by edits. Nothing is stored",
)

TRY_CHECK: Final = trying(
    "try_check",
    "/v1/returned",
    body=Returned,
    answer=ReturnedAnswer,
    example={"car": "7", "document": {"measured": {"front": {"rf": {"alignment": {"camber_deg": -4.6}}}}}},
    about="Hold the readings of a car that came back against what was left: the revision named, else what it raced "
    "last. Nothing is stored",
)

READ_CHECK_FINDINGS: Final = reading(
    "read_check_findings",
    "/v1/checks/{car}/{check}/findings",
    roles=PEOPLE,
    answer=ReturnedAnswer,
    problems=OF_ENGINE,
    about="Hold a check that was recorded against the book",
)

READ_SESSION_WEIGHTS: Final = reading(
    "read_session_weights",
    "/v1/scale-sessions/{car}/{session}/weights",
    roles=PEOPLE,
    answer=SessionWeights,
    problems=("bad_reference", "not_found", "erased", "fields_missing", "busy"),
    about="Answer what a scale session comes to: average, spread, and what had not settled",
)
