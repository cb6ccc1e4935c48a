"""Bodies of JSON that nobody means well with, by where they are sent. All is invented.

`PUSH` goes to a sheet that exists, as a revision on its tip; `OTHER` says where else a body goes.
"""

from typing import Final

STUD: Final = "setup.front.rf.upper_stud.length_in"
MIB: Final = 1024 * 1024


def nested(opening: str, closing: str, depth: int, core: str = "1") -> str:
    """Nest so deep."""
    return opening * depth + core + closing * depth


def many(item: str, count: int) -> str:
    """Repeat an item with commas; `%d` in it is the number."""
    return ",".join(item % place if "%d" in item else item for place in range(count))


def document(text: str) -> str:
    """Push it as a whole document."""
    return f'{{"document":{text}}}'


def any_document(text: str) -> str:
    """Push it as a whole document with fields of one's own."""
    return f'{{"allow_unknown":true,"document":{text}}}'


def value(text: str, path: str = STUD) -> str:
    """Push it as one edit's value."""
    return f'{{"edits":[{{"path":"{path}","value":{text}}}]}}'


def edit_of(path: str) -> str:
    """Push an edit at a path."""
    return f'{{"allow_unknown":true,"edits":[{{"path":"{path}","value":1}}]}}'


UNREADABLE: Final = "bad_request"
UNFIT: Final = "bad_document"

PUSH: Final[dict[str, tuple[str | bytes, str]]] = {
    # No JSON at all
    "nothing": ("", UNREADABLE),
    "one brace": ("{", UNREADABLE),
    "a MiB of braces": ("{" * MIB, UNREADABLE),
    "a MiB of brackets": ("[" * MIB, UNREADABLE),
    "a MiB of quotes": ('"' * MIB, UNREADABLE),
    "a MiB of backslashes": ('"' + "\\" * (MIB - 1), UNREADABLE),
    "a MiB of spaces": (" " * MIB, UNREADABLE),
    "a MiB of one digit": ("1" * MIB, UNREADABLE),
    "a MiB of minus": ("-" * MIB, UNREADABLE),
    "a MiB of zeros behind the point": ("0." + "0" * (MIB - 2), UNREADABLE),
    "a byte order mark": (b"\xef\xbb\xbf{}", UNREADABLE),
    "UTF-16": ('{"note":"x"}'.encode("utf-16"), UNREADABLE),
    "UTF-32": ('{"note":"x"}'.encode("utf-32"), UNREADABLE),
    "no UTF-8": (b'{"note":"\xff\xfe"}', UNREADABLE),
    "an overlong slash": (b'{"note":"\xc0\xaf","edits":[]}', UNREADABLE),
    "a raw surrogate": (b'{"note":"\xed\xa0\x80","edits":[]}', UNREADABLE),
    "cut in a letter": ('{"note":"é'.encode()[:-1], UNREADABLE),
    "NUL between": (b'{"note":\x00"x"}', UNREADABLE),
    "a raw newline in text": ('{"note":"a\nb","edits":[]}', UNREADABLE),
    "single quotes": ("{'note':'x'}", UNREADABLE),
    "a comment": ('{"note":"x" /* y */}', UNREADABLE),
    "a trailing comma": ('{"edits":[],}', UNREADABLE),
    "two documents": ('{"edits":[]}{"edits":[]}', UNREADABLE),
    "XML": ('<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', UNREADABLE),
    "a form": ("note=x&edits=", UNREADABLE),
    "pickle": (b"\x80\x04\x95\x1a\x00\x00\x00\x00\x00\x00\x00\x8c\x05posix\x8c\x06system\x93.", UNREADABLE),
    "gzip": (b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff", UNREADABLE),
    # JSON of another shape
    "null": ("null", UNREADABLE),
    "true": ("true", UNREADABLE),
    "a number": ("7", UNREADABLE),
    "text": ('"edits"', UNREADABLE),
    "an array": ("[]", UNREADABLE),
    "an array of bodies": ('[{"edits":[]}]', UNREADABLE),
    "an empty object": ("{}", UNREADABLE),
    "edits and a document": ('{"edits":[],"document":{}}', UNREADABLE),
    "an unknown member": ('{"edits":[],"author":"chief"}', UNREADABLE),
    "a member of another class": ('{"__class__":"os.system","edits":[]}', UNREADABLE),
    "a prototype": ('{"__proto__":{"role":"chief"},"edits":[]}', UNREADABLE),
    "a team": ('{"team_id":"00000000-0000-0000-0000-000000000000","edits":[]}', UNREADABLE),
    "members without number": ("{" + many('"a%d":1', 60_000) + "}", UNREADABLE),
    "one name 100,000 times": ("{" + many('"note":"x"', 90_000) + "}", UNREADABLE),
    "a name of a MiB": ('{"' + "a" * (MIB - 10) + '":1}', UNREADABLE),
    "an object for edits": ('{"edits":{"path":"notes","value":1}}', UNREADABLE),
    "edits of edits": ('{"edits":[[[[]]]]}', UNREADABLE),
    "100,000 empty edits": ('{"edits":[' + many("{}", 100_000) + "]}", UNREADABLE),
    "5,001 edits": ('{"edits":[' + many('{"path":"a.b%d","value":1}', 5_001) + "]}", UNREADABLE),
    "a number for a note": ('{"note":1,"edits":[]}', UNREADABLE),
    "a long note": ('{"note":"' + "x" * 2_001 + '","edits":[]}', UNREADABLE),
    "NUL in the note": ('{"note":"a\\u0000b","edits":[]}', UNREADABLE),
    "half a surrogate in the note": ('{"note":"\\udc00","edits":[]}', UNREADABLE),
    "parents that are none": ('{"parents":["../../etc/passwd"],"edits":[]}', UNREADABLE),
    "parents in a MiB": ('{"edits":[],"parents":[' + many(f'"{"a" * 64}"', 15_000) + "]}", UNREADABLE),
    "a moment that is none": ('{"at":"yesterday","edits":[]}', UNREADABLE),
    "a moment without offset": ('{"at":"2026-11-25T00:00:00","edits":[]}', UNREADABLE),
    "a moment in the year 10000": ('{"at":"10000-01-01T00:00:00Z","edits":[]}', UNREADABLE),
    "a moment to come": ('{"at":"2999-01-01T00:00:00Z","document":{"notes":"x"}}', UNREADABLE),
    "carried from no id": ('{"carried_from":"\'; DROP TABLE entry; --","edits":[]}', UNREADABLE),
    "carried from nowhere": ('{"carried_from":"' + "ab" * 32 + '","document":{"notes":"x"}}', "not_found"),
    "text for a flag": ('{"allow_unknown":"yes","edits":[]}', UNREADABLE),
    # Numbers
    "NaN": (value("NaN"), UNREADABLE),
    "infinity": (value("-Infinity"), UNREADABLE),
    "a number of 5,000 digits": (value("9" * 5_000), UNREADABLE),
    "a number too large for a double": (value("1e400"), UNFIT),
    "just above the largest": (value("1000000000", "own.a"), UNFIT),
    "beyond 64 bits": (value("18446744073709551616", "own.a"), UNFIT),
    "an exponent of a million digits": (value("1e" + "9" * 1_000_000, "own.a"), UNFIT),
    "a leading zero": (value("01"), UNREADABLE),
    "hexadecimal": (value("0x10"), UNREADABLE),
    "a plus sign": (value("+1"), UNREADABLE),
    "a bare point": (value(".5"), UNREADABLE),
    "a number as text": (value('"1.7"'), UNFIT),
    "millimeters": (value("43.18"), UNFIT),
    "a negative length": (value("-1.7"), UNFIT),
    "true for a number": (value("true"), UNFIT),
    "null for a number": (value("null"), UNFIT),
    # Depth, breadth, length
    "objects 100,000 deep": (any_document(nested('{"a":', "}", 100_000)), UNREADABLE),
    "arrays 200,000 deep": (any_document('{"a":' + nested("[", "]", 200_000) + "}"), UNREADABLE),
    "objects 65 deep": (any_document(nested('{"a":', "}", 65)), UNFIT),
    "arrays 65 deep": (any_document('{"a":' + nested("[", "]", 65) + "}"), UNFIT),
    "a value nested 65 deep": (value(nested("[", "]", 65), "own.a"), UNFIT),
    "340,000 empty arrays": (any_document('{"a":[' + many("[]", 340_000) + "]}"), "too_large"),
    "340,000 empty objects": (any_document('{"a":[' + many("{}", 340_000) + "]}"), "too_large"),
    "130,000 empty arrays": (any_document('{"a":[' + many("[]", 130_000) + "]}"), "too_large"),
    "130,000 empty objects": (any_document('{"a":[' + many("{}", 130_000) + "]}"), "too_large"),
    "500,000 zeros": (any_document('{"a":[' + many("0", 500_000) + "]}"), "too_large"),
    "a text of a MiB": (any_document('{"a":"' + "x" * (MIB - 60) + '"}'), "too_large"),
    "a text of escapes": (any_document('{"a":"' + "\\u00e9" * 170_000 + '"}'), "too_large"),
    "100,000 fields": (document("{" + many('"n%d":1', 60_000) + "}"), "too_large"),
    "20,000 unknown fields": (document("{" + many('"n%d":1', 20_000) + "}"), UNFIT),
    "20,000 unknown fields 60 deep": (document(nested('{"a":', "}", 60, "{" + many('"n%d":1', 20_000) + "}")), UNFIT),
    "20,000 nearly known fields": (document('{"setup":{"cg":{' + many('"height_i%d":1', 15_000) + "}}}"), UNFIT),
    "above a MiB": (" " * (MIB + 1), "too_large"),
    # Names and paths
    "a name in capitals": (any_document('{"Notes":"x"}'), UNFIT),
    "a name of 49": (any_document('{"' + "a" * 49 + '":1}'), UNFIT),
    "an empty name": (any_document('{"":1}'), UNFIT),
    "a name with a dot": (any_document('{"a.b":1}'), UNFIT),
    "a name with a slash": (any_document('{"../a":1}'), UNFIT),
    "a name in another script": (any_document('{"ａ":1}'), UNFIT),
    "a name that looks like another": (any_document('{"n\u043etes":"x"}'), UNFIT),
    "a name turned round": (any_document('{"a\u202eb":1}'), UNFIT),
    "a name with NUL": (any_document('{"a\\u0000":1}'), UNREADABLE),
    "the same name twice inside": (any_document('{"a":{"b":1,"b":2}}'), UNREADABLE),
    "the same name spelled twice": (any_document('{"a":1,"\\u0061":2}'), UNREADABLE),
    "an empty path": (edit_of(""), UNFIT),
    "a path of dots": (edit_of("." * 2_000), UNFIT),
    "a path of 1,000 steps": (edit_of("a." * 999 + "a"), UNFIT),
    "a path above 2,000": (edit_of("a" * 2_001), UNREADABLE),
    "a path up and away": (edit_of("../../setup"), UNFIT),
    "a path with a star": (edit_of("setup.rods.*.length_in"), UNFIT),
    "a path with SQL": (edit_of("a';--"), UNFIT),
    "a path through a value": (edit_of("notes.more"), UNFIT),
    "the same path 5,000 times": (
        '{"edits":[' + many('{"path":"notes","value":"x"}', 5_000) + "]}",
        UNFIT,
    ),
    "5,000 unknown paths": ('{"edits":[' + many('{"path":"no.such%d","value":1}', 5_000) + "]}", UNFIT),
    "removing what is not there": ('{"edits":[{"path":"own.z","remove":true}]}', UNFIT),
    "a group for a value": (value('{"a":1}'), UNFIT),
    "an object at a leaf": (document('{"notes":{"a":1}}'), UNFIT),
    "a value at a group": (document('{"setup":1}'), UNFIT),
    "a null in an array": (any_document('{"a":[1,null]}'), UNFIT),
    "text of 4,001 letters": (document('{"notes":"' + "x" * 4_001 + '"}'), UNFIT),
    "a point of two": (value("[1,2]", "survey.front.rf.points.upper_ball_in"), UNFIT),
    "a point of 300,000": (value("[" + many("1", 300_000) + "]", "survey.front.rf.points.upper_ball_in"), "too_large"),
}
"""Body and code."""

OTHER: Final[dict[str, tuple[str, str, str | bytes, str]]] = {
    "a car of no name": ("POST", "/v1/cars", '{"car":"../7","name":"x"}', UNREADABLE),
    "a car of a long name": ("POST", "/v1/cars", '{"car":"9","name":"' + "x" * 201 + '"}', UNREADABLE),
    "a car twice": ("POST", "/v1/cars", '{"car":"9","car":"8"}', UNREADABLE),
    "a car with a team": ("POST", "/v1/cars", '{"car":"9","team":"others"}', UNREADABLE),
    "a car with NUL": ("POST", "/v1/cars", '{"car":"9","name":"a\\u0000"}', UNREADABLE),
    "a change of nothing known": ("PATCH", "/v1/cars/7", '{"id":"8"}', UNREADABLE),
    "a member who is everything": ("POST", "/v1/members", '{"name":"x","role":"owner"}', UNREADABLE),
    "a member of no name": ("POST", "/v1/members", '{"name":""}', UNREADABLE),
    "a member called merge": ("POST", "/v1/members", '{"name":"x","id":"merge"}', ""),
    "a token for ten thousand days": ("POST", "/v1/tokens", '{"label":"x","days":100000}', UNREADABLE),
    "a token chosen by the asker": ("POST", "/v1/tokens", '{"label":"x","hash":"00"}', UNREADABLE),
    "a share without end": ("POST", "/v1/shares", '{"car":"7","label":"x","until":"9999-01-01T00:00:00Z"}', ""),
    "a share of everything": (
        *("POST", "/v1/shares"),
        '{"car":"","label":"x","until":"2027-01-01T00:00:00Z"}',
        UNREADABLE,
    ),
    "a share of above": (
        *("POST", "/v1/shares"),
        '{"car":"..","label":"x","until":"2027-01-01T00:00:00Z"}',
        UNREADABLE,
    ),
    "a what-if of nothing": ("POST", "/v1/what-if", '{"revision":"%s","edits":[]}', UNREADABLE),
    "a what-if of the whole book": ("POST", "/v1/what-if", '{"revision":"a","edits":[{"path":"notes"}]}', UNREADABLE),
    "a what-if in endless steps": (
        *("POST", "/v1/what-if"),
        '{"revision":"%s","travels":{"step_in":1e-300},"edits":[{"path":"notes","value":"x"}]}',
        UNREADABLE,
    ),
    "a corner at infinity": ("POST", "/v1/cornering", '{"revision":"%s","speed_mph":1e308}', UNREADABLE),
    "a corner of two speeds": (
        *("POST", "/v1/cornering"),
        '{"revision":"%s","speed_mph":50,"radius_ft":300,"time_s":1}',
        UNREADABLE,
    ),
    "an attitude upside down": ("POST", "/v1/attitude", '{"revision":"%s","roll_deg":180}', UNREADABLE),
    "a search for everything": (
        *("POST", "/v1/searches/studs"),
        '{"revision":"%s","corner":"rf","camber_target":[[0,-4]],"most_count":1e18}',
        UNREADABLE,
    ),
    "a search over 1,000 travels": (
        *("POST", "/v1/searches/studs"),
        '{"revision":"%s","corner":"rf","camber_target":[' + many("[0,-4]", 1_000) + "]}",
        UNREADABLE,
    ),
    "a search that takes for ever": (
        *("POST", "/v1/searches/studs"),
        '{"revision":"%s","corner":"rf","camber_target":[[0,-4]],"time_s":1e9}',
        UNREADABLE,
    ),
    "a search with 41 studs": (
        *("POST", "/v1/searches/carry-over"),
        '{"revision":"%s","source":"%s","studs":[' + many('{"joint":"upper","length_in":1.7}', 41) + "]}",
        UNREADABLE,
    ),
    "a search with 10^9 of a stud": (
        *("POST", "/v1/searches/studs"),
        '{"revision":"%s","corner":"rf","camber_target":[[0,-4]],"studs":[{"joint":"upper","length_in":1,"count":1e9}]}',
        UNREADABLE,
    ),
    "perches of a step of nothing": (
        *("POST", "/v1/searches/perches"),
        '{"revision":"%s","cross_percent":51,"step_turns":0}',
        UNREADABLE,
    ),
}
"""Method, target, body (`%s` is the revision's id) and code; an empty code is any 4xx."""
