"""Every operation around the scales, beside the records of sessions, checks, logs, rules and tolerances."""

from typing import Final

from studbook.wire.around_scales import (
    Race,
    RaceAnswer,
    Returned,
    ReturnedAnswer,
    SensitivityAnswer,
    SensitivityQuery,
    SessionWeights,
)
from studbook_service.http.operation import OF_BODY, OF_DOCUMENT, OF_ENGINE, Operation

AROUND_SCALES_OPERATIONS: Final = (
    Operation(
        method="get",
        path="/v1/revisions/{ref}/sensitivity",
        name="read_sensitivity",
        about="Answer what one step does, of each perch, shim, stud and pressure alone: cross, bite, heights, camber, "
        "toe, each as a what-if answers it",
        answer=SensitivityAnswer,
        query=SensitivityQuery,
        problems=(*OF_DOCUMENT, *OF_ENGINE),
    ),
    Operation(
        method="post",
        path="/v1/after-race",
        name="try_race",
        about="Answer what a revision's car weighs after the race against rules as the team typed them: fuel burned, "
        "another driver, ballast moved by edits. Nothing is stored",
        answer=RaceAnswer,
        body=Race,
        example={"revision": "0f3a9c", "fuel_burned_lb": 40, "rules": "late-models"},
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY),
        sends=(),
        gives=(),
    ),
    Operation(
        method="post",
        path="/v1/returned",
        name="try_check",
        about="Hold the readings of a car that came back against what was left: the revision named, else what it raced "
        "last. Nothing is stored",
        answer=ReturnedAnswer,
        body=Returned,
        example={
            "car": "7",
            "document": {"measured": {"front": {"rf": {"alignment": {"camber_deg": -4.6}}}}},
        },
        problems=(*OF_DOCUMENT, *OF_ENGINE, *OF_BODY),
        sends=(),
        gives=(),
    ),
    Operation(
        method="get",
        path="/v1/checks/{car}/{check}/findings",
        name="read_check_findings",
        about="Hold a check that was recorded against the book",
        answer=ReturnedAnswer,
        problems=(*OF_DOCUMENT, *OF_ENGINE),
    ),
    Operation(
        method="get",
        path="/v1/scale-sessions/{car}/{session}/weights",
        name="read_session_weights",
        about="Answer what a scale session comes to: average, spread, and what had not settled",
        answer=SessionWeights,
        problems=("bad_reference", "not_found", "erased", "fields_missing", "busy"),
    ),
)
