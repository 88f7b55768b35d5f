"""The whole line for one limb: check-ins to series, assessment, signals, readiness. Pure; no clock."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from plytide.engine.core.bank import Bank
from plytide.engine.core.kept import Shelf
from plytide.engine.dialysis import session_swing
from plytide.engine.facts import Facts
from plytide.engine.growth import growth_of
from plytide.engine.known import is_known, lacks
from plytide.engine.readiness import readiness_of
from plytide.engine.sentences import reason
from plytide.engine.series import resolved
from plytide.engine.signals import signals_of
from plytide.engine.thresholds import DEFAULTS, Thresholds
from plytide.engine.volume import BANK, CONSTANTS, VolumeView, assess_volume
from plytide.model import Assessment, CheckIn, LimbHistory, Look, Signal

WORDS = {"settles-unknown": "From when it will be steady is not known."}


def assess(
    history: LimbHistory, as_of: Sequence[date], thresholds: Thresholds = DEFAULTS, bank: Bank = BANK
) -> list[Assessment]:
    """One assessment per date of `as_of`, each from what was written up to the end of that date."""
    return assess_caseload([history], [as_of], thresholds, bank=bank)[0]


def assess_caseload(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
    shelf: Shelf | None = None,
    chart: bool = True,
    bank: Bank = BANK,
) -> list[list[Assessment]]:
    """`assess` for many limbs in one call, which is much faster than one by one; a `shelf` makes a new day cheap."""
    readings = read_caseload(histories, as_of, thresholds, shelf, chart, bank)
    return [
        [reading.assessment(day, thresholds) for day in dates] for reading, dates in zip(readings, as_of, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class Reading:
    """A limb's log read for many dates in one pass of the engine: what stood on each, and what the volume did."""

    days: dict[date, tuple[Facts, VolumeView]]

    def assessment(
        self,
        day: date,
        thresholds: Thresholds,
        looks: tuple[date, ...] | None = None,
        looks_at: tuple[Look, ...] | None = None,
    ) -> Assessment:
        """What the clinic hears on one of the dates; with `looks`, where it has looked since the log was read, and with
        `looks_at` at what."""
        facts, view = self._seen(day, looks, looks_at)
        return assessment_of(facts, view, day, thresholds)

    def signals(
        self, day: date, thresholds: Thresholds, looks: tuple[date, ...], looks_at: tuple[Look, ...]
    ) -> tuple[Signal, ...]:
        """Of that assessment the signals alone, which are soon made."""
        facts, view = self._seen(day, looks, looks_at)
        return signals_of(facts, view, day, thresholds)

    def _seen(
        self, day: date, looks: tuple[date, ...] | None, looks_at: tuple[Look, ...] | None
    ) -> tuple[Facts, VolumeView]:
        facts, view = self.days[day]
        if looks is not None:
            facts = replace(facts, history=replace(facts.history, clinic_looks=looks, looks_at=looks_at))
        return facts, view


def read_caseload(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
    shelf: Shelf | None = None,
    chart: bool = True,
    bank: Bank = BANK,
) -> list[Reading]:
    """Many limbs, each for its own dates; a hundred dates of one limb cost little more than one."""
    known = [
        (which, standing, dates)
        for which, (history, all_dates) in enumerate(zip(histories, as_of, strict=True))
        for standing, dates in known_then(history, all_dates)
    ]
    views = assess_volume(
        [standing for _, standing, _ in known],
        [dates for _, _, dates in known],
        thresholds,
        bank=bank,
        shelf=shelf,
        chart=chart,
    )
    readings = [Reading({}) for _ in histories]
    for (which, standing, dates), row in zip(known, views, strict=True):
        facts = Facts.of(standing)
        readings[which].days.update((day, (facts, view)) for day, view in zip(dates, row, strict=True))
    return readings


def assessment_of(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> Assessment:
    """What the clinic hears of one limb on one day.

    Where nothing is known of now, no figure stands beside that: all are left out, and the reasons say why.
    """
    signals = signals_of(facts, view, day, thresholds)
    state, since, reasons = readiness_of(facts, view, signals, day, thresholds)
    last = facts.last_on(day)
    if not is_known(facts, view, day):
        # The chart still shows what was known while there was a log long enough.
        past, limb_past = (
            tuple(point for point in band if last and point[0] <= last) if view.enough else ()
            for band in (view.band, view.limb_band)
        )
        view = replace(
            view, change_pct=None, change_28d_pct=None, coming_28d_pct=None, daily_swing_pct=None, settles_on=None,
            outlook=(), band=past, limb_band=limb_past, limb_change_pct=None, recast=None,
        )  # fmt: skip
    settles = view.settles_on if state in ("settling", "changing") else None
    if settles and settles.date <= day:
        # Not steady today, and forecast to be so from today: of a day nothing is known then.
        settles, reasons = None, (*reasons, reason(WORDS, "settles-unknown"))
    swing, why = session_swing(facts, view, day)
    return Assessment(
        limb_id=facts.history.limb.id,
        as_of=day,
        checkins_used=view.checkins_used,
        change_pct=view.change_pct,
        change_28d_pct=view.change_28d_pct,
        coming_28d_pct=view.coming_28d_pct,
        daily_swing_pct=view.daily_swing_pct,
        state=state,
        since=since,
        settles_on=settles,
        reasons=(*reasons, why) if why else reasons,
        outlook=view.outlook,
        signals=signals,
        band=view.band,
        dialysis_swing_pct=swing,
        growth=growth_of(facts, view, day),
        lacks=lacks(facts, day),
        reading_tags=facts.reading_tags(day),
        limb_change_pct=view.limb_change_pct,
        reference_on=view.reference_on,
        limb_band=view.limb_band,
        tapes=view.tapes,
        recast=view.recast,
    )


def dangers_on(history: LimbHistory, day: date, thresholds: Thresholds = DEFAULTS) -> tuple[Signal, ...]:
    """The signals of the fixed rules alone, as `assess` says them of that day: they need nothing of the volume."""
    ((standing, _),) = known_then(history, [day])
    return tuple(Facts.of(standing).dangers.on(day, thresholds.redness_minutes))


def known_then(history: LimbHistory, dates: Sequence[date]) -> list[tuple[LimbHistory, list[date]]]:
    """The history with its corrections made, and the dates for which that is what was known.

    Nearly always one history for all dates. Where an entry and its correction lie on different dates, neither may
    reach back behind its own: until the later of the two, the earlier stands. Days so far on that the engine no
    longer looks back to the first are asked for one by one, since what it then sees depends on the last day asked.
    """
    moved = _corrected_to_another_date(history.checkins)
    turns = sorted({checkin.date for checkin in history.checkins if checkin.id in moved})
    begins = [checkin.date for checkin in history.checkins] + [socket.fitted_on for socket in history.sockets]
    far = min(begins, default=date.max).toordinal() + CONSTANTS.longest_days
    spans: dict[tuple[int, date | None], list[date]] = {}
    for day in dict.fromkeys(dates):
        spans.setdefault((bisect_right(turns, day), day if day.toordinal() > far else None), []).append(day)
    found = []
    for (reached, _), days in spans.items():
        unknown = set(turns[reached:])
        then = [one for one in history.checkins if not (one.id in moved and one.date in unknown)]
        found.append((replace(history, checkins=tuple(resolved(then))), days))
    return found


def _corrected_to_another_date(checkins: Sequence[CheckIn]) -> set[str]:
    """Ids of entries and corrections, of one chain, that are not all of one date."""
    if not any(checkin.replaces for checkin in checkins):
        return set()
    chain: dict[str, str] = {}

    def head(id_: str) -> str:
        while chain.get(id_, id_) != id_:
            id_ = chain[id_]
        return id_

    for checkin in checkins:
        if checkin.replaces:
            chain[head(checkin.id)] = head(checkin.replaces)
    days: dict[str, set[date]] = {}
    for checkin in checkins:
        days.setdefault(head(checkin.id), set()).add(checkin.date)
    return {checkin.id for checkin in checkins if len(days[head(checkin.id)]) > 1}
