"""TOML and JSON: read strictly, in bounds, with words that help."""

import pytest

from studbook.formats import Form, FormatError, form_of, read, write


@pytest.mark.parametrize(
    ("form", "text", "told"),
    [
        ("toml", "a = 2026-05-02", 'a: write the date as text, in quotes: "2026-05-02"'),
        ("toml", "[m]\na = [1, 07:30:00]", 'm.a.1: write the date as text, in quotes: "07:30:00"'),
        ("toml", "a = 1\na = 2", "not TOML: Cannot overwrite a value"),
        ("toml", "a = inf", "a: inf is not a number"),
        ("toml", "A = 1", "A: a name is 1 to 48"),
        ("toml", "a = " + "[" * 5000, "nested deeper than 64 levels"),
        ("json", '{"a": 1, "a": 2}', "'a' stands twice"),
        ("json", '{"a": null}', "a: null cannot be recorded"),
        ("json", "[1]", "a document is a group of named fields"),
        ("json", "{", "not JSON"),
        ("json", '{"measured": {"scales": {"lf_lb": 5900}}}', "5900 lb is above the most accepted, 1500 lb"),
        ("toml", "measured.scales.lf_lb = '590'", "'590' is not a number (lb)"),
    ],
)
def test_what_cannot_be_read_is_told(form: Form, text: str, told: str) -> None:
    with pytest.raises(FormatError) as caught:
        read(text, form)
    assert told in str(caught.value)


def test_all_faults_at_once() -> None:
    with pytest.raises(FormatError) as caught:
        read("measured.scales.lf_lb = 1\nmeasured.scales.rf_lb = 2\nsetup.cg.height_in = 3", "toml")
    assert [(fault.path, fault.value, fault.least, fault.unit) for fault in caught.value.faults] == [
        ("measured.scales.lf_lb", 1, 150, "lb"),
        ("measured.scales.rf_lb", 2, 150, "lb"),
        ("setup.cg.height_in", 3, 10, "in"),
    ]


def test_toml_stands_in_the_schemas_order_with_points_on_one_line() -> None:
    tree = {
        "notes": "tacky",
        "setup": {"cg": {"height_in": 17.5}},
        "survey": {"front": {"rf": {"points": {"upper_ball_in": [0.25, -27.5, 17.125]}}}},
    }
    text = write(tree, "toml")
    assert text == (
        'notes = "tacky"\n\n[survey.front.rf.points]\nupper_ball_in = [0.25, -27.5, 17.125]\n\n'
        "[setup.cg]\nheight_in = 17.5\n"
    )
    assert tree == read(text, "toml")


def test_the_ending_names_the_form() -> None:
    assert [form_of(name) for name in ("a.json", "b.TOML", "c/d.csv")] == ["json", "toml", "csv"]
    with pytest.raises(FormatError, match=r"a.xlsx: the ending must be .json, .toml or .csv"):
        form_of("a.xlsx")
