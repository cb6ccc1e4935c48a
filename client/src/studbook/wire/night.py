"""A race night: the event, and each time a car went out."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta

from studbook.wire.entries import Id
from studbook.wire.setup.common import FieldGroup, Name, Text
from studbook.wire.units import Opt, exactly, means, within

Date = Annotated[str, Meta(pattern=r"^\d{4}-\d{2}-\d{2}$", description="a date, such as 2026-05-02")]
Moment = Annotated[
    str,
    Meta(
        pattern=r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2})?(Z|[+-]\d{2}:\d{2})$",
        description="a time with its offset from UTC, such as 2026-05-02T19:40-05:00",
    ),
]
Temperature = Annotated[float, within("deg_f", -20, 350)]
TrackState = Literal["wet", "heavy", "tacky", "slick", "dry_slick", "rubbered", "cushion", "green"]
"""How the surface was. Common practice, no source; `green` is clean asphalt before rubber is down."""


class Event(FieldGroup):
    """One night at one place. Its name in the book is `DATE-PLACE`, such as `2026-05-02-north`."""

    name: Opt[Name] = UNSET
    place: Opt[Annotated[str, means("the track, as the team calls it", most=200)]] = UNSET
    date: Opt[Date] = UNSET
    surface: Opt[Literal["dirt", "asphalt", "concrete"]] = UNSET
    length_mi: Opt[Annotated[float, within("mi", 0.1, 3, "once round", usual=(0.19, 1.1))]] = UNSET
    banking_deg: Opt[Annotated[float, within("deg", 0, 40, "in the corners", usual=(0, 25))]] = UNSET
    corner_radius_ft: Opt[Annotated[float, within("ft", 30, 3000, usual=(90, 700))]] = UNSET
    notes: Opt[Text] = UNSET


class Weather(FieldGroup):
    """The weather while it ran."""

    air_deg_f: Opt[Annotated[float, within("deg_f", -20, 130)]] = UNSET
    track_deg_f: Opt[Annotated[float, within("deg_f", -20, 200, "of the surface")]] = UNSET
    humidity_percent: Opt[Annotated[float, within("percent", 0, 100)]] = UNSET
    wind_mph: Opt[Annotated[float, within("mph", 0, 100)]] = UNSET
    sky: Opt[Literal["clear", "cloudy", "overcast", "rain"]] = UNSET


class Words(FieldGroup):
    """The driver's words."""

    entry: Opt[Text] = UNSET
    middle: Opt[Text] = UNSET
    exit: Opt[Text] = UNSET


class TireRun(FieldGroup):
    """What one tire showed."""

    temps_deg_f: Opt[
        Annotated[
            list[Temperature], exactly(3, "across the tread: toward the car's middle, center, outside", unit="deg_f")
        ]
    ] = UNSET
    pressure_before_psi: Opt[Annotated[float, within("psi", 2, 60, usual=(4, 45))]] = UNSET
    pressure_after_psi: Opt[Annotated[float, within("psi", 2, 70, usual=(4, 50))]] = UNSET
    rollout_before_in: Opt[Annotated[float, within("in", 70, 100)]] = UNSET
    rollout_after_in: Opt[Annotated[float, within("in", 70, 100)]] = UNSET
    part: Opt[Annotated[str, means("its tag in the book", most=48)]] = UNSET


class TireRuns(FieldGroup):
    """The four tires."""

    lf: Opt[TireRun] = UNSET
    rf: Opt[TireRun] = UNSET
    lr: Opt[TireRun] = UNSET
    rr: Opt[TireRun] = UNSET


class StaggerRun(FieldGroup):
    """Rollout right minus left, before and after."""

    front_before_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET
    front_after_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET
    rear_before_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET
    rear_after_in: Opt[Annotated[float, within("in", -2, 8)]] = UNSET


class ShockTravels(FieldGroup):
    """How far each shock went in, by the ring on its shaft."""

    lf_in: Opt[Annotated[float, within("in", 0, 12)]] = UNSET
    rf_in: Opt[Annotated[float, within("in", 0, 12)]] = UNSET
    lr_in: Opt[Annotated[float, within("in", 0, 12)]] = UNSET
    rr_in: Opt[Annotated[float, within("in", 0, 12)]] = UNSET


class Outing(FieldGroup):
    """One time that one car went out. Its name in the book is `EVENT/CAR/RUN`, such as `2026-05-02-north/7/heat-1`.

    Attributes:
        revision: the full id of the setup as raced: correcting anything later never changes what that was.
    """

    revision: Opt[Id] = UNSET
    kind: Opt[Literal["practice", "hot_laps", "qualifying", "heat", "b_main", "feature", "test"]] = UNSET
    started_at: Opt[Moment] = UNSET
    driver: Opt[Name] = UNSET
    laps: Opt[Annotated[int, within("count", 0, 600, "laps run")]] = UNSET
    lap_times_s: Opt[
        Annotated[
            list[Annotated[float, within("s", 5, 900, usual=(8, 150))]],
            means("every lap in order, as many as `laps` says", unit="s", most=600),
        ]
    ] = UNSET
    start_place: Opt[Annotated[int, within("count", 1, 200)]] = UNSET
    finish_place: Opt[Annotated[int, within("count", 1, 200)]] = UNSET
    track_state: Opt[TrackState] = UNSET
    groove: Opt[Annotated[str, means("where on the track", most=200)]] = UNSET
    weather: Opt[Weather] = UNSET
    words: Opt[Words] = UNSET
    tires: Opt[TireRuns] = UNSET
    stagger: Opt[StaggerRun] = UNSET
    shock_travel: Opt[ShockTravels] = UNSET
    fuel_burned_lb: Opt[Annotated[float, within("lb", 0, 270)]] = UNSET
    notes: Opt[Text] = UNSET
