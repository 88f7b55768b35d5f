"""The whole line on one limb: corrections, replays, and that nothing from tomorrow is known today."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from plytide.engine.assess import assess, assess_caseload
from plytide.model import STATES, Assessment, LimbHistory, Sock
from seed_demo.cohort import cohort


@pytest.fixture(scope="module")
def history() -> LimbHistory:
    return next(p.history for p in cohort(40, 31) if p.truth.trend == "step" and len(p.history.checkins) > 80)


def day(history: LimbHistory, after: int) -> date:
    return history.sockets[0].fitted_on + timedelta(days=after)


def bare(answer: Assessment) -> Assessment:
    """Without the chart's bands, which are given for the last date only."""
    return replace(answer, band=(), limb_band=())


def test_one_answer_a_date_in_the_order_asked(history: LimbHistory) -> None:
    asked = [day(history, 60), day(history, 20), day(history, 60)]
    assert [each.as_of for each in assess(history, asked)] == asked


def test_a_replay_is_what_was_said_then(history: LimbHistory) -> None:
    asked = [day(history, each) for each in (10, 30, 55, 90, 120)]
    for when, replayed in zip(asked, assess(history, asked), strict=True):
        known = replace(
            history,
            checkins=tuple(c for c in history.checkins if c.date <= when),
            measurements=tuple(m for m in history.measurements if m.on <= when),
        )
        assert bare(assess(known, [when])[0]) == bare(replayed)


def test_the_order_of_arrival_changes_nothing(history: LimbHistory) -> None:
    backwards = replace(history, checkins=tuple(reversed(history.checkins)))
    assert assess(backwards, [day(history, 100)]) == assess(history, [day(history, 100)])


def test_a_correction_replaces_from_its_own_date_on(history: LimbHistory) -> None:
    entry = history.checkins[40]
    stack = (Sock(5, "single"),) * 3
    late = replace(entry, id="late", replaces=entry.id, stack=stack, date=entry.date + timedelta(days=10))
    corrected = replace(history, checkins=(*history.checkins, late))
    before, after = entry.date + timedelta(days=5), entry.date + timedelta(days=10)
    assert bare(assess(corrected, [before])[0]) == bare(assess(history, [before])[0])
    assert assess(corrected, [after])[0].change_pct != assess(history, [after])[0].change_pct


def test_a_withdrawn_entry_was_never_heard(history: LimbHistory) -> None:
    entry = history.checkins[-1]
    gone = replace(entry, id="gone", replaces=entry.id, withdrawn=True)
    without = replace(history, checkins=history.checkins[:-1])
    with_it = replace(history, checkins=(*history.checkins, gone))
    assert assess(with_it, [day(history, 120)])[0].change_pct == assess(without, [day(history, 120)])[0].change_pct


def test_a_caseload_says_of_each_limb_what_it_says_alone() -> None:
    histories = [p.history for p in cohort(10, 32)]
    dates = [[day(h, 70), day(h, 100)] for h in histories]
    for one, asked, together in zip(histories, dates, assess_caseload(histories, dates), strict=True):
        alone = assess(one, asked)
        assert [x.state for x in alone] == [x.state for x in together]
        assert [[s.kind for s in x.signals] for x in alone] == [[s.kind for s in x.signals] for x in together]


def test_every_state_is_one_of_the_contract_and_carries_its_reasons() -> None:
    histories = [p.history for p in cohort(30, 33)]
    for row in assess_caseload(histories, [[day(h, d) for d in (3, 40, 120)] for h in histories]):
        for answer in row:
            assert answer.state in STATES and answer.reasons
            assert answer.settles_on is None or answer.state in ("settling", "changing")
            assert answer.since is None or answer.since <= answer.as_of


def test_a_volume_signal_stays_for_days_and_has_evidence() -> None:
    person = next(p for p in cohort(80, 34) if p.truth.step_day is not None and p.truth.habit == "plain")
    rows = assess(person.history, [day(person.history, d) for d in range(121)])
    shown = [(d, s) for d, row in enumerate(rows) for s in row.signals if s.kind in ("volume-loss", "volume-gain")]
    for _, signal in shown:
        assert signal.evidence and signal.because
    by_start = {signal.since: sum(s.since == signal.since for _, s in shown) for _, signal in shown}
    assert all(
        count >= min(7, 121 - max(d for d, s in shown if s.since == since) + 7) for since, count in by_start.items()
    )
