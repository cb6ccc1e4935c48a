"""Every subject beside the front that an answer of effects covers, and what a change does to each."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final, NamedTuple, Protocol

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.damping import DampingQuery
from studbook.wire.figures import SubjectEffect, compare
from studbook.wire.joints import WheelForces
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.damping import damping_answer
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError, FieldsUnfitError
from studbook_service.translate.joints import joints_answer
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.rear import rear_answer


class Answered(Protocol):
    """What every answer about a subject tells beside its figures."""

    assumptions: list[str]
    missing: list[Missing]
    cautions: list[str]


SUBJECTS: Final[Mapping[str, Callable[[Tree, Mapping[str, Tree]], Answered]]] = {
    "rear": lambda tree, origins: rear_answer(tree, origins=origins),
    "loads": lambda tree, origins: loads_answer(tree, origins=origins, sheet=False),
    "attitude": lambda tree, origins: attitude_answer(tree, origins=origins),
    "joints": lambda tree, origins: joints_answer(tree, origins=origins, asked=WheelForces()),
    "damping": lambda tree, origins: damping_answer(tree, origins=origins, asked=DampingQuery()),
}
"""By name, what answers about a document; the second argument is where its alignment readings were entered.

Each raises `FieldsMissingError` or `CannotCloseError` where it can say nothing, and lists in `missing` what it cannot.
"""

HEADLINES: Final[Mapping[str, Mapping[str, tuple[str, int]]]] = {
    "rear": {
        "now.roll_center.height_in": ("rear roll center in high", 2),
        "now.axle_steer_deg_per_deg": ("axle steer deg per deg of axle roll", 2),
        "now.pinion_deg_per_in": ("pinion deg per in of bump", 2),
        "now.lr.anti_squat_percent": ("LR anti-squat percent", 0),
        "now.rr.anti_squat_percent": ("RR anti-squat percent", 0),
    },
    "joints": {
        "lf.breakaway.total_lb": ("LF joint friction at the wheel lb", 1),
        "rf.breakaway.total_lb": ("RF joint friction at the wheel lb", 1),
        "lf.joints.upper_ball.swing.margin_deg": ("LF upper joint's swing margin deg", 1),
        "rf.joints.upper_ball.swing.margin_deg": ("RF upper joint's swing margin deg", 1),
        "lf.joints.lower_ball.swing.margin_deg": ("LF lower joint's swing margin deg", 1),
        "rf.joints.lower_ball.swing.margin_deg": ("RF lower joint's swing margin deg", 1),
        "lf.joints.upper_ball.stud.bending_psi": ("LF upper stud's bending psi", 0),
        "rf.joints.upper_ball.stud.bending_psi": ("RF upper stud's bending psi", 0),
        "lf.joints.lower_ball.stud.bending_psi": ("LF lower stud's bending psi", 0),
        "rf.joints.lower_ball.stud.bending_psi": ("RF lower stud's bending psi", 0),
    },
    "damping": {
        "lf.ride_hz": ("LF ride Hz", 1),
        "rf.ride_hz": ("RF ride Hz", 1),
        "rear_ride.hz": ("rear ride Hz", 1),
        "lf.shock.at.3.rebound_lb": ("LF rebound lb at 3 in/s", 0),
        "rf.shock.at.3.rebound_lb": ("RF rebound lb at 3 in/s", 0),
        "lr.shock.at.3.rebound_lb": ("LR rebound lb at 3 in/s", 0),
        "rr.shock.at.3.rebound_lb": ("RR rebound lb at 3 in/s", 0),
        "rear_stagger.stagger_in": ("rear stagger in", 2),
        "gears.final_drive_ratio": ("final drive", 3),
    },
}
"""Of each subject the figures that a crew chief hears first, as said, with decimals; told when they move."""


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


class Stood:
    """A document with its past, as the subjects answer about it: each once, however many changes it is part of.

    Args:
        tree: the document.
        origins: for each corner with an alignment reading, the document it was entered in; likewise of other readings.
    """

    def __init__(self, tree: Tree, origins: Mapping[str, Tree]) -> None:
        self.tree, self.origins = tree, origins
        self._answers: dict[str, Answered | CannotCloseError | FieldsMissingError | FieldsUnfitError] = {}

    def about(self, name: str) -> Answered:
        """Give a subject's answer.

        Raises:
            FieldsUnfitError, FieldsMissingError, CannotCloseError: there is none, and why.
        """
        if name not in self._answers:
            try:
                self._answers[name] = SUBJECTS[name](self.tree, self.origins)
            except (CannotCloseError, FieldsMissingError, FieldsUnfitError) as error:
                self._answers[name] = error
        found = self._answers[name]
        if isinstance(found, Exception):
            raise found.with_traceback(None)
        return found


def stood(chain: Sequence[Tree]) -> Stood:
    """Give a document with its past.

    Args:
        chain: the document, its first parent's, and so on back.
    """
    return Stood(chain[0], origins(chain))


def subject_effects(before: Stood, after: Stood) -> SubjectEffects:
    """Compare two documents subject by subject.

    Args:
        before: the document changed from.
        after: the document changed to.

    Returns:
        The subjects with the figures that move.
    """
    found = SubjectEffects([], [], [], [])
    for name in SUBJECTS:
        try:
            old, new = before.about(name), after.about(name)
        except FieldsMissingError as error:
            found.missing.extend(error.missing)
        except (CannotCloseError, FieldsUnfitError) as error:
            found.missing.append(Missing(subject=name, fields=[], why=str(error)))
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
        moved, said = {figure.name: figure for figure in subject.figures}, []
        for name, (words, digits) in HEADLINES.get(subject.subject, {}).items():
            figure = moved.get(name)
            if figure is not None and figure.before is not UNSET and figure.after is not UNSET:
                was, now = (f"{round(value, digits) + 0.0:.{digits}f}" for value in (figure.before, figure.after))
                if was != now:
                    said.append(f"{words} {was} -> {now}")
        if said:
            sentences.append(f"{subject.subject.replace('_', ' ').capitalize()}: {', '.join(said)}.")
    return sentences
