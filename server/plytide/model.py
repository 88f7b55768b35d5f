"""The nouns that are kept or spoken, frozen. Imports nothing of ours.

Lengths are in mm, weights in kg, volumes in percent, dates are the wearer's own calendar dates.
Terms follow ISO 8549 and ISO 8548-2 where they have one (residual limb, transtibial, socket, suspension).
"""

from __future__ import annotations

import datetime
from collections.abc import Collection
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
    "swollen_warm_painful",
    "chest_pain_or_breathless",
    "bleeding_not_stopping",
    "fall_hit_head",
    "fall_cannot_bear_weight",
    "rash_spreads_or_blisters",
    "hotter_than_other_side",
    "wound_edge_opening",
    "new_numbness",  # the whole limb; the finding `numbness` is a spot
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
    "blood_thinners",
)
# What a clinician must know beside every figure, most telling first; `child` follows from the birthday.
READING_TAGS = (
    "heart_failure",
    "dialysis",
    "pregnancy",
    "diabetes",
    "vascular",
    "reduced_sensation",
    "blood_thinners",
    "smoking",
)
ADULT_YEARS = 18
PURPOSES = ("diagnostic", "preparatory", "definitive")
MADE = ("cast", "digital", "direct")  # cast and modified / digital / formed on the limb
SUSPENSIONS = ("pin_lock", "suction", "sealing_liner", "sleeve", "elevated_vacuum", "strap")
MATERIALS = ("carbon", "glass", "composite", "thermoplastic", "other")  # composite: any other fibre in a resin
# What a name was before: read for ever (older pages, kept history files), never written again.
SUSPENSION_WAS = {"seal_in": "sealing_liner"}
MATERIAL_WAS = {"basalt": "composite"}
CHOICES = (
    "diagnostic-now",
    "definitive-now",
    "diagnostic-then-definitive",
    "wait",
    "keep",
    "other",
)  # of a recast plan
STATES = ("gathering", "changing", "settling", "steady", "due", "held")
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
    signs_checked: bool = False  # whether the signs of danger were asked, so that none said is none there
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
    written_at: str | None = None  # by the phone's clock


@dataclass(frozen=True, slots=True)
class Unkept:
    """What an entry that could not be kept said of danger; `faults` are the fields it was refused for;
    none where it was begun on the phone and never saved.

    Of its check-in only that is to be read: socks and comfort stand there for no one's word.
    """

    checkin: CheckIn
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Profile:
    """What the phone went by until an instant (UTC): facts of the person, and the clinic's limit for redness."""

    until: str
    tags: tuple[str, ...]
    born_on: date | None
    redness_minutes: float


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
    deep_scar: bool | None = None  # a deep, drawn-in scar; None: not entered
    past: tuple[Profile, ...] = ()  # what held before `tags` and `born_on`, oldest first


@dataclass(frozen=True, slots=True)
class Socket:
    id: str
    fitted_on: date
    retired_on: date | None = None
    purpose: str = "preparatory"
    stack_at_fitting: tuple[Sock, ...] | None = ()  # () no sock, None not entered
    baseline_unsure: bool = False  # kept as no sock before the two were told apart: none worn, or not entered
    weight_limit_kg: float | None = None
    made: str | None = None
    material: str | None = None
    suspension: str | None = None
    liner_mm: float | None = None
    note: str | None = None
    limb_id: str = ""


@dataclass(frozen=True, slots=True)
class Pad:
    """What fills a socket beside the socks, from a day on; of a half sock the thickness is the share that counts."""

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
class Decision:
    """What was decided on a recast and not taken back."""

    on: date
    choice: str
    planned_on: date | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """A day on which the clinic acknowledged or closed a signal, of which kind and rule it was, and whether they said
    that they looked at the limb and its skin is clear."""

    on: date
    kind: str
    rule: str | None = None
    clear: bool = False


@dataclass(frozen=True, slots=True)
class LimbHistory:
    """All that is known of one limb: what `plytide assess` reads and the store gives."""

    limb: Limb
    sockets: tuple[Socket, ...] = ()
    pads: tuple[Pad, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    checkins: tuple[CheckIn, ...] = ()
    watched_since: date | None = None  # the day the first phone joined; None where that is not known
    # Days on which the clinic acknowledged or closed a safety or skin signal of the limb; None where not known.
    clinic_looks: tuple[date, ...] | None = None
    # Of what those looks were, and which of them said that the limb is clear; None where only the days are known.
    looks_at: tuple[Look, ...] | None = None
    decisions: tuple[Decision, ...] = ()  # on a recast, in the order they were made
    visits: tuple[date, ...] = ()  # booked and not cancelled, of the person, by date
    weights_elsewhere: tuple[tuple[date, float], ...] = ()  # written down with the person's other limbs
    unkept: tuple[Unkept, ...] = ()  # dangers said in entries that could not be kept
    # (entry, name) of what a caregiver's phone wrote: whom its advice was said of.
    named: tuple[tuple[str, str], ...] = ()


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


Value = str | int | float | date | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sentence:
    """What is said, before it is words of any language: a code, and by name what is filled in."""

    code: str
    values: tuple[tuple[str, Value], ...] = ()


@dataclass(frozen=True, slots=True)
class Reason:
    code: str
    text: str
    sentences: tuple[Sentence, ...] = ()  # what `text` is made of; none where it has no codes yet


@dataclass(frozen=True, slots=True)
class Outlook:
    """Thickness of sock expected after `days`, if the limb were cast today."""

    days: int
    if_cast_today_mm: Estimate


@dataclass(frozen=True, slots=True)
class BestCast:
    """The day on which a cast would give most days of good fit; 9 of 10 futures have theirs from `low` to `high`."""

    date: datetime.date
    low: datetime.date
    high: datetime.date
    good_days: Estimate


@dataclass(frozen=True, slots=True)
class Recast:
    """Days of good fit to be expected of the coming `horizon_days`: those on which the limb lies within `band_mm` of
    what the socket then worn was made for, the new one being delivered 14 days after its cast.

    If cast `now`, in three weeks (`later`), or now and again in three weeks (`two_step`: diagnostic, then definitive).
    `reaches_days`: so far ahead does the log tell the coming change to within one thin sock either way.
    """

    horizon_days: int
    band_mm: float
    now: Estimate
    later: Estimate
    two_step: Estimate
    best: BestCast
    reaches_days: int


@dataclass(frozen=True, slots=True)
class RunsOut:
    """When the sock of a growing limb is used up; None where it is not within the year that is looked ahead."""

    date: datetime.date | None
    low: datetime.date
    high: datetime.date | None


@dataclass(frozen=True, slots=True)
class Growth:
    """A growing limb: mm of sock still there that can be taken off, and when that is used up."""

    room_mm: Estimate
    runs_out: RunsOut | None


@dataclass(frozen=True, slots=True)
class Signal:
    kind: str
    level: str
    since: date
    because: str
    evidence: tuple[str, ...] = ()
    rule: str | None = None  # of the fixed safety rules, where one fired
    sentences: tuple[Sentence, ...] = ()  # what `because` is made of; none where it has no codes yet


@dataclass(frozen=True, slots=True)
class TapeHeard:
    """What one tape measurement says beside the one before it, and what it did to the estimate.

    `change_pct` of the limb's volume since `since`, at the levels measured both times; None for a first one.
    `limit_pct`: up to here two such measurements differ without any change. `moved_pct`: by how much the estimate of
    the limb's volume moved when this was heard, in percent of the limb at the reference day; None where it was not.
    """

    measurement_id: str
    on: date
    since: date | None
    change_pct: float | None
    limit_pct: float
    same_hand: bool
    moved_pct: float | None
    logged_pct: float | None = None  # the change since then as estimated with the log; None where that is not known
    # Steps that are each within the limit add up: the same since the fitting's tape, or else the first one.
    total_since: date | None = None
    total_pct: float | None = None
    total_limit_pct: float = 0.0
    total_logged_pct: float | None = None

    @property
    def beyond(self) -> bool:
        return self.change_pct is not None and abs(self.change_pct) > self.limit_pct

    @property
    def total_beyond(self) -> bool:
        return self.total_pct is not None and abs(self.total_pct) > self.total_limit_pct


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
    band: tuple[tuple[date, Estimate], ...] = ()  # the slow level, day by day, for the chart (not in `assess` output)
    limb_change_pct: Estimate | None = None  # on the limb's one scale, whatever sockets were worn
    reference_on: date | None = None  # the day on which that scale is 0
    limb_band: tuple[tuple[date, Estimate], ...] = ()  # as `band`, on the limb's one scale
    tapes: tuple[TapeHeard, ...] = ()  # not in `assess` output
    dialysis_swing_pct: Estimate | None = None  # larger before a session than on the day after it
    growth: Growth | None = None  # of a growing limb only
    lacks: tuple[Reason, ...] = ()  # what the percent rest on that is not known, in few words
    reading_tags: tuple[str, ...] = ()
    recast: Recast | None = None  # None: not known, and the reasons of the state say why


@dataclass(frozen=True, slots=True)
class Said:
    """What was told of a limb on a day, as it was kept then.

    Ranges (low, high) are in mm of sock, positive where the limb is smaller; None where no figure was told.
    """

    on: date
    state: str
    margin_mm: float
    change: tuple[float, float] | None  # since the socket worn was fitted
    coming: tuple[float, float] | None  # of the coming four weeks


def is_child(born_on: date | None, day: date) -> bool:
    return born_on is not None and (day - born_on).days < ADULT_YEARS * 365.25


def reading_tags(tags: Collection[str], born_on: date | None, day: date) -> tuple[str, ...]:
    """The facts of a person that change how everything about the limb is read, most telling first."""
    child = ("child",) if is_child(born_on, day) else ()
    return (*child, *(tag for tag in READING_TAGS if tag in tags))
