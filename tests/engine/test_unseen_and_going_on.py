"""What holds a recast is told of as long as it holds: dangers nobody saw, and a fast gain nothing ended."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from plytide.engine.assess import assess
from plytide.model import CheckIn, Limb, LimbHistory, Look, SkinFinding, Sock, Socket
from tests.actors import Cast, Clock
from tests.conftest import signed_in

START = date(2025, 5, 5)


def day(n: int) -> date:
    return START + timedelta(days=n)


def history(
    said: dict[int, dict[str, Any]], clear: tuple[int, ...], looks: tuple[Look, ...], **limb: Any
) -> LimbHistory:
    checkins = tuple(
        CheckIn(
            f"c{n}", "a", day(n), (Sock(3, "single"),), 8, received_on=day(n),
            skin_checked=n in clear, signs_checked=n in clear, **said.get(n, {}),
        )
        for n in range(80)
    )  # fmt: skip
    known = Limb(
        "a", amputated_on=date(2024, 1, 1), reference_circumference_mm=300, **{"born_on": date(1960, 1, 1), **limb}
    )
    days = tuple(look.on for look in looks)
    return LimbHistory(known, (Socket("s", START),), checkins=checkins, clinic_looks=days, looks_at=looks)


URGENT = {
    "sign": ({"signs": ("cold_pale_limb",)}, {}),
    "pain": ({"pain": 10}, {}),
    "numb": ({"signs": ("new_numbness",)}, {}),
    "bone": ({"signs": ("bony_point",)}, {"born_on": date(2015, 1, 1)}),
    "thinners": ({"falls": 1}, {"tags": ("blood_thinners",)}),
}


@pytest.mark.parametrize("case", URGENT)
def test_a_danger_that_was_clear_before_any_round_is_a_signal_until_somebody_looked(case: str) -> None:
    said, limb = URGENT[case]
    # The two clear days have come in before the first round there could be.
    (found,) = assess(history({60: said}, (61, 62), (), **limb), [day(70)])
    assert found.state == "held"
    told = [one for one in found.signals if one.kind in ("safety", "skin") and one.rule]
    assert [(one.level, one.since, one.evidence) for one in told] == [("call", day(60), ("c60",))]
    assert "nobody at the clinic has acknowledged or closed it" in told[0].because
    seen = Look(day(65), told[0].kind, told[0].rule)
    (after,) = assess(history({60: said}, (61, 62), (seen,), **limb), [day(70)])
    assert after.state != "held" and not [one for one in after.signals if one.rule]


def test_one_signal_of_each_matter() -> None:
    """Open skin has its own; what still holds is said once."""
    blister = {"skin": (SkinFinding("shin", "blister"),)}
    for clear in ((61, 62), (61,), ()):
        (found,) = assess(history({60: blister}, clear, ()), [day(70)])
        assert [one.rule for one in found.signals if one.kind in ("safety", "skin")] == ["stop-wear-skin"]


def held_by_weight(
    kg: dict[int, float], on: int, clear: tuple[int, ...] = (), looks: tuple[Look, ...] = ()
) -> str | None:
    said = {n: {"weight_kg": value} for n, value in kg.items()}
    (found,) = assess(history(said, clear, looks, tags=("heart_failure",)), [day(on)])
    return next((one.text for one in found.reasons if one.code == "heart-weight-gain"), None)


def test_a_fast_gain_holds_as_long_as_its_signal_and_its_card_go_on() -> None:
    up = {10: 80.0, 12: 82.4}
    text = held_by_weight(up, 79)
    assert text and "Lifted when 81 kg or less is weighed, or from 15 June on once the clinic has" in text
    assert held_by_weight({**up, 60: 80.5}, 79) is None  # back
    assert held_by_weight({**up, 60: 82.5}, 79)
    assert held_by_weight(up, 79, looks=(Look(day(20), "safety", "heart-team"),)) is None
    assert held_by_weight(up, 30, looks=(Look(day(20), "safety", "heart-team"),))  # four weeks it holds whoever looked
    assert held_by_weight(up, 79, looks=(Look(day(20), "safety", "emergency-chest"),))  # of something else


def test_a_second_fast_gain_months_later_is_one_of_its_own() -> None:
    text = held_by_weight({10: 80.0, 12: 82.4, 70: 82.0, 71: 84.0}, 75)
    assert text and text.startswith("Weight up 2.0 kg in 1 day (82 kg on")


def weigh(cast: Cast, limb: int, on: date, **said: Any) -> dict[str, Any]:
    return {**cast.dov.checkin(on, **said), "limb_id": cast.dov.limb_ids[limb]}


@pytest.mark.parametrize("kept", [True, False])
def test_weights_cross_a_persons_limbs_in_what_was_told_too(cast: Cast, today: date, clock: Clock, kept: bool) -> None:
    """A person has one weight: also in an entry that could not be kept, and in the words of the story."""
    ida = signed_in(cast.app, "ida")
    ida.patch(f"/api/clinic/people/{cast.dov.id}", {"tags": ["heart_failure"]})
    before = weigh(cast, 0, today - timedelta(days=1), weight_kg=80.0, **({} if kept else {"hours_worn": 30}))
    first = cast.dov.sync(before).get_json()["receipts"][0]
    assert first["status"] == ("kept" if kept else "refused")
    cast.dov.sync(weigh(cast, 1, today, weight_kg=82.5))
    ida.get("/api/clinic/worklist")
    story = ida.get(f"/api/clinic/limbs/{cast.dov.limb_ids[1]}").get_json()
    assert [one["rule"] for one in story["signals"] if one["kind"] == "safety"] == ["heart-team"]
    (entry,) = story["days"][0]["checkins"]
    assert [one["rule"] for one in entry["advice"]] == ["heart-team"]
