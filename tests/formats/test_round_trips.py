"""Laws of the three forms: what is written reads back, value for value. All documents are invented."""

from typing import Any, Literal, get_args, get_origin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studbook.formats import FORMS, Form, read, write
from studbook.history.canonical import Tree, canonical, encode
from studbook.history.changes import FieldChange, apply
from studbook.wire.fields import ANY, Field, catalog

TRICKY = [
    "",
    " leading and trailing ",
    'say "loose"',
    "two\nlines",
    "two\r\nlines",
    "old\rline",
    "a,b",
    "=1+1",
    "'=1+1",
    "-2 clicks",
    "@\t",
    "＋1",
    "true",
    "1.0",
    "1,200",
    "[1, 2]",
    "null",
    "\ttab",
    "\ufeffmark",
    "é½–",
    "'",
    "# no comment",
    "\x00\x1f\x7f",
]
TEXT = st.sampled_from(TRICKY) | st.text(st.characters(codec="utf-8"), max_size=20)
ANY_NUMBER = st.integers(-999, 999) | st.floats(-1e6, 1e6) | st.sampled_from([1e-6, 2e-6, -0.000003, 120000, 0.1])
SLUGS = st.from_regex(r"[a-z0-9][a-z0-9_-]{0,6}", fullmatch=True)
OWN_VALUES = st.recursive(
    st.booleans() | ANY_NUMBER | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.lists(st.dictionaries(SLUGS, inner, max_size=2), max_size=2),
    max_leaves=5,
)


def value_of(form: Any) -> st.SearchStrategy[Any]:
    """Draw what fits an annotated type."""
    metas = get_args(form)[1:] if hasattr(form, "__metadata__") else ()
    bare = get_args(form)[0] if metas else form
    if get_origin(bare) is Literal:
        return st.sampled_from(get_args(bare))
    if get_origin(bare) is tuple:
        return st.tuples(*(value_of(part) for part in get_args(bare))).map(list)
    if get_origin(bare) is list:
        low = next((meta.min_length for meta in metas if meta.min_length), 0)
        return st.lists(value_of(get_args(bare)[0]), min_size=low, max_size=max(low, 3))
    if bare is str:
        dates = any(meta.pattern for meta in metas)
        return st.sampled_from(["2026-05-02", "2026-05-02T18:30:00+02:00"]) if dates else TEXT
    return st.booleans() if bare is bool else number_of(bare, metas)


def number_of(bare: type, metas: tuple[Any, ...]) -> st.SearchStrategy[float]:
    """Draw a number within its bounds, of six decimals as the book keeps them."""
    least = next((meta.ge for meta in metas if meta.ge is not None), -9)
    most = next((meta.le for meta in metas if meta.le is not None), 9)
    if bare is int:
        return st.integers(least, most)
    return st.floats(least, most).map(lambda value: min(max(round(value, 6), least), most))


def leaf(known: Field) -> st.SearchStrategy[FieldChange]:
    steps = [SLUGS if step == ANY else st.just(step) for step in known.path]
    return st.builds(lambda path, value: FieldChange(path, after=value), st.tuples(*steps), value_of(known.form))


KNOWN = st.sampled_from(list(catalog().values())).flatmap(leaf)
OWN = st.builds(
    lambda path, value: FieldChange(("own", *path), after=value), st.lists(SLUGS, min_size=1, max_size=3), OWN_VALUES
)


def together(changes: list[FieldChange]) -> Tree:
    """Put leaves in one tree, passing over those that stand above or below another."""
    taken: list[tuple[str, ...]] = []
    fit = []
    for change in changes:
        clash = any(path[: len(change.path)] == change.path or change.path[: len(path)] == path for path in taken)
        if not clash:
            taken.append(change.path)
            fit.append(change)
    tree: Tree = canonical(apply(fit, {}))
    return tree


DOCUMENTS = st.lists(KNOWN | OWN, max_size=8).map(together)


@pytest.mark.parametrize("form", FORMS)
@given(document=DOCUMENTS)
def test_a_document_reads_back_as_it_was_written(form: Form, document: Tree) -> None:
    assert encode(read(write(document, form), form)) == encode(document)


@pytest.mark.parametrize("text", TRICKY)
@pytest.mark.parametrize("form", FORMS)
def test_text_stays_text_at_known_and_own_paths(form: Form, text: str) -> None:
    document: Tree = {"notes": text, "own": {"idea": text}, "setup": {"surface": text}}
    assert read(write(document, form).encode(), form) == document


@given(document=DOCUMENTS)
def test_a_table_may_gain_a_mark_and_blank_rows(document: Tree) -> None:
    assert read(("\ufeff" + write(document, "csv") + "\r\n,,\r\n").encode(), "csv") == document


@pytest.mark.parametrize("form", FORMS)
def test_a_long_text_reads_back(form: Form) -> None:
    document: Tree = {"own": {"story": 'a "word", ' * 20_000}}
    assert read(write(document, form), form) == document
