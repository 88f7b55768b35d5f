"""How an invented wearer logs: when, how often, what they feel, and what they get wrong."""

from __future__ import annotations

from dataclasses import dataclass, field

from seed_demo.courses import Piece


@dataclass(frozen=True, slots=True)
class Habit:
    """Chances are per day unless they say otherwise."""

    misses: float = 0.15  # a day without any entry; about 6 of 7 days are logged in diary studies
    morning: float = 0.85
    evening: float = 0.5
    midday_sock: float = 0.06  # adds a sock during the day, and says so
    prefilled: float = 0.25  # takes "same as yesterday" where nothing changed
    hesitates: float = 0.4  # stays with the old stack for another day
    mistakes: float = 0.008  # writes a wrong stack, and corrects it
    says_fit: float = 0.8
    comfort: float = 7.6
    hours: float = 11.0
    weighs: bool = False
    weight_kg: float = 78.0
    silent_for: int = 0  # days up to today without a word
    only_last: int | None = None  # began to log that many days ago
    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)


# What happens to people. `ago` is days before today.


@dataclass(frozen=True, slots=True)
class Skin:
    ago: int
    days: int
    place: str
    finding: str
    minutes: float | None = None
    comfort: float = 0.0
    signs: tuple[str, ...] = ()
    photo: bool = False  # the wearer photographs it, each evening


@dataclass(frozen=True, slots=True)
class Fall:
    ago: int
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Comfort:
    """Comfort changes by `points` over `over_days` and stays."""

    ago: int
    points: float
    over_days: float = 10


@dataclass(frozen=True, slots=True)
class Hours:
    """Wear time is multiplied by `share` from `ago` on, over `over_days`."""

    ago: int
    share: float
    over_days: float = 7


@dataclass(frozen=True, slots=True)
class Weight:
    """Body weight moves by `kg` over `over_days`."""

    ago: int
    kg: float
    over_days: float


@dataclass(frozen=True, slots=True)
class Tagged:
    ago: int
    days: int
    tag: str
    weekdays: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True)
class Note:
    ago: int
    text: str


@dataclass(frozen=True, slots=True)
class Signs:
    ago: int
    days: int
    signs: tuple[str, ...]
    chance: float = 0.6


Event = Skin | Fall | Comfort | Hours | Weight | Tagged | Note | Signs


@dataclass(frozen=True, slots=True)
class Fitting:
    """A socket: fitted `ago` days before today, with the stack of that day."""

    ago: int
    stack: tuple[int, ...]
    purpose: str = "preparatory"
    made: str = "cast"
    material: str = "carbon"
    suspension: str = "pin_lock"
    liner_mm: float = 3.0
    weight_limit_kg: float | None = 125.0
    note: str | None = None
    switched: tuple[int, str] | None = None  # (days ago, new suspension) on the same socket


@dataclass(frozen=True, slots=True)
class PadAdded:
    ago: int
    thickness_mm: float
    place: str
    length_mm: float | None = None
    width_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Done:
    """Something the clinic did to the socket or asked for."""

    ago: int
    kind: str
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Wearing:
    """What a wearer owns: ply to how many, one make; at most `most` at once."""

    owned: tuple[tuple[int, int], ...] = ((0, 1), (1, 2), (3, 2), (5, 2))
    make: str = "single"
    most: int = 4
    says_make: bool = True


@dataclass(frozen=True, slots=True)
class Noise:
    """Day-to-day wobble of the need, in mm of sock: standard deviation and lag-one correlation."""

    mm: float = 0.2
    correlation: float = 0.5
    swing_pct: float = 1.2  # morning to evening
    thickness: float = 0.06  # how far this wearer's socks may differ from the bench, as a share


NO_EVENTS: tuple[Event, ...] = ()
USUAL = Habit()
USUAL_SOCKS = Wearing()
USUAL_NOISE = Noise()


@dataclass(frozen=True, slots=True)
class MakingPlan:
    """A socket being made on its list of steps, begun `ago` days before today; finished, it is the plan's last socket.

    `found`: steps with what was found, and the words beside it; `ticked`: steps done that ask for nothing.
    """

    ago: int
    made: str
    purpose: str
    found: tuple[tuple[str, str | float, str], ...]
    ticked: tuple[tuple[str, str], ...] = ()
    takes: tuple[tuple[str, int], ...] = ()  # from the shelf: an item's name, how many
    finished: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """An outcome measure of a visit `ago` days before today."""

    ago: int
    kind: str
    value: float
    distance_m: float | None = None
    device: str | None = None


@dataclass(frozen=True, slots=True)
class LimbPlan:
    """A limb of the cast: what it is, where its volume goes, what is worn on it."""

    side: str
    level: str
    circumference_mm: float
    weeks_since_amputation: float | None
    course: tuple[Piece, ...]
    sockets: tuple[Fitting, ...]
    shape: str = "cylindrical"
    wearing: Wearing = USUAL_SOCKS
    noise: Noise = USUAL_NOISE
    pads: tuple[PadAdded, ...] = ()
    done: tuple[Done, ...] = ()
    events: tuple[Event, ...] = NO_EVENTS
    tape_every_days: int = 42
    expect: tuple[str, ...] = ()  # signal kinds a prosthetist would want open today
    state: tuple[str, ...] = ()  # readiness that would be fair today
    making: MakingPlan | None = None
    outcomes: tuple[Outcome, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """A member of the cast, with one line of story."""

    name: str
    age: float
    line: str
    limbs: tuple[LimbPlan, ...]
    tags: tuple[str, ...] = ()
    habit: Habit = USUAL
    events: tuple[Event, ...] = NO_EVENTS
    caregiver: str | None = None  # who writes for the wearer, or beside them
    wearer_writes: bool = True
    visits: tuple[tuple[int, str, str], ...] = field(default=())  # (days ahead, "HH:MM", what)
