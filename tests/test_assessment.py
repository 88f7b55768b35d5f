"""The volume part of the line on whole logs: what it says, when, and that a replay can't see the future."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest

from plytide import assessment
from plytide.assessment import Settings, VolumeView, assess_volume
from plytide.core import settling
from plytide.core.bank import TAPE, Beliefs, make_bank
from plytide.core.thickness import SINGLE
from plytide.model import CheckIn, Estimate, Limb, LimbHistory, Measurement, Pad, Sock, Socket, TapeLevel
from plytide.series import series_of
from plytide.thresholds import Thresholds
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


def test_a_sudden_loss_is_told_with_its_day_for_two_weeks_and_not_again() -> None:
    need = [1.2] * 50 + [2.3] * 60
    seen = [view.alarms for view in views(a_log(need), list(range(110)))]
    shown = [day for day, alarms in enumerate(seen) if alarms]
    assert shown and 50 <= shown[0] <= 57 and len(shown) == 14
    alarm = seen[shown[0]][0]
    assert alarm.kind == "volume-loss" and abs((alarm.since - FITTED).days - 50) <= 3
    assert alarm.evidence and alarm.size_mm.low < 1.1 < alarm.size_mm.high
    assert len({each for alarms in seen for each in alarms}) == 1


def test_nothing_is_called_steady_in_the_week_after_a_sudden_change_was_found() -> None:
    seen = views(a_log([1.2] * 50 + [2.3] * 40), list(range(90)))
    found = next(day for day, view in enumerate(seen) if view.alarms)
    assert seen[found - 4].steady
    assert not any(view.steady for view in seen[found : found + 7])


def test_the_coming_change_is_told_a_little_narrower_than_the_bank_hedges() -> None:
    history = a_log(easing(40, 4.0, 40.0))
    when = [[FITTED + timedelta(days=39)]]
    told = assess_volume([history], when)[0][0].coming_28d_mm
    whole = assess_volume([history], when, settings=Settings(drawn_in=1.0))[0][0].coming_28d_mm
    assert told is not None and whole is not None and told.value == whole.value
    assert (told.high - told.low) / (whole.high - whole.low) == pytest.approx(Settings().drawn_in)


def beliefs_of_one(rate: float, var_rate: float) -> Beliefs:
    """One limb on one day, and a bank of one member that believes in an even trend."""
    flat = np.zeros((1, 1))
    return Beliefs(
        limb=np.array([0]),
        day=np.array([50]),
        weight=flat + 1.0,
        d=flat + 1.0,
        r=flat + rate,
        s=flat,
        need=flat + 2.0,
        var_d=flat + 0.04,
        var_r=flat + var_rate,
        var_s=flat + 0.01,
        var_need=flat + 0.09,
        age=np.array([100.0]),
        tail=np.array([1.0]),
    )


def test_the_coming_change_and_the_outlook_widen_as_an_even_trend_does() -> None:
    """Over h days a rate of variance v brings h^2 v, and what no law foresees h times a day's noise."""
    rate, var_rate, noise = 0.02, 0.005**2, 0.03
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=noise)
    numbers = assessment._numbers(beliefs_of_one(rate, var_rate), bank, 0.7, 0.92)
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


def test_a_tape_measurement_is_trusted_to_six_and_a_half_percent_of_volume() -> None:
    """Reliability coefficient 257 ml of about 2 l; in mm of radius half the share: 0.065 r / 2."""
    levels = (TapeLevel(50.0, 290.0), TapeLevel(100.0, 300.0))
    tapes = (Measurement(FITTED, levels), Measurement(FITTED + timedelta(days=20), levels))
    history = replace(a_log([1.4] * 30), measurements=tapes)
    day0, last = np.array([FITTED.toordinal()]), np.array([30])
    answers = assessment._answers([history], [series_of(history)], day0, last, Settings())
    assert answers.soft[answers.slot == TAPE] == pytest.approx([0.065 * 300 / (2 * math.pi) / 2])


@pytest.mark.parametrize("weeks", [4, 10, 20])
def test_a_new_limb_is_expected_to_lose_what_the_published_curve_loses(weeks: int) -> None:
    """Tantua et al. 2014, weeks 1 to 24, as thickness: half the share of volume, of the radius."""
    limb = Limb("a", amputated_on=FITTED - timedelta(days=7 * weeks), reference_circumference_mm=300)
    known = assessment._priors([LimbHistory(limb)], np.array([FITTED.toordinal()]))
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
        assert replace(replayed, band=()) == replace(alone, band=())


def test_the_dates_asked_for_together_do_not_matter() -> None:
    history = a_log([1.4] * 60, seed=5)
    together = views(history, [20, 40, 59])
    assert replace(together[1], band=()) == replace(views(history, [40])[0], band=())


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
    assert replace(early, band=()) == replace(views(history, [39])[0], band=())


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
    assert [each.days for each in view.outlook] == [14, 30, 60, 90]
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
