"""A typed error for each problem code; its text is one line with the field and the request."""

import importlib.metadata

import msgspec
import pytest

import studbook
from studbook.core.errors import InternalError, RefusedError, StaleError, UnreadableAnswerError, local, refused
from studbook.wire.problem import TITLES, FieldFault, Problem


def problem(code: str, **more: object) -> bytes:
    return msgspec.json.encode(
        {"type": f"urn:studbook:problem:{code}", "title": "T", "status": 400, "code": code, "request_id": "r1", **more}
    )


@pytest.mark.parametrize("code", TITLES)
def test_each_code_has_its_class(code: str) -> None:
    error = refused(400, problem(code))
    assert isinstance(error, RefusedError)
    assert type(error) is not RefusedError
    assert type(error).of == error.code == code
    assert getattr(studbook, type(error).__name__) is type(error)


def test_a_code_of_a_later_service_is_still_a_refusal() -> None:
    error = refused(400, problem("later"))
    assert type(error) is RefusedError
    assert error.code == "later"


def test_the_text_is_one_line_with_the_field_and_the_request() -> None:
    faults = [FieldFault(detail="a.b: 5 in is above\nthe most, 3 in", path="a.b"), FieldFault(detail="c: no")]
    error = refused(422, problem("bad_document", errors=faults))
    assert str(error) == "T: a.b: 5 in is above the most, 3 in (and 1 more) [request r1]"
    assert isinstance(error, RefusedError)
    assert [fault.path for fault in error.faults] == ["a.b", msgspec.UNSET]


def test_stale_says_where_the_sheet_is_now() -> None:
    error = refused(412, problem("stale", tag="t1", tips=["ab"]))
    assert isinstance(error, StaleError)
    assert (error.tag, error.tips) == ("t1", ["ab"])


@pytest.mark.parametrize("body", [b"", b"<html>", b"[]", b'{"code": "stale"}', b"\xff"])
def test_what_is_no_problem_is_no_answer_of_the_service(body: bytes) -> None:
    error = refused(502, body)
    assert isinstance(error, UnreadableAnswerError)
    assert "502" in str(error)


def test_a_refusal_made_here_has_no_request() -> None:
    assert str(local("split", "it is split", tips=["a"])) == "it is split"


def test_errors_have_one_base() -> None:
    assert issubclass(InternalError, studbook.StudbookError)
    assert Problem.__struct_fields__[0] == "type"


def test_the_package_knows_its_version() -> None:
    assert studbook.__version__ == importlib.metadata.version("studbook")
    assert not hasattr(studbook, "nothing_of_the_kind")
