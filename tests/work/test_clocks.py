"""Clocks that make rows by themselves: what starts each, what answers it, and what is no news any more."""

from __future__ import annotations

from datetime import date

import pytest

from plytide.work.clocks import Diary, months_on, rows
from tests.actors import Cast, Json
from tests.conftest import TODAY
from tests.http.test_contact import days_pass, row_of

DAY = date(2025, 9, 15)


def kinds(diary: Diary, today: date = DAY) -> list[str]:
    return [one.kind for one in rows(diary, today)]


def test_nothing_entered_asks_for_nothing() -> None:
    assert kinds(Diary()) == []
    assert kinds(Diary(visits=[date(2020, 1, 1)], fitted=date(2020, 1, 1), born=date(2015, 1, 1))) == []


def test_a_pad_wants_a_second_look_after_two_weeks_unless_somebody_comes() -> None:
    pad = ((date(2025, 9, 1), "A pad was put in"),)
    assert kinds(Diary(changed=pad), date(2025, 9, 14)) == []
    (row,) = rows(Diary(changed=pad), DAY)
    assert (row.kind, row.level, row.since) == ("recheck", "note", DAY)
    assert kinds(Diary(changed=pad, visits=[date(2025, 9, 1)])) == ["recheck"]  # that was the visit itself
    assert kinds(Diary(changed=pad, visits=[date(2025, 9, 20)])) == []  # one is booked
    assert kinds(Diary(changed=pad), date(2025, 11, 14)) == ["recheck"]
    assert kinds(Diary(changed=pad), date(2025, 11, 15)) == []  # longer ago than sixty days


def test_of_several_changes_the_newest_starts_the_clock() -> None:
    changed = ((date(2025, 8, 20), "Relief made"), (date(2025, 9, 10), "Trim line changed"))
    assert kinds(Diary(changed=changed)) == []
    (row,) = rows(Diary(changed=changed), date(2025, 9, 24))
    assert row.because.startswith("Trim line changed on 10 September 2025")


def test_the_end_of_a_wear_in_is_looked_at() -> None:
    diary = Diary(fitted=date(2025, 9, 1), wear_in_ends=date(2025, 9, 10))
    assert kinds(diary, date(2025, 9, 9)) == []
    assert kinds(diary) == ["wear-in"]
    assert kinds(Diary(fitted=date(2025, 9, 1), wear_in_ends=date(2025, 9, 10), visits=[date(2025, 9, 8)])) == []


def test_recall_counts_from_the_last_visit_or_fitting_by_the_clinics_months() -> None:
    diary = Diary(visits=[date(2025, 3, 15)], fitted=date(2024, 1, 1), recall_months=6)
    assert kinds(diary, date(2025, 9, 14)) == []
    assert [(one.kind, one.since) for one in rows(diary, DAY)] == [("recall", DAY)]
    booked = Diary(visits=[date(2025, 3, 15), date(2025, 10, 1)], recall_months=6)
    assert kinds(booked) == []
    assert kinds(Diary(fitted=date(2025, 3, 14), recall_months=6)) == ["recall"]
    assert kinds(Diary(recall_months=6)) == []  # nobody knows since when


def test_a_child_is_seen_more_often_until_eighteen() -> None:
    diary = Diary(visits=[date(2025, 6, 1)], born=date(2015, 1, 1), recall_months=12, child_recall_months=3)
    assert kinds(diary) == ["child-recall"]
    assert kinds(Diary(visits=[date(2025, 6, 1)], born=date(2007, 9, 15), child_recall_months=3)) == []
    assert kinds(Diary(visits=[date(2025, 6, 1)], born=date(2007, 9, 16), child_recall_months=3)) == ["child-recall"]


def test_a_part_comes_up_a_month_before_its_date_and_stays() -> None:
    knee = Diary(parts=[(date(2025, 10, 15), "Knee, warranty")])
    assert kinds(knee, date(2025, 9, 14)) == []
    assert rows(knee, DAY)[0].because == "Knee, warranty: the date entered for it ends on 15 October 2025."
    assert "ended on" in rows(knee, date(2025, 10, 16))[0].because


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [
        (date(2025, 8, 31), 1, date(2025, 9, 30)), (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2025, 11, 30), 3, date(2026, 2, 28)), (date(2025, 12, 1), 1, date(2026, 1, 1)),
    ],
)  # fmt: skip
def test_months_end_where_the_calendar_does(day: date, months: int, then: date) -> None:
    assert months_on(day, months) == then


# Through the clinic


def kinds_of(cast: Cast) -> list[Json]:
    return [one["kind"] for one in row_of(cast, cast.anouk)["signals"]]


def test_a_row_by_the_clock_is_closed_by_a_booked_visit_and_its_story_says_so(cast: Cast) -> None:
    deed = {"on": TODAY.isoformat(), "kind": "Trim line changed"}
    cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/interventions", deed)
    assert "recheck" not in kinds_of(cast)
    days_pass(cast, 14)
    assert "recheck" in kinds_of(cast)
    days_pass(cast, 1)
    assert kinds_of(cast).count("recheck") == 1
    cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/visits", {"on": "2025-10-02", "time": "09:00"})
    assert "recheck" not in kinds_of(cast)
    signals = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["signals"]
    (closed,) = [one for one in signals if one["kind"] == "recheck"]
    assert (closed["status"], closed["events"][-1]["outcome"]) == ("closed", "Answered by what was entered since")


def test_a_part_is_entered_comes_up_and_is_taken_out(cast: Cast) -> None:
    part = {"what": "Liner, warranty", "ends_on": "2025-10-01"}
    made = cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/parts", part)
    assert kinds_of(cast) == ["part-date"]
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    assert [(one["what"], one["ends_on"]) for one in story["parts"]] == [("Liner, warranty", "2025-10-01")]
    assert cast.ida.delete(f"/api/clinic/parts/{made['id']}").status_code == 200
    assert kinds_of(cast) == []
    assert cast.ida.delete(f"/api/clinic/parts/{made['id']}").status_code == 404


def test_months_between_visits_are_the_clinics_and_every_limb_is_read_again(cast: Cast) -> None:
    assert kinds_of(cast) == []
    assert cast.nora.patch("/api/clinic/settings", {"recall_months": 4}).status_code == 200
    assert kinds_of(cast) == ["recall"]  # fitted on 5 May
    assert cast.nora.patch("/api/clinic/settings", {"recall_months": None}).status_code == 200
    assert kinds_of(cast) == []
    assert cast.nora.patch("/api/clinic/settings", {"recall_months": 0}).status_code == 422
