"""What led from one revision raced to another, against SciPy's paths through the whole history."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse.csgraph import shortest_path

from studbook_service.season.inputs import RevisionHead
from studbook_service.season.lineage import descends, recorded, way


@st.composite
def histories(draw: st.DrawFn) -> dict[str, RevisionHead]:
    """Make a sheet's history: each revision follows one or two earlier ones, or is a first one on another laptop."""
    heads: dict[str, RevisionHead] = {}
    for number in range(draw(st.integers(1, 14))):
        parents = draw(st.lists(st.sampled_from(sorted(heads)), max_size=2, unique=True)) if heads else []
        generation = 1 + max((heads[each].generation for each in parents), default=-1)
        heads[f"{number:02}"] = RevisionHead(sheet="7/race", parents=parents, generation=generation, at_ms=number)
    return heads


def reached(heads: dict[str, RevisionHead]) -> dict[str, set[str]]:
    """Say from which revision which can be reached, itself among them."""
    names = sorted(heads)
    steps = np.array([[float(each in heads[name].parents) for each in names] for name in names])
    paths = shortest_path(steps, unweighted=True)
    return {
        name: {each for each, far in zip(names, row, strict=True) if far < np.inf}
        for name, row in zip(names, paths, strict=True)
    }


@given(histories(), st.data())
def test_it_is_what_paths_through_the_history_say(heads: dict[str, RevisionHead], data: st.DataObject) -> None:
    whole = reached(heads)
    id_, since = (data.draw(st.sampled_from(sorted(heads))) for _ in range(2))
    assert descends(heads, id_, since) is (since in whole[id_])
    found = recorded(heads, id_, since=since)
    assert set(found) == whole[id_] - whole[since]
    assert set(recorded(heads, id_, since=None)) == whole[id_]
    place = {each: number for number, each in enumerate(found)}
    assert all(place[parent] < place[each] for each in found for parent in heads[each].parents if parent in place)
    wanted = "same" if id_ == since else "follows" if since in whole[id_] else "side" if found else "back"
    assert way(heads, id_, before=since, here=since).descent == wanted


HEADS = {
    "a1": RevisionHead(sheet="7/race"),
    "a2": RevisionHead(sheet="7/race", parents=["a1"], generation=1),
    "a3": RevisionHead(sheet="7/race", parents=["a2"], generation=2),
    "b1": RevisionHead(sheet="7/slick", carried_from="a2"),
    "b2": RevisionHead(sheet="7/slick", parents=["b1"], generation=1),
    "c1": RevisionHead(sheet="12/race", carried_from="e" * 64),
}


@pytest.mark.parametrize(
    ("id_", "before", "here", "descent", "detail", "ids"),
    [
        ("a3", "a1", "a1", "follows", "", ["a2", "a3"]),
        ("a1", "a3", "a3", "back", "back to an earlier revision of the sheet", []),
        ("b2", "a3", None, "sheet", "of another sheet: 7/slick, after 7/race; carried from a2 of 7/race", ["b1", "b2"]),
        ("b2", "a3", "b1", "sheet", "of another sheet: 7/slick, after 7/race", ["b2"]),
        ("c1", "a3", None, "car", "of another car: 12/race, after 7/race; carried from eeeeeeeeeeee", ["c1"]),
    ],
)
def test_where_it_does_not_follow_it_is_said_from_where_it_is(
    id_: str, before: str, here: str | None, descent: str, detail: str, ids: list[str]
) -> None:
    assert way(HEADS, id_, before=before, here=here) == (descent, detail, ids)
