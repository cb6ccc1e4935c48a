"""Everything recorded beside setups: the kinds there are, and how they are read, recorded and answered.

One mechanism serves every kind. A record is the content of one line; its name is what follows the kind's root in the
line, such as `2026-05-02-north/7/heat-1` of `outing/2026-05-02-north/7/heat-1`.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Annotated, Any, Final, TypeVar

import msgspec
from msgspec import UNSET, Meta

from studbook.history.canonical import SLUG
from studbook.wire.entries import Answer, Edit, Merge, Note, Request, Revision, Tree, When
from studbook.wire.night import Event, Outing
from studbook.wire.parts import Part, ShopRecord
from studbook.wire.problem import FieldFault
from studbook.wire.shop import Check, Log, ScaleSession, SeriesRules, ShopTimes, Tolerances, WorkRecord
from studbook.wire.units import Opt

T = TypeVar("T", bound=msgspec.Struct)

_SLUG: Final = SLUG.pattern
_DATE: Final = r"\d{4}-\d{2}-\d{2}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordKind:
    """One kind of record.

    Attributes:
        name: of its entries.
        one, many: in names of operations and of the client's methods.
        root: first step of its lines.
        steps: what the further steps of its lines are.
        form: what those steps look like together, and `like` in words.
        body: its fields.
        filters: top-level fields of text that a list may be narrowed by, beside its steps.
        example: a name, and the body of it.
    """

    name: str
    one: str
    many: str
    root: str
    steps: tuple[str, ...]
    form: re.Pattern[str]
    like: str
    body: type[msgspec.Struct]
    about: str
    example: tuple[str, Tree]
    filters: tuple[str, ...] = ()

    @property
    def path(self) -> str:
        """Address of all of them."""
        return "/v1/" + self.many.replace("_", "-")

    def line(self, name: str) -> str:
        """Give a record's line.

        Raises:
            ValueError: that can be no name of this kind.

        Example:
            >>> KINDS["part"].line("s-041")
            'part/s-041'
        """
        if not self.form.fullmatch(name):
            raise ValueError(f"{name[:160]!r} is no name of this kind: write {self.like}")
        return f"{self.root}/{name}"

    def parts(self, name: str) -> dict[str, str]:
        """Take a name apart into its steps.

        Example:
            >>> KINDS["outing"].parts("2026-05-02-north/7/heat-1")["car"]
            '7'
        """
        return dict(zip(self.steps, name.split("/"), strict=True))


def record_name(line: str) -> str:
    """Give the name of the record of a line: all but its first step.

    Example:
        >>> record_name("outing/2026-05-02-north/7/heat-1")
        '2026-05-02-north/7/heat-1'
    """
    return line.partition("/")[2]


def _kind(
    name: str, form: str, like: str, body: type[msgspec.Struct], about: str, example: tuple[str, Tree], **given: Any
) -> RecordKind:
    given = {"one": name, "many": f"{name}s", "root": name} | given
    return RecordKind(name=name, form=re.compile(form), like=like, body=body, about=about, example=example, **given)


_REVISION: Final = "3f9a1c07be21" + "0" * 52

KINDS: Final[Mapping[str, RecordKind]] = {
    kind.name: kind
    for kind in (
        _kind(
            "event",
            f"(?=.{{1,48}}$){_DATE}-[a-z0-9_-]+",
            "DATE-PLACE, such as 2026-05-02-north",
            Event,
            "a race night",
            ("2026-05-02-north", {"date": "2026-05-02", "place": "North oval", "surface": "dirt", "length_mi": 0.375}),
            steps=("event",),
            filters=("surface", "place"),
        ),
        _kind(
            "outing",
            f"(?=[^/]{{1,48}}/){_DATE}-[a-z0-9_-]+/{_SLUG}/{_SLUG}",
            "EVENT/CAR/RUN, such as 2026-05-02-north/7/heat-1",
            Outing,
            "one time that a car went out",
            (
                "2026-05-02-north/7/heat-1",
                {"revision": _REVISION, "kind": "heat", "laps": 2, "lap_times_s": [17.42, 17.51]},
            ),
            steps=("event", "car", "run"),
            filters=("kind", "track_state", "driver"),
        ),
        _kind(
            "part",
            _SLUG,
            "the part's tag, such as s-041",
            Part,
            "a part",
            ("s-041", {"kind": "stud", "stud": {"length_in": 1.7, "taper": {"included_deg": 7.15}}, "price_usd": 45}),
            steps=("part",),
            filters=("kind", "supplier"),
        ),
        _kind(
            "shop_record",
            rf"{_SLUG}/{_DATE}-[a-z]+-\d{{1,3}}",
            "PART/DATE-WHAT-N, such as s-041/2026-05-02-fitted-1",
            ShopRecord,
            "what was done with a part",
            (
                "s-041/2026-05-02-fitted-1",
                {
                    "what": "fitted",
                    "at": "2026-05-02T16:10-05:00",
                    "place": {"where": "car", "car": "7", "corner": "rf", "slot": "upper_stud"},
                },
            ),
            root="shop",
            steps=("part", "record"),
            filters=("what",),
        ),
        _kind(
            "scale_session",
            rf"{_SLUG}/{_DATE}-\d{{1,4}}",
            "CAR/DATE-HHMM, such as 7/2026-05-01-1810",
            ScaleSession,
            "a session on the scales",
            ("7/2026-05-01-1810", {"readings_lb": [[590, 503, 718, 629], [591, 502, 717, 630]]}),
            root="weigh",
            steps=("car", "session"),
        ),
        _kind(
            "log",
            rf"{_SLUG}/{_DATE}-\d{{1,4}}",
            "CAR/DATE-HHMM, such as 7/2026-05-02-1940",
            Log,
            "what was turned before there was time to write a revision",
            (
                "7/2026-05-02-1940",
                {"changes": ["setup.rear.rr.spring.perch.thread_showing_in+=2 turns"], "words": "RR perch +2 turns"},
            ),
            steps=("car", "log"),
        ),
        _kind(
            "check",
            # Without a time: as checks were named while there was one a day.
            rf"{_SLUG}/{_DATE}(?:-\d{{1,4}})?",
            "CAR/DATE-HHMM, such as 7/2026-05-04-0930",
            Check,
            "what a car read when it came back",
            ("7/2026-05-04-0930", {"measured": {"scales": {"lf_lb": 588, "rf_lb": 506, "lr_lb": 715, "rr_lb": 631}}}),
            steps=("car", "check"),
        ),
        _kind(
            "rules",
            _SLUG,
            "a name of the team's, such as late-models",
            SeriesRules,
            "a series' limits",
            ("late-models", {"min_total_lb": 2350, "max_left_percent": 54}),
            many="rules",
            steps=("rules",),
        ),
        _kind(
            "work",
            rf"{_SLUG}/{_DATE}-\d{{1,4}}",
            "CAR/DATE-HHMM, such as 7/2026-05-02-1940",
            WorkRecord,
            "a work card as it is ticked off",
            (
                "7/2026-05-02-1940",
                {
                    "crew": 2,
                    "available_min": 45,
                    "planned": ["inspect-rf", "stud-rf-upper", "toe"],
                    "done": {
                        "inspect-rf": {
                            "at": "2026-05-02T19:55-05:00",
                            "by": "Robin",
                            "inspected": {"straight": True, "method": "light, dial", "signed_by": "Robin"},
                        }
                    },
                },
            ),
            one="work_done",
            many="work_done",
            steps=("car", "card"),
        ),
        _kind(
            "shop_times",
            "times",
            "times, of which there is one",
            ShopTimes,
            "the team's own minutes and prices",
            ("times", {"jobs": {"upper_stud": {"time_min": 20, "people": 2}}}),
            root="team",
            many="shop_times",
            steps=("times",),
        ),
        _kind(
            "tolerances",
            "tolerances",
            "tolerances, of which there is one",
            Tolerances,
            "how far a reading may be from the book",
            ("tolerances", {"corner_lb": 8, "height_in": 0.0625}),
            root="team",
            many="tolerances",
            steps=("tolerances",),
        ),
    )
}
"""By name of their entries."""

Name = Annotated[str, Meta(max_length=160, description="what follows the kind's root in the record's line")]


class NewRecord(Request):
    """A record to enter.

    Attributes:
        at: when it was recorded, if not now.
        allow_unknown: accept fields that the schema does not know.
    """

    name: Name
    document: Tree
    note: Note = ""
    at: Opt[When] = UNSET
    allow_unknown: bool = False


class RecordChange(Request):
    """What to correct about a record; on a split line it settles it: a value for each conflict, else nothing."""

    edits: Annotated[list[Edit], Meta(max_length=1000)] = []
    note: Note = ""
    at: Opt[When] = UNSET
    allow_unknown: bool = False


class Flag(FieldFault, frozen=True, kw_only=True):
    """Something about a record that cannot be. It came by exchange, or what it rests on did; at entry it is refused.

    Attributes:
        tip: which tip of a split line it is about.
    """

    tip: Opt[str] = UNSET


class Record(Answer):
    """A record as it stands: its document while its tips hold one, else their merge.

    Attributes:
        split: its tips do not hold one document; of alike ones, as two laptops enter them, the first stands for all.
        erased: what the document or merge would be made of was erased, so it is absent.
        flags: what about it cannot be.
    """

    kind: str
    name: str
    tips: list[Revision]
    tag: str
    split: bool = False
    erased: bool = False
    document: Opt[Tree] = UNSET
    merge: Opt[Merge] = UNSET
    flags: list[Flag] = []


class Records(Answer):
    """A page of records by name; `next` is the cursor of the page after it."""

    items: list[Record]
    next: Opt[str] = UNSET


def document_of(record: Record) -> Tree:
    """Give a record's document; of a split one, what all tips agree on; an empty one where it was erased.

    Example:
        >>> document_of(Record(kind="part", name="s-041", tips=[], tag="", document={"kind": "stud"}))
        {'kind': 'stud'}
    """
    return record.document or (record.merge.document if record.merge else {})


def typed(record: Record) -> Any:
    """Give a record's fields as its kind's Struct; of a split one, those that all tips agree on.

    Example:
        >>> typed(Record(kind="part", name="s-041", tips=[], tag="", document={"kind": "stud"})).kind
        'stud'
    """
    return fitting(document_of(record), KINDS[record.kind].body)


def fitting(document: Tree, form: type[T]) -> T:
    """Give a document as a Struct; what came by exchange and does not fit is left out, and is flagged elsewhere.

    Example:
        >>> fitting({"kind": "stud", "price_usd": -5}, Part).price_usd
        UNSET
    """
    try:
        return msgspec.convert(document, form)
    except msgspec.ValidationError:
        return form(**dict(_that_fit(document, form)))


def _that_fit(document: Tree, form: type[msgspec.Struct]) -> Iterator[tuple[str, Any]]:
    for field in msgspec.structs.fields(form):
        if field.name in document:
            with suppress(msgspec.ValidationError):
                yield field.name, msgspec.convert(document[field.name], field.type)
