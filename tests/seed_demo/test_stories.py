"""The demo's stories: seeded, true to their own truth, and such as a prosthetist would believe."""

from __future__ import annotations

import io
import json
import math
from collections import Counter
from datetime import date, timedelta

import pytest

from plytide.model import FINDINGS, LEVELS, LIMB_TAGS, SIGNS, TAGS
from plytide.work.assess_lines import run
from seed_demo.courses import LogTime, Settle, between_pct
from seed_demo.people import CAST, CLINIC
from seed_demo.socks import ladder, thickness_mm
from seed_demo.stories import Story, cast


@pytest.fixture(scope="module")
def stories() -> list[Story]:
    return cast(30, 120, 1, date(2025, 9, 15))


def by_name(stories: list[Story], name: str) -> Story:
    return next(story for story in stories if story.person["name"].startswith(name))


def mornings(story: Story) -> list[dict]:
    return [entry for entry in story.checkins if entry["moment"] == "putting_on" and not entry["replaces"]]


def worn_mm(entry: dict) -> float:
    return thickness_mm(tuple(sock["ply"] for sock in entry["stack"]), "single")


def test_the_same_seed_tells_the_same_stories(stories, today):
    assert cast(30, 120, 1, today) == stories
    assert cast(30, 120, 2, today)[0].checkins != stories[0].checkins


def test_more_people_leave_the_first_as_they_are(stories, today):
    more = cast(70, 120, 1, today)
    assert more[:30] == stories
    assert len({story.person["name"] for story in more}) > 60


def test_the_cast_has_everybody_the_demo_promises():
    limbs = [plan for part in CAST for plan in part.limbs]
    tags = {tag for part in CAST for tag in part.tags}
    assert len(CAST) >= 24
    assert any(len(part.limbs) == 2 for part in CAST)
    assert any(part.caregiver and part.age < 12 for part in CAST)
    assert any(12 < part.age < 18 for part in CAST)
    assert {"dialysis", "heart_failure", "pregnancy"} <= tags <= set(LIMB_TAGS)
    assert {plan.level for plan in limbs} <= set(LEVELS)
    expected = {kind for plan in limbs for kind in plan.expect}
    assert {"silent", "skin", "fall", "weight", "stack-limit", "outgrown", "wear-drop"} <= expected


def test_the_clinic_can_be_rung_by_nobody():
    assert CLINIC["phone"].startswith("01632 960")


def test_ids_are_made_as_a_phone_makes_them_and_none_twice(stories):
    ids = [entry["id"] for story in stories for entry in story.checkins]
    assert len(ids) == len(set(ids))
    assert all(len(one) == 36 and one[14] == "7" and one[19] in "89ab" for one in ids)


def test_nobody_wears_a_sock_they_do_not_own(stories):
    for story, part in zip(stories, CAST, strict=True):
        for limb, plan in zip(story.limbs, part.limbs, strict=True):
            entries = [entry for entry in story.checkins if entry["limb"] == limb.key]
            for entry in entries:
                count = Counter(sock["ply"] for sock in entry["stack"])
                assert count <= Counter(dict(plan.wearing.owned)), (part.name, entry["stack"])


def test_about_six_of_seven_days_are_written(stories):
    steady = by_name(stories, "Mei-Lin")
    days = {entry["date"] for entry in steady.checkins}
    assert 0.8 < len(days) / 120 <= 1


def test_no_entry_is_dated_after_today(stories, today):
    assert max(entry["date"] for story in stories for entry in story.checkins) == today.isoformat()


def test_somebody_silent_wrote_nothing_for_seventeen_days(stories, today):
    rosalind = by_name(stories, "Rosalind")
    assert rosalind.checkins[-1]["date"] <= (today - timedelta(days=17)).isoformat()
    assert len(rosalind.checkins) > 60


def test_a_shrinking_limb_is_worn_with_ever_more_sock(stories):
    story = by_name(stories, "Tomasz")
    thick = [worn_mm(entry) for entry in mornings(story)]
    assert sum(thick[-7:]) / 7 > sum(thick[:7]) / 7 + 1.2


def test_a_growing_child_ends_with_no_sock(stories):
    story = by_name(stories, "Ezra")
    assert [entry["stack"] for entry in mornings(story)][-3:] == [[], [], []]
    assert {entry["by"] for entry in story.checkins} == {"caregiver"}


def test_a_recast_starts_again_with_a_thin_stack(stories, today):
    story = by_name(stories, "Gareth")
    recast = (today - timedelta(days=27)).isoformat()
    before = [worn_mm(e) for e in mornings(story) if e["date"] < recast][-7:]
    after = [worn_mm(e) for e in mornings(story) if e["date"] >= recast][:7]
    assert sum(before) / len(before) - sum(after) / len(after) > 1.2
    assert story.limbs[0].sockets[0]["retired_on"] == recast


def test_two_people_write_where_the_story_has_two(stories):
    story = by_name(stories, "Jamal")
    assert {entry["by"] for entry in story.checkins} == {"wearer", "caregiver"}
    assert story.roles == ("wearer", "caregiver")


def test_a_correction_names_an_entry_of_the_same_limb_and_day(stories):
    found = 0
    for story in stories:
        known = {entry["id"]: entry for entry in story.checkins}
        for entry in story.checkins:
            if entry["replaces"]:
                old = known[entry["replaces"]]
                assert (old["limb"], old["date"]) == (entry["limb"], entry["date"])
                assert old["stack"] != entry["stack"]
                found += 1
    assert found > 5


def test_comfort_is_lower_where_the_fit_is_off(stories):
    entries = [entry for story in stories for entry in story.checkins if not entry["prefilled"]]
    off = [entry["comfort"] for entry in entries if entry["fit"] in ("loose", "tight")]
    good = [entry["comfort"] for entry in entries if entry["fit"] == "good"]
    assert sum(good) / len(good) - sum(off) / len(off) > 0.2


def test_only_words_of_the_model_are_used(stories):
    entries = [entry for story in stories for entry in story.checkins]
    assert {sign for entry in entries for sign in entry["signs"]} <= set(SIGNS)
    assert {tag for entry in entries for tag in entry["tags"]} <= set(TAGS)
    assert {skin["finding"] for entry in entries for skin in entry["skin"]} <= set(FINDINGS)


def test_the_truth_says_when_a_limb_settles(stories, today):
    ahead = by_name(stories, "Anders").limbs[0].truth
    past = by_name(stories, "Leif").limbs[0].truth
    assert ahead.settles_on > today and ahead.coming_28d_mm > 0.7
    assert past.settles_on == today and past.coming_28d_mm < 0.1


def test_the_log_law_follows_the_published_mean_curve():
    # Tantua et al. 2014 (JRRD 51:1119): -9.7 % of the initial volume per unit of ln(weeks); -24.1 % at week
    # 12 and -30.8 % at week 24 of what it was at week 1 (derived from the abstract's figures).
    def lost_at(weeks: float) -> float:
        curve = LogTime(weeks_now=weeks)
        from_week_2 = curve.pct(0) - curve.pct((weeks - 2) * 7)
        return from_week_2 - 9.7 * math.log(2)

    assert lost_at(12) == pytest.approx(-24.1, abs=0.05)
    assert lost_at(24) == pytest.approx(-30.8, abs=0.05)


def test_settling_is_half_done_after_its_half_life():
    course = (Settle(-8, 30),)
    half = 30 * math.log(2)
    assert between_pct(course, 120, 120 - half) == pytest.approx(-4, abs=0.01)


def test_a_ladder_rises_rung_by_rung():
    rungs = [thickness_mm(stack, "single") for stack in ladder({1: 2, 3: 2, 5: 2}, "single", 4)]
    assert rungs[0] == 0 and all(upper - lower > 0.2 for lower, upper in zip(rungs, rungs[1:], strict=False))


def test_a_story_is_also_a_history_that_assess_takes(stories, today):
    lines = [json.dumps(history) for story in stories for history in story.histories()]
    out = io.StringIO()
    assert run(lines, out, today) == 0
    said = [json.loads(line) for line in out.getvalue().splitlines()]
    assert [one["limb_id"] for one in said] == [limb.key for story in stories for limb in story.limbs]
    assert all(one["as_of"] == today.isoformat() for one in said)


@pytest.mark.parametrize("hours", ["evening", "before dawn"])
def test_what_a_story_is_told_for_is_found_at_any_hour(stories, today, hours):
    """Before dawn nobody has logged today yet; the demo is looked at then, too."""
    histories = [history for story in stories for history in story.histories()]
    if hours == "before dawn":
        histories = [
            {**one, "checkins": [entry for entry in one["checkins"] if entry["date"] < today.isoformat()]}
            for one in histories
        ]
    out = io.StringIO()
    run([json.dumps(one) for one in histories], out, today)
    said = {
        one["limb_id"]: {each["kind"] for each in one["signals"]}
        for one in map(json.loads, out.getvalue().split("\n")[:-1])
    }
    missing = [
        (story.person["name"], kind)
        for story in stories
        for limb in story.limbs
        for kind in limb.truth.expect
        if kind not in said[limb.key]
    ]
    assert missing == []


def test_what_assess_says_of_the_change_holds_the_truth_of_nearly_every_story(stories, today):
    # Intervals are 90 %; with 30 limbs 24 hits or more are seen in 97 of 100 cohorts, were that exactly so.
    out = io.StringIO()
    run([json.dumps(history) for story in stories for history in story.histories()], out, today)
    truths = [limb.truth for story in stories for limb in story.limbs]
    given = [
        (json.loads(line)["volume"]["change_pct"], truth.change_pct)
        for line, truth in zip(out.getvalue().splitlines(), truths, strict=True)
    ]
    hits = [said["low"] <= true <= said["high"] for said, true in given if said]
    assert len(hits) >= 25 and sum(hits) / len(hits) >= 0.8
