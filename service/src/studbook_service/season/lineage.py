"""How one revision raced follows another, and what was recorded on the way from one to the other.

The revisions on the way are those that the raced one descends from and the car's last one of that sheet does not: a
sheet that is taken up again brings only what is new on it.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from studbook.history.ancestry import ancestors
from studbook.wire.season import Descent
from studbook_service.season.inputs import RevisionHead

Heads = Mapping[str, RevisionHead]


class Way(NamedTuple):
    """The way to a revision.

    Attributes:
        detail: where it does not follow the one before.
        ids: of the revisions on it, oldest first.
    """

    descent: Descent
    detail: str
    ids: list[str]


def way(heads: Heads, id_: str, *, before: str, here: str | None) -> Way:
    """Find the way to the revision raced from the one raced before.

    `here` is the car's last one of the same sheet; None where it never raced that sheet.

    Example:
        >>> heads = {"a": RevisionHead(sheet="7/race"), "b": RevisionHead(sheet="7/race", parents=["a"], generation=1)}
        >>> way(heads, "b", before="a", here="a"), way(heads, "a", before="b", here="b").descent
        (Way(descent='follows', detail='', ids=['b']), 'back')
    """
    ids = recorded(heads, id_, since=here)
    sheet, left = heads[id_].sheet, heads[before].sheet
    if id_ == before:
        return Way("same", "", ids)
    if sheet != left:
        descent: Descent = "sheet" if _car(sheet) == _car(left) else "car"
        return Way(descent, f"of another {descent}: {sheet}, after {left}{_carried(heads, ids)}", ids)
    if descends(heads, id_, before):
        return Way("follows", "", ids)
    if not ids:
        return Way("back", "back to an earlier revision of the sheet", ids)
    return Way("side", "of another side of the split sheet: it does not follow the one raced before", ids)


def descends(heads: Heads, id_: str, from_: str) -> bool:
    """Say whether a revision is another one, or descends from it.

    Example:
        >>> heads = {"a": RevisionHead(sheet="7/race"), "b": RevisionHead(sheet="7/race", parents=["a"], generation=1)}
        >>> descends(heads, "b", "a"), descends(heads, "a", "b")
        (True, False)
    """
    return id_ in heads and from_ in heads and from_ in ancestors([id_], _above(heads, heads[from_].generation))


def recorded(heads: Heads, id_: str, *, since: str | None) -> list[str]:
    """Name a revision and what it descends from, oldest first, without what `since` is or descends from.

    Example:
        >>> heads = {"a": RevisionHead(sheet="7/race"), "b": RevisionHead(sheet="7/race", parents=["a"], generation=1)}
        >>> recorded(heads, "b", since=None), recorded(heads, "b", since="a"), recorded(heads, "a", since="b")
        (['a', 'b'], ['b'], [])
    """
    least = -1 if since is None else heads[since].generation
    found = ancestors([id_], _above(heads, least)) - {since}
    if since is not None and any(heads[each].generation <= least for each in found):
        every = _above(heads, -1)
        found = ancestors([id_], every) - ancestors([since], every)
    return sorted(found, key=lambda each: (heads[each].generation, heads[each].at_ms, each))


def _above(heads: Heads, least: int) -> Callable[[str], Sequence[str]]:
    """Give the parents of revisions above a generation; those below cannot descend from one of it."""
    return lambda id_: heads[id_].parents if heads[id_].generation > least else ()


def _carried(heads: Heads, ids: Sequence[str]) -> str:
    """Write from where the last content on the way was carried."""
    from_ = next((head.carried_from for head in (heads[id_] for id_ in reversed(ids)) if head.carried_from), "")
    if not from_:
        return ""
    of = f" of {heads[from_].sheet}" if from_ in heads else ""
    return f"; carried from {from_[:12]}{of}"


def _car(sheet: str) -> str:
    return sheet.partition("/")[0]
