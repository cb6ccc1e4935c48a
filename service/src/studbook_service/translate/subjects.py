"""Every subject beside the front that an answer of effects covers, and what a change does to each."""

from collections.abc import Callable, Mapping, Sequence
from itertools import product
from typing import Final, NamedTuple, Protocol

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.damping import DampingQuery
from studbook.wire.figures import SubjectEffect, compare
from studbook.wire.joints import WheelForces
from studbook_service.engine.one_sided import WHEELS
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.damping import damping_answer
from studbook_service.translate.document import FRONT
from studbook_service.translate.errors import CannotClose, FieldsMissing, FieldsUnfit, Unanswerable
from studbook_service.translate.joints import joints_answer
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.rear import rear_answer
from studbook_service.translate.stud_stock import ARMS
from studbook_service.translate.words import CORNER


class SubjectAnswer(Protocol):
    """What every answer about a subject holds beside its figures."""

    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]


SUBJECTS: Final[Mapping[str, Callable[[Tree, Mapping[str, Tree]], SubjectAnswer]]] = {
    "rear": lambda tree, origins: rear_answer(tree, origins=origins),
    "loads": lambda tree, origins: loads_answer(tree, origins=origins, wall_sheet=False),
    "attitude": lambda tree, origins: attitude_answer(tree, origins=origins),
    "joints": lambda tree, origins: joints_answer(tree, origins=origins, forces=WheelForces()),
    "damping": lambda tree, origins: damping_answer(tree, origins=origins, request=DampingQuery()),
}
"""The answer of each subject, by its name."""

HEADLINES: Final[Mapping[str, Mapping[str, tuple[str, int]]]] = {
    "rear": {
        "now.roll_center.height_in": ("rear roll center in high", 2),
        "now.axle_steer_deg_per_deg": ("axle steer deg per deg of axle roll", 2),
        "now.pinion_deg_per_in": ("pinion deg per in of bump", 2),
        "now.lr.anti_squat_percent": ("LR anti-squat percent", 0),
        "now.rr.anti_squat_percent": ("RR anti-squat percent", 0),
    },
    "joints": {
        **{f"{name}.breakaway.total_lb": (f"{CORNER[name]} joint friction at the wheel lb", 1) for name in FRONT},
        **{
            f"{name}.joints.{arm}_ball.swing.margin_deg": (f"{CORNER[name]} {arm} joint's swing margin deg", 1)
            for arm, name in product(ARMS, FRONT)
        },
        **{
            f"{name}.joints.{arm}_ball.stud.bending_psi": (f"{CORNER[name]} {arm} stud's bending psi", 0)
            for arm, name in product(ARMS, FRONT)
        },
    },
    "damping": {
        "lf.ride_hz": ("LF ride Hz", 1),
        "rf.ride_hz": ("RF ride Hz", 1),
        "rear_ride.hz": ("rear ride Hz", 1),
        **{f"{name}.shock.at.3.rebound_lb": (f"{CORNER[name]} rebound lb at 3 in/s", 0) for name in WHEELS},
        "rear_stagger.stagger_in": ("rear stagger in", 2),
        "gears.final_drive_ratio": ("final drive", 3),
    },
}
"""Of each subject the figures that a crew chief needs first: their names in a headline, and decimals."""


class SubjectEffects(NamedTuple):
    """What a change does to every subject.

    Attributes:
        subjects: those that both documents can be answered about.
        missing: what either document could not be answered for, and why.
        assumptions: of the subjects that move; so are `cautions`.
    """

    subjects: list[SubjectEffect]
    missing: list[Missing]
    assumptions: list[str]
    cautions: list[str]


class DocumentAnswers:
    """The subjects' answers about one document, each computed once, however many changes it is part of.

    Args:
        chain: the document, its first parent's, and so on back.
    """

    def __init__(self, chain: Sequence[Tree]) -> None:
        self.tree, self.origins = chain[0], origins(chain)
        self._answers: dict[str, SubjectAnswer | CannotClose | FieldsMissing | FieldsUnfit] = {}

    def about(self, name: str) -> SubjectAnswer:
        """Give a subject's answer.

        Raises:
            FieldsUnfit, FieldsMissing, CannotClose: there is none, and why.
        """
        if name not in self._answers:
            try:
                self._answers[name] = SUBJECTS[name](self.tree, self.origins)
            except (CannotClose, FieldsMissing, FieldsUnfit) as error:
                self._answers[name] = error
        found = self._answers[name]
        if isinstance(found, Exception):
            raise found.with_traceback(None)
        return found


def subject_effects(before: DocumentAnswers, after: DocumentAnswers) -> SubjectEffects:
    """Compare two documents subject by subject; the effects hold the figures that move."""
    found = SubjectEffects([], [], [], [])
    for name in SUBJECTS:
        try:
            old, new = before.about(name), after.about(name)
        except Unanswerable as error:
            found.missing.extend(error.missing_for(name))
        else:
            effect = compare(name, old, new)
            found.subjects.append(effect)
            found.missing.extend([*old.missing, *new.missing])
            if effect.figures:
                found.assumptions.extend([*new.assumptions, *old.assumptions])
                found.cautions.extend(new.cautions)
    return found


def subject_headlines(subjects: list[SubjectEffect]) -> list[str]:
    """Write a sentence for each subject whose first figures move."""
    sentences = []
    for subject in subjects:
        moved, parts = {figure.name: figure for figure in subject.figures}, []
        for name, (words, digits) in HEADLINES.get(subject.subject, {}).items():
            figure = moved.get(name)
            if figure is not None and figure.before is not UNSET and figure.after is not UNSET:
                was, now = (f"{round(value, digits) + 0.0:.{digits}f}" for value in (figure.before, figure.after))
                if was != now:
                    parts.append(f"{words} {was} -> {now}")
        if parts:
            sentences.append(f"{subject.subject.replace('_', ' ').capitalize()}: {', '.join(parts)}.")
    return sentences
