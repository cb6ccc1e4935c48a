"""The flat table: what spreadsheets do to it is accepted, what is wrong is told by row, all at once."""

import csv
import io

import pytest

from studbook.formats import FormatError, lines, read, write

HEAD = "path,value,unit\n"


def faults(text: str) -> list[str]:
    with pytest.raises(FormatError) as caught:
        read(text, "csv")
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize(
    "text",
    [
        "path,value,unit\nmeasured.scales.lf_lb,590,lb\n",
        "\ufeffpath,value,unit\r\nmeasured.scales.lf_lb,590,lb\r\n",
        "path,value,unit\rmeasured.scales.lf_lb,590,lb\r",
        "\n,,\npath,value,unit\n\nmeasured.scales.lf_lb,590,lb\n,,\n \n",
        '"path","value","unit"\n"measured.scales.lf_lb","590","lb"',
        "Path, Value ,UNIT\n measured.scales.lf_lb , 590 , lb \n",
        "unit,path,value\nlb,measured.scales.lf_lb,590\n",
        "path,value\nmeasured.scales.lf_lb,590\n",
        "path,value,unit,,\nmeasured.scales.lf_lb,590,,,\n",
        "path,value,unit\nmeasured.scales.lf_lb,590.0,\n",
        "path,value,unit\nmeasured.scales.lf_lb,5.90E+02,lb\n",
        "path,value,unit\nmeasured.scales.lf_lb,+590.,lb\n",
    ],
)
def test_spreadsheets_may_spell_it_their_way(text: str) -> None:
    assert read(text, "csv") == {"measured": {"scales": {"lf_lb": 590}}}
    assert read(text.encode(), "csv") == {"measured": {"scales": {"lf_lb": 590}}}


def test_a_known_path_types_its_cell() -> None:
    text = HEAD + (
        "notes,1.0,\nsurvey.basis.driver_aboard,TRUE,\nsetup.front.rf.spring.rubber_count,2.0,count\n"
        "setup.front.rf.spring.kind, big ,\n"
        '"survey.front.rf.points.upper_ball_in","[0.25, -27.5, 17.125]",in\n'
    )
    assert read(text, "csv") == {
        "notes": "1.0",
        "survey": {
            "basis": {"driver_aboard": True},
            "front": {"rf": {"points": {"upper_ball_in": [0.25, -27.5, 17.125]}}},
        },
        "setup": {"front": {"rf": {"spring": {"rubber_count": 2, "kind": "big"}}}},
    }


def test_a_path_of_ones_own_holds_json() -> None:
    text = HEAD + 'own.a,1.50,\nown.b,true,\nown.c,"""true""",\nown.d,"[1, ""x""]",\n'
    assert read(text, "csv") == {"own": {"a": 1.5, "b": True, "c": "true", "d": [1, "x"]}}
    assert read(write(read(text, "csv"), "csv"), "csv") == read(text, "csv")


def test_every_bad_row_is_told_with_line_path_value_bound_and_unit() -> None:
    text = HEAD + (
        "measured.scales.lf_lb,5900,lb\n"
        "\n"
        'measured.scales.rf_lb,"1,200",lb\n'
        "measured.scales.lr_lb,heavy,lb\n"
        "measured.scales.rr_lb,590,kg\n"
        "setup.cg.height_in,,in\n"
        "survey.basis.driver_aboard,perhaps,\n"
        '"notes","two\nlines",\n'
        "setup.cg.height_in,17,in\n"
        "setup.cg.height_in,18,in\n"
        "setup.cg,18,\n"
        "setup.cg.hieght_in,tall,\n"
        "Setup.CG,1,\n"
        'survey.front.rf.points.upper_ball_in,"[1, 2",in\n'
        "notes.more,1,\n"
        "own,1,mm\n"
        "setup.front.rf.points,{},\n"
        "measured.scales.lf_lb,1,200,lb\n"
    )
    assert faults(text) == [
        "line 2: measured.scales.lf_lb: 5900 lb is above the most accepted, 1500 lb",
        "line 4: measured.scales.rf_lb: '1,200': write numbers without commas, and with a point before the decimals",
        "line 5: measured.scales.lr_lb: 'heavy' is not a number (lb)",
        "line 6: measured.scales.rr_lb: the unit is lb, not kg; convert the value",
        "line 7: setup.cg.height_in: the value is empty; delete the row to leave the field out",
        "line 8: survey.basis.driver_aboard: 'perhaps' is neither true nor false",
        "line 12: setup.cg.height_in: already stands on line 11",
        "line 13: setup.cg: is a group of fields, by line 11",
        (
            "line 14: setup.cg.hieght_in: no such field (nearest known: setup.cg.height_in); at a path of your own"
            ' write JSON, text in quotes: "tall"'
        ),
        "line 15: Setup.CG: is no path: names of a-z, 0-9, _ and -, joined by dots",
        (
            "line 16: survey.front.rf.points.upper_ball_in: '[1, 2' is not an array in JSON, such as [1, 2.5, 3]:"
            " not JSON: Expecting ',' delimiter: line 1 column 6 (char 5)"
        ),
        "line 17: notes.more: cannot be inside notes, a value by line 9",
        "line 18: own: has no unit, so not mm",
        "line 19: setup.front.rf.points: a group of fields: give each a row of its own",
        "line 20: 4 cells where the header has 3: put a value with a comma in quotes",
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "line 1: the first row must be the header: path,value,unit"),
        ("measured.scales.lf_lb,590,lb\n", "line 1: the first row must be the header path,value,unit; it is"),
        ("path;value;unit\n", "line 1: the first row must be the header path,value,unit; it is 'path;value;unit'"),
        ("path,value,remark\n", "line 1: the first row must be the header"),
        (HEAD + 'notes,"open\n', "line 2: not a table of comma-separated cells"),
        (HEAD + "own.a,null,\n", "line 2: own.a: null cannot be recorded"),
        (HEAD + "own.a,1e999,\n", "line 2: own.a: inf is not a number"),
    ],
)
def test_what_is_no_table_is_told(text: str, told: str) -> None:
    assert faults(text)[0].startswith(told)


def test_bytes_that_are_no_text_are_told() -> None:
    with pytest.raises(FormatError, match="not UTF-8 text at byte 2: save it as UTF-8"):
        read(b"pa\xffth", "csv")


def test_a_cell_that_a_table_cannot_hold_is_left_to_the_other_forms() -> None:
    with pytest.raises(FormatError, match=r"measured.scales.lf_lb: holds \"heavy\".*JSON and TOML can hold it"):
        write({"measured": {"scales": {"lf_lb": "heavy"}}}, "csv")


def test_rows_stand_in_the_schemas_order_then_ones_own() -> None:
    tree = {"own": {"a": 1}, "notes": "n", "setup": {"cg": {"height_in": 17}}, "survey": {"by": "Ada"}}
    assert write(tree, "csv").split("\r\n")[1:-1] == [
        "survey.by,Ada,",
        "setup.cg.height_in,17,in",
        "notes,n,",
        "own.a,1,",
    ]


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-2 clicks", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "\0=1", "＝1", "－1", "'=1"]
)
def test_text_that_a_spreadsheet_would_run_stands_behind_a_quote(text: str) -> None:
    """As OWASP's page on CSV Injection and ASVS 5.0, 1.2.10, have it; with the full-width signs of that page."""
    tree = {"notes": text, "own": {"a": text}}
    written = write(tree, "csv")
    table = list(csv.reader(io.StringIO(written, newline="")))
    assert dict(row[:2] for row in table[1:])["notes"] == f"'{text}"
    assert not any(cell[:1] in set("=+-@\t\r\n\0＝＋－＠") for row in table for cell in row if cell)
    assert read(written, "csv") == tree


def test_a_quote_of_ones_own_stays_and_numbers_are_left_alone() -> None:
    tree = {"notes": "'tis tight", "survey": {"front": {"rf": {"camber_deg": -3.5}}}, "own": {"n": -1}}
    assert write(tree, "csv").split("\r\n")[1:-1] == [
        "survey.front.rf.camber_deg,-3.5,deg",
        "notes,'tis tight,",
        "own.n,-1,",
    ]
    assert read(HEAD + "notes,-2 clicks,\n", "csv") == {"notes": "-2 clicks"}


def test_what_has_no_end_is_not_told_to_the_end() -> None:
    told = faults(HEAD + "".join(f"no.such{place},x,\n" for place in range(10_000)))
    assert len(told) == 501
    assert told[-1].endswith("too many faults: what follows was not read")
    assert faults(HEAD + "a" + ".a" * 64 + ",1,\n")[0].endswith("nested deeper than 64 levels")
    assert "is not a number" in faults(HEAD + "measured.scales.lf_lb,\u0665\u0669\u0660,lb\n")[0]


def test_lines_of_paths() -> None:
    assert lines(HEAD + '\n"notes","a\nb",\nown.a,1,\n', "csv") == {"notes": 3, "own.a": 5}
    assert lines("[a]", "toml") == {}
