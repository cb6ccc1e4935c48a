"""The operations of the work card."""

from typing import Final

from studbook.wire.work import JobTable, WorkCard
from studbook_service.http.operation import OF_DOCUMENT, Operation
from studbook_service.http.working import SinceWork

WORKING_OPERATIONS: Final = (
    Operation(
        method="get",
        path="/v1/revisions/{ref}/work",
        name="read_work",
        about="Make the work card from one revision to another: jobs in the order in which that crew is done first, "
        "what fits in the minutes given, parts, re-checks, cautions; with undo the way back",
        answer=WorkCard,
        query=SinceWork,
        problems=(*OF_DOCUMENT, "bad_document", "busy"),
    ),
    Operation(
        method="get",
        path="/v1/jobs",
        name="read_jobs",
        about="Give the job table: what each kind of job takes, by the team's own figures where it gave any",
        answer=JobTable,
    ),
)
