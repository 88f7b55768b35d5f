"""The nouns that are kept or spoken, frozen. Imports nothing of ours.

Lengths are in mm, weights in kg, volumes in percent, dates are the wearer's own calendar dates.
Terms follow ISO 8549 and ISO 8548-2 where they have one (residual limb, transtibial, socket, suspension).
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from datetime import date

PLIES = (0, 1, 2, 3, 5, 6)  # 0 is a nylon sheath
MAKES = ("single", "blend", "unknown")
SIDES = ("left", "right")
LEVELS = (
    "partial_foot",
    "ankle_disarticulation",
    "transtibial",
    "knee_disarticulation",
    "transfemoral",
    "hip_disarticulation",
    "transpelvic",
)
SHAPES = ("conical", "cylindrical", "bulbous")
MOMENTS = ("putting_on", "during", "end_of_day")
FITS = ("loose", "good", "tight")
FINDINGS = (
    "redness",
    "blister",
    "open_skin",
    "discharge",
    "spreading_redness",
    "colour_change",
    "numbness",
    "rash",
    "callus",
    "swelling",
    "other",
)
# Fit signs first, then a child's signs, then the ones the emergency rules read.
SIGNS = (
    "slips_up_and_down",
    "sinks_to_bottom",
    "cannot_get_fully_in",
    "fewer_clicks",
    "more_clicks",
    "bony_point",
    "stretched_skin",
    "severe_pain",
    "sock_stuck",
    "fever_or_shivering",
    "fast_spreading_redness",
    "cold_pale_limb",
    "confusion",
)
ACTIVITIES = ("less", "usual", "more")
TAGS = (
    "dialysis",
    "illness",
    "hot_day",
    "new_medicine",
    "shrinker",
    "midday_rest",
    "new_socks",
    "travel",
    "long_standing",
)
LIMB_TAGS = (
    "diabetes",
    "vascular",
    "reduced_sensation",
    "dialysis",
    "heart_failure",
    "smoking",
    "pregnancy",
    "congenital",
)
PURPOSES = ("diagnostic", "preparatory", "definitive")
MADE = ("cast", "digital", "direct")  # cast and modified / digital / laminated directly on the limb
SUSPENSIONS = ("pin_lock", "suction", "seal_in", "sleeve", "elevated_vacuum", "strap")
MATERIALS = ("carbon", "glass", "basalt", "thermoplastic", "other")
CHOICES = ("diagnostic-now", "definitive-now", "diagnostic-then-definitive", "wait", "other")  # of a recast plan
STATES = ("gathering", "changing", "settling", "steady", "due", "held")
LANGUAGES = ("en", "es", "de", "ar")  # those the phone app speaks
SIGNAL_KINDS = (
    "volume-loss",
    "volume-gain",
    "stack-limit",
    "comfort-drop",
    "skin",
    "wear-drop",
    "fall",
    "weight",
    "silent",
    "outgrown",
)
SIGNAL_LEVELS = ("note", "call", "urgent")  # in rising order


@dataclass(frozen=True, slots=True)
class Sock:
    """One sock of a stack: the ply on its label and whether it is one material or a blend."""

    ply: int
    make: str = "unknown"


@dataclass(frozen=True, slots=True)
class SkinFinding:
    place: str
    finding: str
    redness_minutes: float | None = None


@dataclass(frozen=True, slots=True)
class CheckIn:
    """What a wearer or caregiver said at one moment. Never changed once written.

    A correction is a new check-in whose `replaces` names the old one. `offset` is minutes east of UTC.
    `received_on` is the clinic's date of arrival, None where it is not known (a history file).
    """

    id: str
    limb_id: str
    date: datetime.date
    stack: tuple[Sock, ...]
    comfort: int
    time: str | None = None  # "HH:MM", the wearer's clock
    offset: int | None = None
    moment: str = "putting_on"
    fit: str | None = None
    signs: tuple[str, ...] = ()
    pain: int | None = None
    skin: tuple[SkinFinding, ...] = ()
    skin_checked: bool = False
    hours_worn: float | None = None
    activity: str | None = None
    falls: int | None = None
    weight_kg: float | None = None
    tags: tuple[str, ...] = ()
    note: str | None = None
    prefilled: bool = False
    replaces: str | None = None
    withdrawn: bool = False  # a correction that takes the entry back
    received_on: datetime.date | None = None
    seq: int = 0  # order of arrival at the clinic; 0 where it is not known


@dataclass(frozen=True, slots=True)
class Person:
    id: str
    name: str
    born_on: date | None = None
    tags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Limb:
    """A residual limb. `tags` are the profile facts of its person that change the reading."""

    id: str
    side: str = "left"
    level: str = "transtibial"
    amputated_on: date | None = None  # None: from birth, or not known
    reference_circumference_mm: float | None = None
    shape: str | None = None
    born_on: date | None = None
    tags: tuple[str, ...] = ()
    person_id: str = ""


@dataclass(frozen=True, slots=True)
class Socket:
    id: str
    fitted_on: date
    retired_on: date | None = None
    purpose: str = "diagnostic"
    stack_at_fitting: tuple[Sock, ...] = ()
    weight_limit_kg: float | None = None
    made: str | None = None
    material: str | None = None
    suspension: str | None = None
    liner_mm: float | None = None
    note: str | None = None
    limb_id: str = ""


@dataclass(frozen=True, slots=True)
class Pad:
    socket_id: str
    on: date
    thickness_mm: float
    place: str | None = None
    id: str = ""


@dataclass(frozen=True, slots=True)
class TapeLevel:
    """A circumference at a distance from the distal end of the residual limb."""

    from_end_mm: float
    circumference_mm: float
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Measurement:
    on: date
    levels: tuple[TapeLevel, ...]
    minutes_since_doffing: float | None = None
    weight_kg: float | None = None
    measured_by: str | None = None
    id: str = ""


@dataclass(frozen=True, slots=True)
class LimbHistory:
    """All that is known of one limb: what `plytide assess` reads and the store gives."""

    limb: Limb
    sockets: tuple[Socket, ...] = ()
    pads: tuple[Pad, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    checkins: tuple[CheckIn, ...] = ()
    watched_since: date | None = None  # the day the first phone joined; None where that is not known


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its 90 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class DateEstimate:
    date: datetime.date
    low: datetime.date
    high: datetime.date | None  # None: may never come, as far as the log can tell


@dataclass(frozen=True, slots=True)
class Reason:
    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """Thickness of sock expected after `days`, if the limb were cast today."""

    days: int
    if_cast_today_mm: Estimate


@dataclass(frozen=True, slots=True)
class Signal:
    kind: str
    level: str
    since: date
    because: str
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Assessment:
    """What the engine says about one limb on one day, with its reasons."""

    limb_id: str
    as_of: date
    checkins_used: int
    change_pct: Estimate | None
    change_28d_pct: Estimate | None
    coming_28d_pct: Estimate | None
    daily_swing_pct: Estimate | None
    state: str
    since: date | None
    settles_on: DateEstimate | None
    reasons: tuple[Reason, ...]
    outlook: tuple[Outlook, ...]
    signals: tuple[Signal, ...]
    band: tuple[
        tuple[date, Estimate], ...
    ] = ()  # the slow level, day by day, for the chart (not in `assess` output)
