"""What stands against a socket is asked about before it is kept, and the reason to go on is kept with it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Cast

OPEN = [{"place": "end of the limb", "finding": "open_skin", "redness_minutes": None}]
NEW = {"fitted_on": "2025-09-15", "purpose": "definitive", "made": "cast", "weight_limit_kg": 140}
WHY = {"reason": "Seen and spoken about today."}


def limb(cast: Cast, what: str = "") -> str:
    return f"/api/clinic/limbs/{cast.anouk.limb_id}{what}"


def story(cast: Cast) -> Any:
    return cast.ida.get(limb(cast)).get_json()


def weighed(cast: Cast, on: date, kg: float = 122.1) -> None:
    cast.anouk.sync(cast.anouk.checkin(on, weight_kg=kg))


def codes(answer: Any) -> list[str]:
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (409, "stands-against")
    return [one["code"] for one in answer.get_json()["against"]]


def test_a_limit_under_the_last_known_weight_asks_and_keeps_the_reason(cast: Cast, today: date) -> None:
    weighed(cast, today - timedelta(days=1))
    low = {**NEW, "weight_limit_kg": 100}
    refused = cast.ida.post(limb(cast, "/sockets"), low)
    assert codes(refused) == ["weight-over-limit"]
    assert refused.get_json()["against"][0]["text"] == "122.1 kg on 14 September: more than the limit of 100 kg."
    assert len(story(cast)["sockets"]) == 1
    assert list(
        cast.ida.post(limb(cast, "/sockets"), {**low, "despite": {"reason": "ok"}}).get_json()["error"]["fields"]
    ) == ["despite.reason"]
    made = cast.ida.made(limb(cast, "/sockets"), {**low, "despite": WHY})["id"]
    (kept,) = next(one for one in story(cast)["sockets"] if one["id"] == made)["despite"]
    assert (kept["reason"], [one["code"] for one in kept["against"]]) == (WHY["reason"], ["weight-over-limit"])
    assert cast.ida.get(limb(cast, "?as_of=2025-09-14")).get_json()["sockets"] == []  # entered on the 15th


def test_a_reason_for_one_matter_is_none_for_another(cast: Cast, today: date) -> None:
    low = {**NEW, "weight_limit_kg": 100}
    why = WHY | {"of": ["Something else that stood there."]}
    weighed(cast, today - timedelta(days=1))
    assert codes(cast.ida.post(limb(cast, "/sockets"), {**low, "despite": why})) == ["weight-over-limit"]
    told = cast.ida.post(limb(cast, "/sockets"), low).get_json()["against"][0]["text"]
    cast.ida.made(limb(cast, "/sockets"), {**low, "despite": {**why, "of": [told]}})


def test_the_last_known_weight_counts_in_a_new_socket(cast: Cast, today: date) -> None:
    """Before: the row fell to "No longer seen", and the limb was not held."""
    weighed(cast, today - timedelta(days=1))
    cast.ida.made(limb(cast, "/sockets"), {**NEW, "weight_limit_kg": 100, "despite": WHY})
    row = next(
        one for one in cast.ida.get("/api/clinic/worklist").get_json()["limbs"] if one["limb_id"] == cast.anouk.limb_id
    )
    assert (row["urgency"], row["state"]) == (2, "held")
    assert row["why"] == "122.1 kg on 14 September, over the 100 kg entered for this socket."


@pytest.mark.parametrize("kg", [140.0, 122.1])
def test_a_limit_that_is_enough_asks_nothing(cast: Cast, today: date, kg: float) -> None:
    weighed(cast, today)
    assert cast.ida.post(limb(cast, "/sockets"), {**NEW, "weight_limit_kg": kg}).status_code == 201


@pytest.mark.parametrize(
    ("facts", "made", "against"),
    [
        ({"shape": "bulbous"}, "direct", ["bulbous"]),
        ({"shape": "bulbous"}, "cast", []),
        ({"shape": "conical"}, "direct", []),
        ({"deep_scar": True}, "direct", ["deep-scar"]),
        ({"deep_scar": False}, "direct", []),
        ({"deep_scar": None}, "direct", []),
    ],
)
def test_a_bulbous_end_and_a_deep_scar_ask(cast: Cast, facts: Any, made: str, against: list[str]) -> None:
    assert cast.ida.patch(limb(cast), facts).status_code == 200
    answer = cast.ida.post(limb(cast, "/sockets"), {**NEW, "made": made})
    assert (codes(answer) if against else answer.status_code) == (against or 201)


def test_a_deep_scar_is_kept_as_said_and_told(cast: Cast) -> None:
    assert story(cast)["limb"]["deep_scar"] is None
    cast.ida.patch(limb(cast), {"deep_scar": True})
    assert story(cast)["limb"]["deep_scar"] is True
    assert cast.ida.patch(limb(cast), {"deep_scar": "yes"}).status_code == 422


def test_open_skin_asks_for_a_new_socket_and_for_another_suspension(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, skin=OPEN))
    assert codes(cast.ida.post(limb(cast, "/sockets"), NEW)) == ["open-skin"]
    socket = story(cast)["sockets"][0]["id"]
    change = {"on": today.isoformat(), "suspension": "suction"}
    assert codes(cast.ida.post(f"/api/clinic/sockets/{socket}/suspensions", change)) == ["open-skin"]
    assert codes(cast.ida.patch(f"/api/clinic/sockets/{socket}", {"suspension": "suction"})) == ["open-skin"]
    assert story(cast)["sockets"][0]["suspension"] == "pin_lock"
    cast.ida.made(f"/api/clinic/sockets/{socket}/suspensions", {**change, "despite": WHY})
    told = story(cast)["sockets"][0]
    assert (told["suspension"], [one["reason"] for one in told["despite"]]) == ("suction", [WHY["reason"]])


def test_a_limit_lowered_under_the_weight_asks_and_another_change_does_not(cast: Cast, today: date) -> None:
    weighed(cast, today)
    cast.anouk.sync(cast.anouk.checkin(today, skin=OPEN))
    socket = f"/api/clinic/sockets/{story(cast)['sockets'][0]['id']}"
    assert codes(cast.ida.patch(socket, {"weight_limit_kg": 100})) == ["weight-over-limit"]
    assert cast.ida.patch(socket, {"note": "Trimmed.", "weight_limit_kg": 125}).status_code == 200
    assert cast.ida.patch(socket, {"weight_limit_kg": 100, "despite": WHY}).status_code == 200
    assert cast.ida.patch(socket, {"note": "Again."}).status_code == 200


def test_a_socket_that_is_history_asks_nothing(cast: Cast, today: date) -> None:
    weighed(cast, today)
    old = {**NEW, "fitted_on": "2025-03-03", "retired_on": "2025-05-01", "weight_limit_kg": 100}
    assert cast.ida.post(limb(cast, "/sockets"), old).status_code == 201


def test_another_clinic_learns_nothing_of_what_stands_against(cast: Cast, today: date) -> None:
    weighed(cast, today)
    answer = cast.teodor.post(limb(cast, "/sockets"), {**NEW, "weight_limit_kg": 100})
    assert answer.status_code == 404 and "122" not in answer.get_data(as_text=True)


def test_a_weight_written_down_with_the_other_limb_counts_too(cast: Cast, today: date) -> None:
    """Every socket of a person carries the same body."""
    weighed(cast, today - timedelta(days=1))
    limbs = f"/api/clinic/people/{cast.anouk.id}/limbs"
    other = cast.ida.made(limbs, {"side": "right", "level": "transtibial", "amputated_on": "2024-05-02"})["id"]
    low = {**NEW, "weight_limit_kg": 100}
    assert codes(cast.ida.post(f"/api/clinic/limbs/{other}/sockets", low)) == ["weight-over-limit"]
    cast.ida.made(f"/api/clinic/limbs/{other}/sockets", {**low, "weight_limit_kg": 130})
    cast.ida.get("/api/clinic/worklist")
    weighed(cast, today, 131)
    row = next(one for one in cast.ida.get("/api/clinic/worklist").get_json()["limbs"] if one["limb_id"] == other)
    assert row["state"] == "held"
    assert "131 kg on 15 September, over the 130 kg entered for this socket." in row["why"]
