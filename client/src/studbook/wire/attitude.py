"""What the engine answers about a whole car at an attitude of its chassis: four wheels on level ground.

Signs: heave + up; roll + right side down; pitch + nose down; travel + wheel up against the chassis; camber + top
outboard, toe + in, both to the ground; steering + toward the left.
"""

from typing import Annotated

from msgspec import UNSET, Meta

from studbook.wire.answers import EngineAnswer, RollCenter
from studbook.wire.entries import Answer, Edit, Request, ShortId
from studbook.wire.figures import SubjectEffect
from studbook.wire.units import Degrees, Inches, Opt, Pounds, means, within

Heave = Annotated[float, within("in", -8, 8, "rise of the chassis origin since the survey")]
Roll = Annotated[float, within("deg", -15, 15, "since the survey, + right side down")]
Pitch = Annotated[float, within("deg", -10, 10, "since the survey, + nose down")]
Steer = Annotated[float, within("in", -5, 5, "of the rack or center link from straight ahead, + toward the left")]


class Attitude(Request):
    """An attitude of the chassis to put a revision's car at, with edits tried on it; nothing is stored.

    Attributes:
        revision: the revision.
        edits: leaves to set or remove first.
    """

    revision: ShortId
    heave_in: Heave = 0.0
    roll_deg: Roll = 0.0
    pitch_deg: Pitch = 0.0
    steer_in: Steer = 0.0
    edits: Annotated[list[Edit], Meta(max_length=5000)] = []
    allow_unknown: bool = False


class WheelStance(Answer):
    """One wheel on the ground.

    Attributes:
        travel_in: wheel center up against the chassis since the survey.
        camber_deg: to the ground.
        toe_deg: in the ground's plane, against the chassis' heading.
        patch_in: contact patch in ground axes under the chassis origin; z is 0.
        load_lb: what stands on it there.
        tire_deflection_in: by how much that squashes its tire more than at its loaded radius; + and the wheel is lower.
    """

    travel_in: Inches
    camber_deg: Degrees
    toe_deg: Degrees
    patch_in: Annotated[list[float], means("contact patch x, y, z", unit="in")]
    load_lb: Opt[Pounds] = UNSET
    tire_deflection_in: Opt[Inches] = UNSET


class CarStance(Answer):
    """The whole car at one attitude.

    Attributes:
        steer_in: of the rack or center link.
        front_roll_center, rear_roll_center: height over the ground; y from the chassis datum, in ground axes.
    """

    heave_in: Inches
    roll_deg: Degrees
    pitch_deg: Degrees
    lf: WheelStance
    rf: WheelStance
    lr: WheelStance
    rr: WheelStance
    front_roll_center: RollCenter
    rear_roll_center: RollCenter
    steer_in: Inches = 0.0


class SurveyPatch(Answer):
    """How far a tire's patch lay off the ground at the survey; `off` when by more than 0.02 in."""

    height_in: Inches
    off: bool


class AttitudeAnswer(EngineAnswer, kw_only=True):
    """A car at an attitude, beside the same car at its ride height.

    Attributes:
        ride_height: as the heights read since the survey, and what was changed since then, say that it stands.
        requested: at the attitude of the request.
        survey_patches: by corner.
        limits: what would stop a wheel or the steering before it gets there; wheels that carry nothing there.
        engaged: bump stops, droop limits and bars with slack that carry there; `past_curve` those of them that are
            pressed further than their curve was measured.
        effect: what the edits do there, when any were tried.
    """

    ride_height: CarStance
    survey_patches: dict[str, SurveyPatch]
    requested: Opt[CarStance] = UNSET
    limits: list[str] = []
    engaged: list[str] = []
    past_curve: list[str] = []
    effect: Opt[SubjectEffect] = UNSET
