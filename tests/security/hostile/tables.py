"""Tables of CSV that nobody means well with: refused by the client's reader, or by the service. All is invented."""

from typing import Final

HEAD: Final = "path,value,unit\n"
MIB: Final = 1024 * 1024


def rows(row: str, count: int) -> str:
    """Repeat a row; `%d` in it is the number."""
    return HEAD + "".join(row % place if "%d" in row else row for place in range(count))


TABLES: Final[dict[str, str | bytes]] = {
    "nothing": "",
    "a MiB of commas": "," * MIB,
    "a MiB of quotes": '"' * MIB,
    "a MiB of newlines": "\n" * MIB,
    "a MiB of carriage returns": "\r" * MIB,
    "no text": b"path,value,unit\n\xff\xfe\xff,1,\n",
    "UTF-16": "path,value,unit\nnotes,x,\n".encode("utf-16"),
    "NUL in the header": "path\0,value,unit\nnotes,x,\n",
    "NUL in a path": HEAD + "no\0tes,x,\n",
    "no header": "notes,x,\n",
    "the header twice": HEAD + HEAD,
    "a column too many": "path,value,unit,team\nnotes,x,,others\n",
    "a column twice": "path,value,value\nnotes,x,y\n",
    "10,000 columns": ",".join(f"c{place}" for place in range(10_000)) + "\n",
    "semicolons": "path;value;unit\nnotes;x;\n",
    "an open quote": HEAD + 'notes,"' + "x" * 100_000,
    "a quote inside a cell": HEAD + 'notes,"a"b",\n',
    "a cell above a MiB": HEAD + "notes," + "x" * (MIB + 10) + ",\n",
    "80,000 rows of nothing known": rows("a%d.b,x,\n", 80_000),
    "80,000 rows in a foreign unit": rows("a%d.b,1,mm\n", 60_000),
    "80,000 rows of one field": rows("measured.scales.lf_lb,590,lb\n", 36_000),
    "80,000 rows out of bounds": rows("measured.scales.lf_lb,99999,lb\n", 32_000),
    "30,000 fields of one's own": rows("own.a%d,1,\n", 30_000),
    "a path 500,000 deep": HEAD + "a" + ".a" * 500_000 + ",1,\n",
    "a path 65 deep": HEAD + "a" + ".a" * 64 + ",1,\n",
    "a path of dots": HEAD + "." * 1_000 + ",1,\n",
    "a path up and away": HEAD + "../../setup,1,\n",
    "a formula for a path": HEAD + '=HYPERLINK("http://x"),1,\n',
    "a formula for a number": HEAD + "measured.scales.lf_lb,=1+1,lb\n",
    "a formula for a unit": HEAD + "measured.scales.lf_lb,590,=lb\n",
    "a command for a number": HEAD + "measured.scales.lf_lb,\"=cmd|'/c calc'!A1\",lb\n",
    "not a number": HEAD + "measured.scales.lf_lb,NaN,lb\n",
    "an infinite number": HEAD + "measured.scales.lf_lb,inf,lb\n",
    "a number of a MiB": HEAD + "measured.scales.lf_lb," + "9" * 1_000_000 + ",lb\n",
    "an exponent too large": HEAD + "measured.scales.lf_lb,1e999,lb\n",
    "an exponent of four digits": HEAD + "measured.scales.lf_lb,1e9999,lb\n",
    "Arabic digits": HEAD + "measured.scales.lf_lb,\u0665\u0669\u0660,lb\n",
    "a number with commas": HEAD + 'measured.scales.lf_lb,"1,200",lb\n',
    "JSON 100,000 deep": HEAD + 'own.a,"' + "[" * 100_000 + '",\n',
    "JSON with a name twice": HEAD + 'own.a,"[{""a"":1,""a"":2}]",\n',
    "JSON with null": HEAD + 'own.a,"[null]",\n',
    "JSON with half a surrogate": HEAD + 'own.a,"""\\ud800""",\n',
    "JSON of 130,000 arrays": HEAD + 'own.a,"[' + "[]," * 130_000 + '0]",\n',
    "a group and a value of one name": HEAD + "own.a,1,\nown.a.b,1,\n",
    "a value in a value": HEAD + "notes,x,\nnotes.b,1,\n",
    "text of 4,001 letters": HEAD + "notes," + "x" * 4_001 + ",\n",
}
