"""A car's nights: each outing, and beneath it what was changed, why, and what came of it."""

from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

from msgspec import UNSET

from studbook.cli.environment import bold
from studbook.cli.printing import leaf, short, table, when, who, with_unit, wrapped
from studbook.wire.entries import LeafChange
from studbook.wire.season import LogNote, Night, OutingReport, RevisionNote

CHANGES_SHOWN: Final = 8
"""Fields of the setup listed of one outing; the rest is counted, and is in the JSON and the tables."""

NOTES_SHOWN: Final = 6
"""Revisions listed of one outing, the last ones."""


def night_page(night: Night) -> Iterator[str]:
    """Lay a night out."""
    place = f", {night.place}" if night.place else ""
    surface = f", {night.surface}" if night.surface else ""
    yield from ["", bold(f"{night.event}{place}{surface}")]
    rows = [
        (
            ran.run,
            text_or_dash(ran.track_state).replace("_", "-"),
            text_or_dash(ran.laps),
            _time(ran.best_s),
            _time(ran.median_s),
            f"{ran.start_place or '?'}-{ran.finish_place or '?'}" if ran.start_place or ran.finish_place else "",
            text_or_dash(ran.revision)[:12],
        )
        for ran in night.outings
    ]
    header = ("run", "track", "laps", "best s", "median s", "places", "revision")
    lines = table(header, rows, right=frozenset({2, 3, 4}))
    yield lines[0]
    for line, ran in zip(lines[1:], night.outings, strict=True):
        yield line
        yield from _beneath(ran, night.event)


def text_or_dash(value: Any) -> str:
    """Show a value; a dash where there is none.

    Example:
        >>> text_or_dash(5), text_or_dash(UNSET)
        ('5', '-')
    """
    return str(value) if value is not UNSET and value is not None else "-"


def _beneath(ran: OutingReport, event: str) -> Iterator[str]:
    """List beneath an outing the changes, the notes, the driver's words and the result."""
    yield from _changed(ran, event)
    if ran.descent_detail:
        yield from wrapped(ran.descent_detail, indent="    ", first="  > ")
    if len(ran.revisions) > NOTES_SHOWN:
        yield f"    {len(ran.revisions) - NOTES_SHOWN} revisions before these"
    for each in ran.revisions[-NOTES_SHOWN:]:
        yield from _noted(each)
    if not ran.since and ran.note:
        yield from wrapped(f'"{ran.note}"', indent="    ")
    if ran.words:
        words = [f"{name} {text}" for name in ("entry", "middle", "exit") if (text := getattr(ran.words, name))]
        yield from wrapped(f"driver: {'; '.join(words)}", indent="    ") if words else ()
    if ran.factors and ran.against and ran.against.outing.startswith(f"{event}/"):
        beside = f"beside {_outing(ran.against.outing, event)}: {ran.against.detail}"
        yield from wrapped(beside, indent="    ", first="  = ")
    for log in ran.logs:
        yield from wrapped(_logged(log), indent="    ", first="  ! ")
    for flag in (*ran.flags, *([ran.left_out] if ran.left_out else [])):
        yield from wrapped(flag, indent="    ", first="  ! ")


def _changed(ran: OutingReport, event: str) -> Iterator[str]:
    """List what was changed: the car first, its readings and notes counted."""
    if not ran.changes or not ran.since:
        return
    what = ", ".join(ran.factors) or "nothing on the car"
    yield from wrapped(f"since {_outing(ran.since, event)}: {what}", indent="      ", first="    ")
    of_setup = [change for change in ran.changes if change.path.startswith("setup.")]
    for change in _foremost(of_setup):
        text = f"{change.path}  {leaf(change.before)} -> {with_unit(change.after, change.unit or '')}"
        yield "      " + short(text, 92)
    rest = [
        f"{many} {what}"
        for many, what in (
            (len(of_setup) - CHANGES_SHOWN, "more of the setup"),
            (len(ran.changes) - len(of_setup), "of readings and notes"),
        )
        if many > 0
    ]
    if rest:
        yield f"      fields besides: {', '.join(rest)}"


def _foremost(changes: list[LeafChange]) -> list[LeafChange]:
    """Choose what is listed: one field of each group first, and what is measured before counts and words."""
    ranked = []
    of_group = Counter[str]()
    for change in sorted(changes, key=_no_measure):
        group = change.path.rpartition(".")[0]
        ranked.append((of_group[group], _no_measure(change), change.path))
        of_group[group] += 1
    chosen = {path for _, _, path in sorted(ranked)[:CHANGES_SHOWN]}
    return [change for change in changes if change.path in chosen]


def _no_measure(change: LeafChange) -> bool:
    return change.unit in (UNSET, "", "count")


def _noted(each: RevisionNote) -> list[str]:
    from_ = f" [from {each.carried_from[:12]}]" if each.carried_from else ""
    text = "[erased]" if each.erased else f'"{each.note}"' if each.note else "no note"
    return wrapped(
        f"{when(each.at)[5:]} {each.revision[:12]} {who(each.author)}:{from_} {text}", indent="      ", first="    "
    )


def _logged(log: LogNote) -> str:
    by = f" by {log.by}" if log.by else ""
    became = f"; it became {log.taken_into[:12]}" if log.taken_into else ""
    return f"logged {when(log.at)[5:]}{by}, in no revision then: {log.words or ', '.join(log.changes)}{became}"


def _outing(name: str, event: str) -> str:
    """Name an outing of the same car: by its run in the same night."""
    of, _, run = name.split("/")
    return run if of == event else f"{of} {run}"


def _time(seconds: float | Any) -> str:
    return "-" if seconds is UNSET else f"{seconds:.3f}"
