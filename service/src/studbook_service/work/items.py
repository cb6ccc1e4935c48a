"""The jobs of one card: what is done, where on the car, and because of what."""

from dataclasses import dataclass
from typing import Final

from studbook.history.changes import FieldChange
from studbook_service.work.job_spec import JobSpec
from studbook_service.work.jobs import JOB_KINDS

WHEELS: Final = ("lf", "rf", "lr", "rr")
FRONT: Final = frozenset({"lf", "rf", "front-bar"})
REAR: Final = frozenset({"lr", "rr", "rear", "rear-bar"})
EVERYWHERE: Final = FRONT | REAR | {"ballast", "cockpit"}


@dataclass(frozen=True, kw_only=True)
class Item:
    """One job of a card.

    Attributes:
        id: the same on every card: what it is and where.
        kind: of the job table.
        where: as a crew says it; empty for the whole car.
        places: of the car that it takes up.
        change: id of the change that it belongs to; empty for what re-checks.
        leaves: the fields that it changes.
        brings: kinds of re-checks besides those of the table.
        because: ids of the jobs that brought a re-check.
        times: how often the job is done.
    """

    id: str
    kind: str
    where: str
    places: frozenset[str]
    change: str = ""
    leaves: tuple[FieldChange, ...] = ()
    brings: tuple[str, ...] = ()
    because: tuple[str, ...] = ()
    times: int = 1

    @property
    def of(self) -> JobSpec:
        """Give the table's row."""
        return JOB_KINDS[self.kind]

    @property
    def title(self) -> str:
        """Name it as a crew does.

        Example:
            >>> Item(id="stud-rf-upper", kind="upper_stud", where="RF", places=frozenset({"rf"})).title
            'RF upper stud'
        """
        return self.where if self.where.endswith(self.of.title) else f"{self.where} {self.of.title}".strip()
