"""The job table as an answer: what each kind of job takes, by the team's own figures where it gave any."""

from collections.abc import Mapping
from typing import Final

from msgspec import UNSET

from studbook.wire.shop import JobTimes
from studbook.wire.work import JobKind, JobTable
from studbook_service.work.jobs import JOB_KINDS

ABOUT: Final = (
    "Minutes, people, tools and re-checks are common practice for a practiced crew in the pits, no source; of one "
    "corner unless the title says otherwise."
)


def job_table(own: Mapping[str, JobTimes]) -> JobTable:
    """Give every kind of job, in the order of the work, with the team's own figures by kind.

    Example:
        >>> upper = next(job for job in job_table({"upper_stud": JobTimes(time_min=18)}).items if job.own)
        >>> upper.kind, upper.time_min, upper.default_min
        ('upper_stud', 18, 14)
    """
    in_order = sorted(JOB_KINDS, key=lambda kind: JOB_KINDS[kind].stage)
    return JobTable(about=ABOUT, items=[_row(kind, own.get(kind, JobTimes())) for kind in in_order])


def _row(name: str, own: JobTimes) -> JobKind:
    kind = JOB_KINDS[name]
    return JobKind(
        kind=name,
        time_min=kind.minutes if own.time_min is UNSET else own.time_min,
        people=kind.people if own.people is UNSET else own.people,
        price_usd=own.price_usd,
        own=own != JobTimes(),
        default_min=kind.minutes,
        default_people=kind.people,
        brings=list(kind.brings),
        **kind.shown,
    )
