"""A line of the log as a crew says it, `RR perch +2 turns, LR pressure -1`: read, and later put into a setup. Pure.

Turns are kept as turns: how far one moves a thread is in the setup, and there may be no time to look there.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from studbook.core.errors import RefusedError, local
from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import at, is_number, steps
from studbook.wire.problem import FieldFault

CORNERS: Final = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}
FLATS: Final = 6


@dataclass(frozen=True, slots=True)
class Adjustable:
    """Something that is turned, let out or changed at the car.

    Attributes:
        paths: of its fields, below the corner, or below the setup where it belongs to none.
        unit: the usual one, meant where none is given.
        others: units that mean the same.
        pitch: the field that says how far a turn moves it, where it is turned.
        front: only there.
    """

    paths: tuple[str, ...]
    unit: str
    others: tuple[str, ...] = ()
    pitch: str = ""
    cornered: bool = True
    front: bool = False


ADJUSTABLES: Final = {
    "perch": Adjustable(("spring.perch.thread_showing_in",), "turns", pitch="spring.perch.in_per_turn"),
    "pressure": Adjustable(("tire.pressure_cold_psi",), "psi", ("lb", "lbs")),
    "rollout": Adjustable(("tire.rollout_in",), "in"),
    "spacer": Adjustable(("wheel.spacer_in",), "in"),
    "shims": Adjustable(("upper_shims.front_in", "upper_shims.rear_in"), "in", front=True),
    "tie rod": Adjustable(("tie_rod.length_in",), "turns", pitch="tie_rod.moves_per_turn_in", front=True),
    "upper stud": Adjustable(("upper_stud.length_in",), "in", front=True),
    "lower stud": Adjustable(("lower_stud.length_in",), "in", front=True),
    "compression": Adjustable(("shock.compression.clicks",), "clicks"),
    "rebound": Adjustable(("shock.rebound.clicks",), "clicks"),
    "gas": Adjustable(("shock.gas_psi",), "psi", ("lb", "lbs")),
    "packers": Adjustable(("bump_stop.packers_in",), "in"),
    "chain": Adjustable(("droop_limit.travel_in",), "in"),
    "rubbers": Adjustable(("spring.rubber_count",), "count"),
    "front bar": Adjustable(("front.bar.preload_turns",), "turns", cornered=False),
    "rear bar": Adjustable(("rear.bar.preload_turns",), "turns", cornered=False),
    "brakes": Adjustable(("brakes.front_share_percent",), "percent", ("%",), cornered=False),
}
"""What a line of the log may speak of, by name."""

_ALIASES: Final = {
    "jack": "perch",
    "air": "pressure",
    "shim": "shims",
    "toe rod": "tie rod",
    "comp": "compression",
    "packer": "packers",
    "rubber": "rubbers",
    "strap": "chain",
}
_UNITS: Final = {"turn": "turns", "flat": "flats", "click": "clicks", "inch": "in", "inches": "in", '"': "in"}
_ITEM: Final = re.compile(
    r"(?:(?P<corner>[lr][fr])\s+)?(?P<what>[a-z][a-z ]*?)\s*"
    r"(?P<sign>[+=-])?\s*(?P<amount>\d+ \d+/\d+|\d+/\d+|\d*\.?\d+)\s*(?P<unit>[a-z%\"]*)(?:\s+(?P<way>in|out))?",
)
_ASSIGNED: Final = re.compile(r"(?P<path>[a-z0-9_.-]+?)(?P<how>\+=|-=|=)(?P<amount>[^ ]+)(?: (?P<unit>turns|flats))?")
_PITCH_OF: Final = {
    path.rpartition(".")[2]: (path, adjustable.pitch)
    for adjustable in ADJUSTABLES.values()
    if adjustable.pitch
    for path in adjustable.paths
}


def read_log(words: str) -> list[str]:
    """Read a line of the log.

    Args:
        words: changes joined by commas, semicolons or `and`: corner, what, how far (`+2`, `-1/2`, `=8` for what it is
            now; of a perch also `2 turns in`), unit unless it is the usual one.

    Returns:
        A change for each field as the book's log keeps it.

    Raises:
        BadRequestError: with everything that cannot be read, and why.

    Example:
        >>> read_log("RR perch +2 turns, LR pressure -1")
        ['setup.rear.rr.spring.perch.thread_showing_in+=2 turns', 'setup.rear.lr.tire.pressure_cold_psi-=1']
    """
    items = [item.strip() for item in re.split(r"[,;]|\band\b", words) if item.strip()]
    found: list[str] = []
    wrong: list[str] = [] if items else ["nothing is given: write such as RR perch +2 turns, LR pressure -1"]
    for item in items:
        try:
            found += _read(item)
        except ValueError as error:
            wrong.append(f"{item}: {error}")
    if wrong:
        raise _refused("the line cannot be read", wrong)
    return found


def _read(item: str) -> list[str]:
    form = _ITEM.fullmatch(" ".join(item.lower().split()))
    if form is None:
        raise ValueError("write corner, what, and how far: RR perch +2 turns")
    name = _ALIASES.get(form["what"], form["what"])
    adjustable = ADJUSTABLES.get(name)
    if adjustable is None:
        first, _, rest = form["what"].partition(" ")
        if rest in ADJUSTABLES or rest in _ALIASES:
            raise ValueError(f"{first} is no corner: LF, RF, LR or RR")
        raise ValueError(f"{form['what']} is none of {', '.join(ADJUSTABLES)}")
    root = _root(name, adjustable, form["corner"])
    unit, way = _UNITS.get(form["unit"], form["unit"]), form["way"]
    # `2 in` of a perch: its unit, or the way it was turned? Nobody can tell.
    if adjustable.pitch and unit in {"in", "out"} and not form["sign"]:
        raise ValueError(f"inches, or which way? write +{form['amount']} turns, or {form['amount']} turns {unit}")
    how = _how(form["sign"], way, turned=bool(adjustable.pitch))
    amount = _amount(form["amount"])
    unit = _unit(unit, adjustable)
    if adjustable.pitch and unit == "in" and float(amount) >= 1 and how != "=":
        raise ValueError(f"{amount} inches of thread? write turns, such as {form['sign']}{amount} turns")
    if how == "=" and unit in {"turns", "flats"} and adjustable.pitch:
        raise ValueError("turns are only ever a change: write + or -, or the thread that shows with in")
    written = f"{amount} {unit}" if adjustable.pitch and unit != "in" else amount
    return [f"{root}.{path}{how}{written}" for path in adjustable.paths]


def _root(name: str, adjustable: Adjustable, corner: str | None) -> str:
    if not adjustable.cornered:
        if corner:
            raise ValueError(f"{name} is of no corner")
        return "setup"
    if corner not in CORNERS:
        raise ValueError("which corner? LF, RF, LR or RR")
    if adjustable.front and CORNERS[corner] != "front":
        raise ValueError(f"{name} is at the front")
    return f"setup.{CORNERS[corner]}.{corner}"


def _how(sign: str | None, way: str | None, *, turned: bool) -> str:
    if way and not turned:
        raise ValueError(f"{way} is for threads alone: write + or -")
    if sign and way:
        raise ValueError(f"say {sign} or {way}, not both")
    if way:
        return "+=" if way == "in" else "-="
    if sign is None:
        raise ValueError("which way? + or -, or = for what it is now" + (" (+ is in, tightens)" if turned else ""))
    return "=" if sign == "=" else f"{sign}="


def _unit(unit: str, adjustable: Adjustable) -> str:
    if unit in ("", adjustable.unit, *adjustable.others):
        return adjustable.unit
    if adjustable.pitch and unit in {"flats", "in"}:
        return unit
    turned = " or flats or in" if adjustable.pitch else ""
    raise ValueError(f"{unit} is not its unit: {adjustable.unit}{turned}")


def _amount(text: str) -> str:
    """Write an amount as decimals.

    Example:
        >>> _amount("1 1/2"), _amount("1/8"), _amount(".5"), _amount("2")
        ('1.5', '0.125', '0.5', '2')
    """
    return f"{float(sum(map(Fraction, text.split()))):.6g}"


def put_in(changes: Iterable[str], document: Tree) -> Tree:
    """Put changes of the log into a setup, one after the other; turns by the pitch that the setup tells.

    Args:
        changes: as `read_log` gives them.
        document: the setup.

    Raises:
        BadRequestError: with every change for which the setup does not tell what is needed.

    Example:
        >>> perch = {"thread_showing_in": 2.75, "in_per_turn": 0.0625}
        >>> document = {"setup": {"rear": {"rr": {"spring": {"perch": perch}}}}}
        >>> after = put_in(["setup.rear.rr.spring.perch.thread_showing_in+=2 turns"], document)
        >>> after["setup"]["rear"]["rr"]["spring"]["perch"]["thread_showing_in"]
        2.875
    """
    wrong = []
    for change in changes:
        try:
            document = _put(change, document)
        except ValueError as error:
            wrong.append(f"{change}: {error}")
    if wrong:
        raise _refused("the log cannot be put into this setup", wrong)
    return document


def _put(change: str, document: Tree) -> Tree:
    form = _ASSIGNED.fullmatch(change)
    if form is None:
        raise ValueError("is no change of a number; put it in by hand")
    path = steps(form["path"])
    try:
        amount = float(form["amount"])
    except ValueError:
        raise ValueError("is no change of a number; put it in by hand") from None
    if form["unit"]:
        amount *= _per_turn(form["path"], document) / (FLATS if form["unit"] == "flats" else 1)
    if form["how"] != "=":
        before = at(document, path)
        if not is_number(before):
            raise ValueError(f"the setup has no {form['path']} to add to: give it one first")
        amount = before + (amount if form["how"] == "+=" else -amount)
    after: Tree = canonical(apply([FieldChange(path, after=canonical(amount, depth=len(path)))], document))
    return after


def _per_turn(path: str, document: Tree) -> float:
    """Find how far a turn moves a thread."""
    own, pitch = _PITCH_OF.get(path.rpartition(".")[2], ("", ""))
    if not path.endswith(own) or not own:
        raise ValueError("is not given in turns")
    where = path.removesuffix(own) + pitch
    value = at(document, steps(where))
    if value is None:
        raise ValueError(f"the setup has no {where}, so turns cannot be converted to inches")
    return float(value)


def _refused(what: str, wrong: Sequence[str]) -> RefusedError:
    if len(wrong) == 1:
        return local("bad_request", wrong[0])
    return local("bad_request", what, faults=[FieldFault(detail=each) for each in wrong])


def named(names: Sequence[str]) -> str:
    """Write the note of a revision that logs became; `named_in` reads it.

    Example:
        >>> named_in(named(["7/2026-05-02-1", "7/2026-05-02-2"]) + ": tight off")
        ['7/2026-05-02-1', '7/2026-05-02-2']
    """
    return f"From the log {', '.join(names)}"


def named_in(note: str) -> list[str]:
    """List the logs that a revision's note says it was made from."""
    form = re.match(r"From the log ((?:[^ ,:]+(?:, )?)+)", note)
    return form[1].split(", ") if form else []
