"""What takes several calls, with answers given by hand."""

import datetime as dt
from typing import Any

import msgspec
import pytest
from msgspec import UNSET

from studbook import (
    BadDocumentError,
    BadReferenceError,
    BadRequestError,
    ConflictsError,
    ErasedError,
    SplitError,
    UnchangedError,
)
from studbook.core.call import Call
from studbook.core.flows import answers, book, pushing, records
from studbook.core.pulled import Pulled, edits_since, pulled
from studbook.history.ids import tips_tag
from studbook.wire.answers import Travels
from studbook.wire.entries import Conflict, Edit, Merge, Revision, Sheet
from studbook.wire.records import KINDS, Record, Records

DOCUMENT: dict[str, Any] = {"notes": "tacky", "own": {"idea": [1, {"x": True}]}, "setup": {"cg": {"height_in": 17}}}


def revision(digit: str, *parents: str, kind: str = "sheet") -> Revision:
    return msgspec.convert(
        {
            "id": digit * 64,
            "kind": kind,
            "line": "car/7/sheet/baseline",
            "car": "7",
            "parents": [parent * 64 for parent in parents],
            "generation": 0,
            "author": {"id": "m1", "name": "Ada"},
            "at": "2026-05-02T18:30:00Z",
            "received_at": "2026-05-02T18:30:01Z",
            "note": "n",
            "content": "0" * 64,
            **({"sheet": "baseline"} if kind == "sheet" else {}),
        },
        Revision,
    )


def sheet(*tips: Revision) -> Sheet:
    return Sheet(car="7", sheet="baseline", tips=list(tips), tag="t1", split=len(tips) > 1, document=DOCUMENT)


def feed(flow: Any, *answers: Any) -> tuple[list[Call[Any]], Any]:
    """Give a flow its answers; tell what it asked and what came of it."""
    given, calls = list(answers), []
    work, answer = iter(flow), None
    while True:
        try:
            calls.append(work.send(answer))
        except StopIteration as done:
            assert not given
            return calls, done.value
        answer = given.pop(0)


def base() -> Pulled:
    return pulled(revision("a"), DOCUMENT, tag="t1")


def test_a_tip_is_pulled_in_one_call() -> None:
    calls, got = feed(book.pull("7/baseline"), sheet(revision("a")))
    assert [call.path for call in calls] == ["/v1/cars/7/sheets/baseline"]
    assert (got.car, got.sheet, got.tag, got.document()) == ("7", "baseline", "t1", DOCUMENT)


def test_steps_back_go_by_first_parents() -> None:
    calls, got = feed(
        book.pull("7/baseline~2"), sheet(revision("c", "b", "d")), revision("b", "a"), revision("a"), {"notes": "old"}
    )
    assert [call.path for call in calls][1:] == [
        f"/v1/revisions/{'b' * 64}",
        f"/v1/revisions/{'a' * 64}",
        f"/v1/revisions/{'a' * 64}/document",
    ]
    assert got.document() == {"notes": "old"}
    assert got.tag == tips_tag(["a" * 64])


def test_a_short_id_is_for_the_service_to_complete() -> None:
    calls, got = feed(book.resolve("3f9a1c~1"), revision("c", "b"), revision("b"))
    assert [call.path for call in calls] == ["/v1/revisions/3f9a1c", f"/v1/revisions/{'b' * 64}"]
    assert got.id == "b" * 64


def test_there_is_nothing_before_the_first() -> None:
    with pytest.raises(BadReferenceError, match="reached after 1"):
        feed(book.resolve("7/baseline~3"), sheet(revision("b", "a")), revision("a"))


def test_a_split_sheet_has_to_be_named_by_id() -> None:
    with pytest.raises(SplitError, match="name one of aaaaaaaaaaaa, bbbbbbbbbbbb") as caught:
        feed(book.pull("7/baseline"), sheet(revision("a"), revision("b")))
    assert caught.value.tips == ["a" * 64, "b" * 64]


def test_a_cars_own_entry_is_no_setup() -> None:
    with pytest.raises(BadReferenceError, match="not of a sheet"):
        feed(book.pull("3f9a1c"), revision("c", kind="car"), {})


def test_a_push_sends_what_differs_on_what_was_seen() -> None:
    changed = base().document()
    changed["setup"]["cg"]["height_in"] = 17.5
    del changed["notes"]
    calls, _ = feed(pushing.push(base(), changed, note="n", at=None, allow_unknown=False), None)
    assert calls[0].method == "POST"
    assert calls[0].headers["If-Match"] == '"t1"'
    assert msgspec.json.decode(calls[0].body or b"") == {
        "note": "n",
        "edits": [{"path": "notes", "remove": True}, {"path": "setup.cg.height_in", "value": 17.5}],
    }


def test_unknown_fields_survive_a_typed_edit() -> None:
    setup = base().setup()
    assert setup.setup
    assert setup.setup.cg
    setup.setup.cg.height_in = 18.0
    assert edits_since(base(), setup) == [Edit(path="setup.cg.height_in", value=18)]


def test_a_typed_group_can_be_taken_away() -> None:
    setup = base().setup()
    setup.setup = msgspec.UNSET
    assert edits_since(base(), setup) == [Edit(path="setup.cg.height_in", remove=True)]


def test_copies_do_not_reach_what_was_pulled() -> None:
    got = base()
    got.document()["notes"] = "changed"
    got.setup().notes = "changed"
    assert got.document() == DOCUMENT
    with pytest.raises(UnchangedError, match="nothing differs from aaaaaaaaaaaa of 7/baseline"):
        edits_since(got, got.document())


def test_what_the_book_cannot_hold_is_told_before_a_request() -> None:
    with pytest.raises(BadDocumentError, match="notes: null cannot be recorded"):
        edits_since(base(), {"notes": None})


def test_a_document_of_another_book_may_not_fit_the_types() -> None:
    got = pulled(revision("a"), {"measured": {"scales": {"lf_lb": 9999}}}, tag="t1")
    with pytest.raises(BadDocumentError, match="9999 lb is above the most accepted"):
        got.setup()
    assert got.document() == {"measured": {"scales": {"lf_lb": 9999}}}


def test_effects_are_against_the_first_parent_unless_said() -> None:
    calls, _ = feed(answers.effects("7/baseline", since=None, travels=None), sheet(revision("b", "a")), None)
    assert calls[-1].query == (("since", "a" * 64),)
    with pytest.raises(BadReferenceError, match="is the first revision"):
        feed(answers.effects("7/baseline", since=None, travels=None), sheet(revision("a")))
    calls, _ = feed(
        answers.effects("7/baseline", since="3f9a1c", travels=Travels(low_in=-5)),
        sheet(revision("b", "a")),
        revision("3"),
        None,
    )
    assert calls[-1].query == (("since", "3" * 64), ("low_in", "-5"), ("high_in", "4"), ("step_in", "0.25"))


def test_a_revert_says_where_it_came_from() -> None:
    calls, _ = feed(
        pushing.carry("7/baseline~1", "7/baseline", fields=(), note="back", at=None, new=False),
        sheet(revision("b", "a")),
        revision("a"),
        DOCUMENT,
        sheet(revision("b", "a")),
        None,
    )
    sent = msgspec.json.decode(calls[-1].body or b"")
    assert (sent["carried_from"], sent["document"], sent["note"]) == ("a" * 64, DOCUMENT, "back")


def test_a_new_sheet_must_not_exist() -> None:
    calls, _ = feed(
        pushing.new_sheet(
            "7/tacky", DOCUMENT, note="", at=None, carried_from=None, elsewhere=False, allow_unknown=False
        ),
        None,
    )
    assert calls[0].headers["If-None-Match"] == "*"
    assert "If-Match" not in calls[0].headers
    assert calls[0].headers["Idempotency-Key"]


def test_a_name_is_checked_before_it_stands_in_a_path() -> None:
    with pytest.raises(BadReferenceError, match="is no name"):
        feed(book.change_car("../x", name="n", number=None, retired=None, note=""))


def test_chosen_fields_are_carried_as_edits() -> None:
    source = pulled(revision("a"), {"setup": {"cg": {"height_in": 17.5}, "rear": {"x": 1}}, "notes": "slick"})
    present = sheet(revision("b"))
    fields = ["setup.cg", "notes"]
    calls, _ = feed(pushing.carry(source, "7/baseline", fields=fields, note="", at=None, new=False), present, None)
    sent = msgspec.json.decode(calls[-1].body or b"")
    assert sent["edits"] == [{"path": "notes", "value": "slick"}, {"path": "setup.cg.height_in", "value": 17.5}]
    assert (sent["carried_from"], sent["elsewhere"]) == ("a" * 64, True)
    calls, _ = feed(pushing.carry(source, "7/new", fields=["setup.cg"], note="", at=None, new=True), None)
    assert msgspec.json.decode(calls[-1].body or b"")["document"] == {"setup": {"cg": {"height_in": 17.5}}}
    with pytest.raises(BadReferenceError, match=r"7/baseline at aaaaaaaaaaaa has no setup\.front"):
        feed(pushing.carry(source, "7/baseline", fields=["setup.front"], note="", at=None, new=False))
    same = pulled(revision("a"), DOCUMENT)
    with pytest.raises(UnchangedError):
        feed(pushing.carry(same, "7/baseline", fields=["setup.cg"], note="", at=None, new=False), present)


def test_a_group_that_is_carried_takes_away_what_it_lacks() -> None:
    source = pulled(revision("a"), {"own": {"other": 1}})
    calls, _ = feed(
        pushing.carry(source, "7/baseline", fields=["own"], note="", at=None, new=False), sheet(revision("b")), None
    )
    edits = msgspec.json.decode(calls[-1].body or b"")["edits"]
    assert edits == [{"path": "own.idea", "remove": True}, {"path": "own.other", "value": 1}]


def split_sheet(*conflicts: str) -> Sheet:
    merge = Merge(bases=["r" * 64], document=DOCUMENT, conflicts=[Conflict(path=path, sides=[]) for path in conflicts])
    seen = sheet(revision("a"), revision("b"))
    seen.merge = merge
    return seen


def settle(seen: Sheet, choices: dict[str, Any], *remove: str) -> Any:
    flow = pushing.settle(seen, choices, remove=remove, note="n", at=None, allow_unknown=False)
    calls, _ = feed(flow, None)
    assert calls[0].headers["If-Match"] == '"t1"'
    return msgspec.json.decode(calls[0].body or b"")


def test_a_choice_for_each_conflict_is_pushed_on_all_tips() -> None:
    seen = split_sheet("setup.front.rf.upper_stud.length_in", "own.group")
    sent = settle(seen, {"setup.front.rf.upper_stud.length_in": 1.7, "own.group.x": 1, "notes": "both"})
    assert sent["parents"] == ["a" * 64, "b" * 64]
    front = {"rf": {"upper_stud": {"length_in": 1.7}}}
    setup = {"setup": {"cg": {"height_in": 17}, "front": front}}
    assert sent["document"] == DOCUMENT | {"notes": "both", "own": {**DOCUMENT["own"], "group": {"x": 1}}} | setup


def test_a_conflict_may_be_left_out() -> None:
    assert settle(split_sheet("setup.x"), {}, "setup.x", "notes")["document"] == {
        name: value for name, value in DOCUMENT.items() if name != "notes"
    }


def test_what_cannot_be_settled_is_not_sent() -> None:
    with pytest.raises(ConflictsError, match=r"choose a value for setup\.x, setup\.y"):
        settle(split_sheet("setup.x", "setup.y"), {"setup.xy": 1})
    with pytest.raises(BadDocumentError, match="notes holds a value"):
        settle(split_sheet(), {"notes.inside": 1})
    with pytest.raises(BadRequestError, match="7/baseline is not split"):
        settle(sheet(revision("a")), {})
    partly = sheet(revision("a"), revision("b"))
    partly.erased = True
    with pytest.raises(ErasedError, match="whole document"):
        settle(partly, {})


def test_an_erased_document_is_not_pulled() -> None:
    gone = sheet(revision("a"))
    gone.document, gone.erased = UNSET, True
    with pytest.raises(ErasedError, match="pull an earlier revision"):
        feed(book.pull("7/baseline"), gone)


def test_accepting_names_what_was_seen() -> None:
    calls, _ = feed(pushing.accept(split_sheet()), None)
    assert (calls[0].method, calls[0].path) == ("POST", "/v1/cars/7/sheets/baseline/merge")
    assert calls[0].headers["If-Match"] == '"t1"'
    assert calls[0].headers["Idempotency-Key"]
    assert calls[0].body is None


@pytest.mark.parametrize("kind", ["scale_session", "work", "log"])
def test_two_laptops_seldom_choose_one_name_for_two_things(kind: str) -> None:
    def named(at: str, *taken: str) -> str:
        flow = records.timed_name(kind, "7", dt.datetime.fromisoformat(at))
        assert next(flow).path == KINDS[kind].path
        items = [Record(kind=kind, name=name, tips=[], tag="") for name in taken]
        with pytest.raises(StopIteration) as end:
            flow.send(Records(items=items))
        return str(end.value.value)

    # Neither laptop knows of the other's.
    names = [named("2026-05-02T19:40-05:00"), named("2026-05-02T19:52-05:00"), named("2026-05-02T09:05-05:00")]
    assert names == ["7/2026-05-02-1940", "7/2026-05-02-1952", "7/2026-05-02-0905"]
    assert named("2026-05-02T19:40-05:00", *names) == "7/2026-05-02-1941"
    assert all(KINDS[kind].form.fullmatch(name) for name in (*names, "7/2026-05-02-1"))
