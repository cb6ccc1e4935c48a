"""Documents compared as they are kept."""

from hypothesis import given, settings

from laws.documents import EDITS, WHICH, Edits, document, fork
from studbook.history.canonical import canonical, encode
from studbook.history.changes import diff
from studbook.history.encoded import diff_encoded


@given(WHICH, WHICH, EDITS, EDITS)
@settings(max_examples=40, deadline=None)
def test_the_difference_of_documents_as_kept_is_that_of_trees(which: int, other: int, one: Edits, two: Edits) -> None:
    _, left, right = fork(which, one, two)
    for before, after in ((left, right), (left, document(other)), ({}, left), (right, {})):
        assert diff_encoded(encode(canonical(before)), encode(canonical(after))) == diff(
            canonical(before), canonical(after)
        )
