"""The volume part of the line on whole logs: what it says, when, and that a replay can't see the future."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest

from plytide.engine.assess import assess
from plytide.engine.core import settling
from plytide.engine.core.bank import TAPE, Beliefs, make_bank
from plytide.engine.core.thickness import SINGLE
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import Constants, VolumeView, assess_volume
from plytide.engine.volume.log import Log
from plytide.engine.volume.numbers import numbers_of
from plytide.engine.volume.told import answers as answers_of
from plytide.engine.volume.told import priors
from plytide.model import CheckIn, Estimate, Limb, LimbHistory, Measurement, Pad, Sock, Socket, TapeLevel
from plytide.wire.history import assessment_to_json
from plytide.work.reassess import why_of
from seed_demo.cohort import cohort

FITTED = date(2026, 5, 1)
LADDER = [(0.7 * n, (Sock(1, "single"),) * n) for n in range(16)]


def a_log(
    need: list[float], seed: int = 0, wobble: float = 0.1, keep: float = 0.8, limb: Limb | None = None
) -> LimbHistory:
    """A careful wearer of thin single-material socks: nearest stack, honest cue."""
    rng = np.random.default_rng(seed)
    checkins = []
    for day, level in enumerate(need):
        now = level + rng.normal() * wobble
        mm, stack = min(LADDER, key=lambda rung: abs(rung[0] - now))
        fit = "loose" if now - mm > 0.25 else "tight" if mm - now > 0.25 else "good"
        if rng.random() < keep:
            when = FITTED + timedelta(days=day)
            checkins.append(CheckIn(f"c{day}", "a", when, stack, 7 - abs(round(now - mm)), time="07:30", fit=fit))
    known = limb or Limb("a", amputated_on=FITTED - timedelta(days=70), reference_circumference_mm=300)
    fitted = min(LADDER, key=lambda rung: abs(rung[0] - need[0]))[1]
    return LimbHistory(known, (Socket("s", FITTED, stack_at_fitting=fitted),), checkins=tuple(checkins))


def views(history: LimbHistory, days: list[int], **more: Thresholds) -> list[VolumeView]:
    return assess_volume([history], [[FITTED + timedelta(days=d) for d in days]], **more)[0]


def without_bands(view: VolumeView) -> VolumeView:
    """The bands are given for the last date only."""
    return replace(view, band=(), limb_band=())


def easing(days: int, total: float, tau: float) -> list[float]:
    return [1.0 + total * (1 - math.exp(-d / tau)) for d in range(days)]


def test_a_flat_need_is_called_steady_and_a_settling_one_is_not() -> None:
    flat = views(a_log([1.4] * 60), [59])[0]
    moving = views(a_log(easing(40, 4.0, 40.0)), [39])[0]
    assert flat.steady and flat.steady_since is not None and flat.settles_on is None
    assert not moving.steady and moving.settling and moving.settles_on is not None


def test_the_change_of_a_settling_limb_is_found_in_millimetres_and_percent() -> None:
    need = easing(61, 3.0, 30.0)
    view = views(a_log(need), [60])[0]
    true = need[60] - need[0]
    assert view.change_mm is not None and view.change_pct is not None and view.coming_28d_mm is not None
    assert view.change_mm.low <= true <= view.change_mm.high
    assert abs(view.change_mm.value - true) < 0.35
    radius = 300 / (2 * math.pi)
    assert view.change_pct.low <= ((1 - true / radius) ** 2 - 1) * 100 <= view.change_pct.high < 0
    assert view.coming_28d_mm.value == pytest.approx(3.0 * math.exp(-2) * -math.expm1(-28 / 30), abs=0.3)


def test_the_settling_day_is_near_the_true_one() -> None:
    """The coming change 8 e^(-d/40) (1 - e^(-28/40)) falls to 0.7 mm on day 70."""
    view = views(a_log(easing(61, 8.0, 40.0), wobble=0.15), [60])[0]
    assert view.settles_on is not None
    true = FITTED + timedelta(days=round(40 * math.log(8.0 * -math.expm1(-0.7) / 0.7)))
    assert abs((view.settles_on.date - true).days) <= 30
    assert view.settles_on.low <= true and (view.settles_on.high is None or true <= view.settles_on.high)


def test_a_settling_day_that_cannot_be_known_is_not_said_and_why() -> None:
    log = a_log(easing(60, 6.0, 200.0), wobble=0.1)
    late = [view for view in views(log, range(20, 60, 3)) if view.settling and view.settles_on is None]
    assert late, "none of these days was too early to know"
    assert all("settling-day-unknown" in {one.code for one in view.reasons} for view in late)


def test_a_sudden_loss_is_told_with_its_day_for_two_weeks_and_not_again() -> None:
    need = [1.2] * 50 + [2.3] * 60
    seen = [view.alarms for view in views(a_log(need), list(range(110)))]
    shown = [day for day, alarms in enumerate(seen) if alarms]
    assert shown and 50 <= shown[0] <= 57 and len(shown) == 14
    alarm = seen[shown[0]][0]
    assert alarm.kind == "volume-loss" and abs((alarm.since - FITTED).days - 50) <= 3
    assert alarm.evidence and alarm.size_mm.low < 1.1 < alarm.size_mm.high
    assert len({each for alarms in seen for each in alarms}) == 1


def test_the_coming_change_is_told_a_little_narrower_than_the_bank_hedges() -> None:
    history = a_log(easing(40, 4.0, 40.0))
    when = [[FITTED + timedelta(days=39)]]
    told = assess_volume([history], when)[0][0].coming_28d_mm
    whole = assess_volume([history], when, constants=Constants(drawn_in=1.0))[0][0].coming_28d_mm
    assert told is not None and whole is not None and told.value == whole.value
    assert (told.high - told.low) / (whole.high - whole.low) == pytest.approx(Constants().drawn_in)


def beliefs_of_one(rate: float, var_rate: float) -> Beliefs:
    """One limb on one day, and a bank of one member that believes in an even trend."""
    flat = np.zeros((1, 1))
    return Beliefs(
        limb=np.array([0]),
        day=np.array([50]),
        weight=flat + 1.0,
        d=flat + 1.0,
        limb_d=flat + 1.5,
        r=flat + rate,
        s=flat,
        need=flat + 2.0,
        var_d=flat + 0.04,
        var_limb_d=flat + 0.05,
        var_r=flat + var_rate,
        cov_dr=flat,
        var_s=flat + 0.01,
        var_need=flat + 0.09,
        age=np.array([100.0]),
        tail=np.array([1.0]),
    )


def test_the_coming_change_and_the_outlook_widen_as_an_even_trend_does() -> None:
    """Over h days a rate of variance v brings h^2 v, and what no law foresees h times a day's noise."""
    rate, var_rate, noise = 0.02, 0.005**2, 0.03
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=noise)
    numbers = numbers_of(beliefs_of_one(rate, var_rate), bank, 0.7, 0.92)
    for days in (28, 14, 30, 60, 90):
        middle, low, high = numbers[f"ahead{days}"][0]
        sd = math.sqrt(days**2 * var_rate + days * noise**2)
        assert middle == pytest.approx(days * rate, rel=1e-6)
        assert (high - low) / 2 == pytest.approx(0.92 * 1.6449 * sd, rel=2e-3)


def test_percent_is_that_of_a_cylinder_of_unchanged_length() -> None:
    """Geometry: (1 - t/r)^2 - 1, not its tangent."""
    view = views(a_log(easing(61, 6.0, 20.0)), [60])[0]
    assert view.change_mm is not None and view.change_pct is not None
    radius = 300 / (2 * math.pi)
    assert view.change_mm.value > 4.0
    assert view.change_pct.value == pytest.approx(((1 - view.change_mm.value / radius) ** 2 - 1) * 100)


def tapes(*days: int, by: str | None = None) -> tuple[Measurement, ...]:
    levels = (TapeLevel(50.0, 290.0), TapeLevel(100.0, 300.0))
    return tuple(Measurement(FITTED + timedelta(days=d), levels, measured_by=by, id=f"m{d}") for d in days)


@pytest.mark.parametrize(("by", "share"), [("Ida", 0.033), (None, 0.13 / 2)])
def test_two_tape_measurements_are_trusted_as_hands_repeat_themselves(by: str | None, share: float) -> None:
    """By one person to 3.3 % of circumference (te Slaa 2011), by two to 13 % of volume: 1.96 sd of the difference."""
    history = replace(a_log([1.4] * 30), measurements=tapes(0, 20, by=by))
    day0, last = np.array([FITTED.toordinal()]), np.array([30])
    answers = answers_of([Log.of(history)], day0, last, Constants(tape_drift_share=0.0))
    mine = answers.slot == TAPE
    first, second = answers.soft[mine]
    (_, between) = answers.high[mine]
    assert 1.96 * math.sqrt(first**2 + second**2 + between**2) == pytest.approx(share * 300 / (2 * math.pi))


def test_what_twelve_weeks_add_to_a_tape_is_the_published_difference() -> None:
    """te Slaa 2011: 4.4 % short term, 6.5 % after twelve weeks."""
    history = replace(a_log([1.4] * 90), measurements=tapes(0, 84, by="Ida"))
    day0, last = np.array([FITTED.toordinal()]), np.array([90])
    answers = answers_of([Log.of(history)], day0, last, Constants())
    moved = answers.high[answers.slot == TAPE][1]
    assert math.hypot(0.044, 1.96 * moved / (300 / (2 * math.pi))) == pytest.approx(0.065)


def test_a_tape_long_before_the_first_day_is_not_heard_and_a_near_one_is_of_that_day() -> None:
    history = replace(a_log([1.4] * 30), measurements=tapes(-40, -5, 20))
    day0, last = np.array([FITTED.toordinal()]), np.array([30])
    answers = answers_of([Log.of(history)], day0, last, Constants())
    assert answers.day[answers.slot == TAPE].tolist() == [0, 20]


def with_tape(history: LimbHistory, rows: list[tuple[int, float]], by: str | None = None) -> LimbHistory:
    girths = (300.0, 321.0, 357.0, 332.0)
    taken = tuple(
        Measurement(
            FITTED + timedelta(days=day),
            tuple(TapeLevel(40.0 * n, girth + by_mm) for n, girth in enumerate(girths)),
            measured_by=by,
            id=f"m{day}",
        )
        for day, by_mm in rows
    )
    return replace(history, measurements=taken)


def test_each_tape_is_told_beside_the_one_before_with_what_it_may_be_off_and_what_it_did() -> None:
    history = with_tape(a_log([1.4] * 60), [(3, 0.0), (50, -20.0)], by="Ida")
    first, second = views(history, [59])[0].tapes
    assert (first.measurement_id, first.change_pct, first.since, first.beyond) == ("m3", None, None, False)
    assert second.since == FITTED + timedelta(days=3)
    mean = (300 + 321 + 357 + 332) / 4
    assert second.change_pct == pytest.approx(100 * (((mean - 20) / mean) ** 2 - 1))
    assert second.limit_pct == pytest.approx(100 * (1 - 0.967**2))
    assert second.beyond
    assert second.moved_pct is not None and second.moved_pct < -0.05
    assert [tape.on for tape in views(history, [20])[0].tapes] == [FITTED + timedelta(days=3)]


def test_a_tape_that_says_what_the_log_does_not_is_told_with_the_reasons_and_leads_the_row() -> None:
    flat = a_log([1.4] * 60)
    (apart,) = assess(with_tape(flat, [(3, 0.0), (40, -24.0), (55, -26.0)]), [FITTED + timedelta(days=59)])
    text = next(one.text for one in apart.reasons if one.code == "tape-against-log")
    assert "do not agree: −1" in text and "% by the log" in text
    assert why_of(assessment_to_json(apart), ())[::2] == (1, text)
    for rows in ([(3, 0.0), (40, -4.0)], [(3, 0.0)]):
        (alike,) = assess(with_tape(flat, rows), [FITTED + timedelta(days=59)])
        assert "tape-against-log" not in [one.code for one in alike.reasons]


def test_a_tape_between_two_others_far_from_any_fitting_moves_the_estimate() -> None:
    plain = a_log([1.4] * 90)
    for rows in ([(40, 0.0), (85, -20.0)], [(0, 0.0), (85, -20.0)]):
        moved = views(with_tape(plain, rows, by="Ida"), [89])[0].limb_change_pct
        still = views(plain, [89])[0].limb_change_pct
        assert moved is not None and still is not None and moved.value < still.value - 0.05


# One scale across sockets


def with_a_new_socket(seed: int = 0, day: int = 50, worn: float = 1.4, days: int = 90) -> LimbHistory:
    """A limb that does not change, in a socket worn with `worn` mm from `day` on and 2.8 mm before."""
    history = a_log([2.8] * day + [worn] * (days - day), seed=seed)
    fitted = min(LADDER, key=lambda rung: abs(rung[0] - worn))[1]
    second = Socket("t", FITTED + timedelta(days=day), stack_at_fitting=fitted)
    return replace(history, sockets=(*history.sockets, second))


def test_a_new_socket_is_no_change_of_the_limb() -> None:
    """Half the sock is worn in the new socket. The limb is what it was, before and after."""
    history = with_a_new_socket()
    for view in views(history, [50, 55, 70, 89]):
        back, limb = view.change_28d_pct, view.limb_change_pct
        assert back is not None and limb is not None
        assert abs(back.value) < 1.0 and back.low <= 0.0 <= back.high
        assert abs(limb.value) < 1.0 and limb.low <= 0.0 <= limb.high


def test_the_limb_is_told_against_its_first_day_and_the_socket_against_its_own() -> None:
    need = easing(90, 3.0, 25.0)
    history = a_log(need)
    second = Socket("t", FITTED + timedelta(days=45), stack_at_fitting=LADDER[1][1])
    taller = a_log([level - (need[45] - 0.7) * (day >= 45) for day, level in enumerate(need)])
    history = replace(taller, sockets=(*history.sockets, second))
    view = views(history, [89])[0]
    assert view.reference_on == FITTED
    radius = 300 / (2 * math.pi)
    whole, own = (((1 - (need[89] - need[at]) / radius) ** 2 - 1) * 100 for at in (0, 45))
    assert view.limb_change_pct is not None and view.change_pct is not None
    assert view.limb_change_pct.low <= whole <= view.limb_change_pct.high
    assert view.limb_change_pct.value == pytest.approx(whole, abs=1.5)
    assert view.change_pct.low <= own <= view.change_pct.high
    assert view.limb_change_pct.high - view.limb_change_pct.low > view.change_pct.high - view.change_pct.low


def test_with_one_socket_the_limb_and_the_socket_say_the_same() -> None:
    view = views(a_log(easing(60, 3.0, 30.0)), [59])[0]
    assert view.limb_change_pct == view.change_pct and view.limb_band == view.band


def test_a_new_socket_widens_the_change_across_it() -> None:
    plain = a_log([1.4] * 90, seed=3)
    crossed = replace(
        plain, sockets=(*plain.sockets, Socket("t", FITTED + timedelta(days=60), stack_at_fitting=LADDER[2][1]))
    )
    one, other = views(plain, [75])[0].change_28d_pct, views(crossed, [75])[0].change_28d_pct
    assert one is not None and other is not None
    assert other.high - other.low > 1.05 * (one.high - one.low)


def test_the_socket_line_begins_anew_and_the_limbs_goes_on() -> None:
    last = views(with_a_new_socket(worn=1.4), [89])[0]
    limb = {day: estimate.value for day, estimate in last.limb_band}
    own = {day: estimate.value for day, estimate in last.band}
    border = FITTED + timedelta(days=50)
    assert own[border] == 0.0
    assert abs(limb[border] - limb[border - timedelta(days=1)]) < 0.2


def test_a_sudden_loss_is_in_the_change_over_28_days() -> None:
    history = a_log([1.2] * 50 + [2.3] * 60)
    radius = 300 / (2 * math.pi)
    said = views(history, [70])[0].change_28d_pct
    assert said is not None and said.low <= ((1 - 1.1 / radius) ** 2 - 1) * 100 <= said.high < 0


def test_the_change_over_28_days_is_what_the_limbs_own_course_lost() -> None:
    need = easing(80, 3.0, 30.0)
    radius = 300 / (2 * math.pi)
    said = views(a_log(need), [60])[0].change_28d_pct
    true = ((1 - (need[60] - need[32]) / radius) ** 2 - 1) * 100
    assert said is not None and said.low <= true <= said.high
    assert said.value == pytest.approx(true, abs=0.8)


def test_a_replay_across_sockets_and_tapes_says_what_was_said_then() -> None:
    whole = with_tape(with_a_new_socket(), [(0, 0.0), (30, -4.0), (60, -6.0), (80, -9.0)], by="Ida")
    days = [10, 49, 50, 51, 75, 89]
    for day, replayed in zip(days, views(whole, days), strict=True):
        until = FITTED + timedelta(days=day)
        known = replace(
            whole,
            checkins=tuple(c for c in whole.checkins if c.date <= until),
            sockets=tuple(s for s in whole.sockets if s.fitted_on <= until),
            measurements=tuple(m for m in whole.measurements if m.on <= until),
        )
        assert without_bands(replayed) == without_bands(views(known, [day])[0])


@pytest.mark.parametrize("weeks", [4, 10, 20])
def test_a_new_limb_is_expected_to_lose_what_the_published_curve_loses(weeks: int) -> None:
    """Tantua et al. 2014, weeks 1 to 24, as thickness: half the share of volume, of the radius."""
    limb = Limb("a", amputated_on=FITTED - timedelta(days=7 * weeks), reference_circumference_mm=300)
    known = priors([Log.of(LimbHistory(limb))], np.array([FITTED.toordinal()]))
    share = 0.097 * math.log((weeks + 4) / weeks) / (1 - 0.097 * math.log(weeks))
    assert known.coming == pytest.approx([share * 300 / (2 * math.pi) / 2])
    assert known.coming_sd == pytest.approx(0.5 * known.coming + 0.15)


def test_a_sudden_gain_is_told_the_other_way_round() -> None:
    alarms = [alarm for view in views(a_log([2.8] * 40 + [1.5] * 30), list(range(70))) for alarm in view.alarms]
    assert {alarm.kind for alarm in alarms} == {"volume-gain"}


def test_after_a_sudden_change_the_level_follows() -> None:
    view = views(a_log([1.2] * 50 + [2.3] * 30), [79])[0]
    assert view.change_mm is not None and view.change_mm.value == pytest.approx(1.1, abs=0.3)


def test_a_replay_says_what_was_said_with_the_shorter_log() -> None:
    whole = a_log(easing(70, 3.0, 25.0)[:40] + [4.2] * 30, seed=4)
    days = [5, 20, 41, 44, 69]
    for day, replayed in zip(days, views(whole, days), strict=True):
        until = FITTED + timedelta(days=day)
        short = replace(whole, checkins=tuple(c for c in whole.checkins if c.date <= until))
        alone = views(short, [day])[0]
        assert without_bands(replayed) == without_bands(alone)


def test_the_dates_asked_for_together_do_not_matter() -> None:
    history = a_log([1.4] * 60, seed=5)
    together = views(history, [20, 40, 59])
    assert without_bands(together[1]) == without_bands(views(history, [40])[0])


def test_limbs_assessed_together_are_assessed_as_alone() -> None:
    histories = [person.history for person in cohort(12, 5)]
    dates = [[h.sockets[0].fitted_on + timedelta(days=90)] for h in histories]
    for history, day, together in zip(histories, dates, assess_volume(histories, dates), strict=True):
        alone = assess_volume([history], [day])[0][0]
        assert together[0].steady == alone.steady and together[0].settles_on == alone.settles_on
        if alone.change_mm is not None:
            assert together[0].change_mm is not None
            assert together[0].change_mm.value == pytest.approx(alone.change_mm.value, abs=1e-9)


def test_a_wider_margin_is_met_sooner() -> None:
    history = a_log(easing(60, 2.4, 40.0), seed=6)
    narrow = views(history, [45], thresholds=Thresholds(steady_margin_mm=0.4))[0]
    wide = views(history, [45], thresholds=Thresholds(steady_margin_mm=2.5))[0]
    assert wide.steady and not narrow.steady


def test_socks_of_unknown_make_widen_the_percent() -> None:
    known = a_log(easing(60, 3.0, 30.0))
    unknown = replace(
        known, checkins=tuple(replace(c, stack=tuple(Sock(s.ply, "unknown") for s in c.stack)) for c in known.checkins)
    )
    wide, narrow = views(unknown, [59])[0].change_pct, views(known, [59])[0].change_pct
    assert wide is not None and narrow is not None
    assert (wide.high - wide.low) / abs(wide.value) > 1.5 * (narrow.high - narrow.low) / abs(narrow.value)


def test_a_thinner_limb_changes_by_more_percent_for_the_same_millimetres() -> None:
    need = easing(60, 2.0, 20.0)
    thin = a_log(need, limb=Limb("a", reference_circumference_mm=220))
    thick = a_log(need, limb=Limb("a", reference_circumference_mm=430))
    one, other = views(thin, [59])[0].change_pct, views(thick, [59])[0].change_pct
    assert one is not None and other is not None and one.value < 1.7 * other.value < 0


def test_bare_of_socks_a_gain_cannot_be_seen_and_that_is_said() -> None:
    view = views(a_log([0.0] * 40), [39])[0]
    assert "floor" in {reason.code for reason in view.reasons}


def test_a_silence_widens_the_interval_and_moves_nothing_before() -> None:
    history = a_log([1.4] * 40)
    early, late = views(history, [39, 89])
    assert early.change_mm is not None and late.change_mm is not None
    assert late.change_mm.high - late.change_mm.low > early.change_mm.high - early.change_mm.low
    assert without_bands(early) == without_bands(views(history, [39])[0])


def numbers(x: object) -> Iterator[float]:
    if isinstance(x, float):
        yield x
    elif isinstance(x, tuple | list):
        for each in x:
            yield from numbers(each)
    elif is_dataclass(x) and not isinstance(x, type):
        for field in fields(x):
            yield from numbers(getattr(x, field.name))


def odd_logs() -> dict[str, LimbHistory]:
    plain = a_log([1.4] * 30)
    one = plain.checkins[0]
    return {
        "empty": LimbHistory(Limb("a")),
        "a socket and no word": replace(plain, checkins=()),
        "one word": replace(plain, checkins=(one,)),
        "no socket": replace(plain, sockets=()),
        "no circumference": replace(plain, limb=Limb("a")),
        "amputated today": replace(plain, limb=Limb("a", amputated_on=FITTED)),
        "a child": replace(plain, limb=Limb("a", born_on=date(2019, 1, 1), reference_circumference_mm=180)),
        "dialysis": replace(plain, limb=Limb("a", tags=("dialysis",), reference_circumference_mm=250)),
        "a baseline far from what is worn": replace(
            plain, sockets=(Socket("s", FITTED, stack_at_fitting=(Sock(5, "single"),) * 6),)
        ),
        "a new socket in between": replace(
            plain, sockets=(*plain.sockets, Socket("t", FITTED + timedelta(days=15), stack_at_fitting=()))
        ),
        "a thick pad": replace(plain, pads=(Pad("s", FITTED + timedelta(days=10), 12.0),)),
        "five thousand in a day": replace(
            plain, checkins=tuple(replace(one, id=str(i), time=f"{i % 24:02}:{i % 60:02}") for i in range(5000))
        ),
        "twenty years of silence": replace(
            plain, checkins=(*plain.checkins, replace(one, id="late", date=FITTED + timedelta(days=7300)))
        ),
        "wild jumps": replace(
            plain,
            checkins=tuple(
                replace(c, stack=LADDER[(i * 5) % 8][1], fit=("loose", "tight")[i % 2])
                for i, c in enumerate(plain.checkins)
            ),
        ),
    }


@pytest.mark.parametrize("name", odd_logs())
def test_an_odd_log_gives_finite_numbers_and_no_warning(name: str) -> None:
    history = odd_logs()[name]
    last = max((c.date for c in history.checkins), default=FITTED)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        answers = assess_volume([history], [[FITTED - timedelta(days=3), FITTED, FITTED + timedelta(days=29), last]])[0]
    assert len(answers) == 4
    assert all(math.isfinite(x) for x in numbers(answers))
    for estimate in (view.change_pct for view in answers):
        assert estimate is None or estimate.low <= estimate.value <= estimate.high


def test_no_limbs_and_no_dates_give_nothing() -> None:
    assert assess_volume([], []) == []
    assert assess_volume([a_log([1.0] * 9)], [[]]) == [[]]


def test_the_outlook_grows_with_the_days_and_starts_at_the_coming_change() -> None:
    view = views(a_log(easing(40, 4.0, 40.0)), [39])[0]
    values = [each.if_cast_today_mm.value for each in view.outlook]
    assert [each.days for each in view.outlook] == [14, 30, 60, 90, 150, 365]
    assert values == sorted(values) and values[0] > 0
    assert view.coming_28d_mm is not None and values[0] < view.coming_28d_mm.value < values[1] * 1.05


def test_the_swing_of_the_day_is_found_from_mornings_and_evenings() -> None:
    history = a_log([1.4] * 60, wobble=0.05, keep=1.0)
    more = []
    for c in history.checkins:
        more += [c, replace(c, id=c.id + "e", moment="end_of_day", time="20:00", stack=LADDER[3][1])]
    view = views(replace(history, checkins=tuple(more)), [59])[0]
    assert view.daily_swing_pct is not None
    assert view.daily_swing_pct.value == pytest.approx(2.9, abs=0.8)  # 0.7 mm more at night, about 3 % at 300 mm


def test_the_band_holds_the_level_of_each_day_up_to_the_last_date() -> None:
    history = a_log([1.4] * 30)
    first, last = views(history, [10, 29])
    assert first.band == () and len(last.band) == 30
    day, estimate = last.band[-1]
    assert day == FITTED + timedelta(days=29) and isinstance(estimate, Estimate)
    assert last.change_pct is not None and estimate.value == pytest.approx(last.change_pct.value, abs=0.05)


def test_the_ladder_of_these_tests_is_the_published_thickness() -> None:
    assert LADDER[1][0] == SINGLE[1][0]


def test_a_limb_that_eases_off_is_best_cast_later_and_a_quiet_one_today() -> None:
    moving_view, quiet_view = views(a_log(easing(40, 6.0, 45.0)), [39])[0], views(a_log(easing(90, 0.0, 20.0)), [89])[0]
    moving, quiet = moving_view.recast, quiet_view.recast
    assert moving is not None and quiet is not None
    assert moving.best.date > moving_view.as_of
    assert moving.best.low <= moving.best.date <= moving.best.high
    assert moving.best.good_days.value > moving.now.value
    assert quiet.best.date == quiet.best.low == quiet_view.as_of
    assert quiet.now.value > moving.now.value
    for said in (moving, quiet):
        for days in (said.now, said.later, said.two_step, said.best.good_days):
            assert 0 <= days.low <= days.value <= days.high <= said.horizon_days
    assert quiet.reaches_days > moving.reaches_days


def test_steady_says_for_how_long_and_nothing_else_does() -> None:
    quiet, moving = views(a_log(easing(90, 0.0, 20.0)), [10, 89]), views(a_log(easing(40, 6.0, 45.0)), [39])[0]
    assert quiet[0].steady_for_days is None and quiet[0].recast is None
    assert quiet[1].steady and quiet[1].steady_for_days is not None and quiet[1].steady_for_days >= 28
    assert moving.steady_for_days is None
