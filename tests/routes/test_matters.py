"""What was closed or put off comes back when it must, and two people acting at once do not undo each other."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Cast

BLISTER = [{"place": "end of the limb", "finding": "blister", "redness_minutes": None}]


def skin_signal(cast: Cast) -> Any:
    (signal,) = [
        one
        for one in cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["signals"]
        if one["kind"] == "skin"
    ]
    return signal


def blistered(cast: Cast, on: date) -> str:
    """A blister is told of; the path of the signal it opens."""
    cast.anouk.sync(cast.anouk.checkin(on, skin=BLISTER))
    cast.ida.get("/api/clinic/worklist")
    return f"/api/clinic/signals/{skin_signal(cast)['id']}"


@pytest.mark.parametrize(
    ("action", "given"),
    [("close", {"outcome": "Called"}), ("snooze", {"until": "2025-09-30"})],
)
def test_a_blister_told_of_again_brings_back_what_was_closed_or_put_off(
    cast: Cast, today: date, action: str, given: dict[str, Any]
) -> None:
    path = blistered(cast, today - timedelta(days=1))
    cast.ida.made(f"{path}/{action}", given)
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert (row["limb_id"], row["urgency"]) == (cast.anouk.limb_id, 3)
    signal = skin_signal(cast)
    assert (signal["status"], signal["snoozed_until"]) == ("open", None)
    assert [event["event"] for event in signal["events"]][-2:] == [action, "reported-again"]


def test_a_closed_blister_stays_closed_while_nothing_new_is_told_of_it(cast: Cast, today: date) -> None:
    path = blistered(cast, today - timedelta(days=1))
    cast.ida.made(f"{path}/close", {"outcome": "Called"})
    cast.anouk.sync(cast.anouk.checkin(today))
    cast.ida.get("/api/clinic/worklist")
    assert skin_signal(cast)["status"] == "closed"


def test_what_was_closed_opens_again_when_it_gets_worse(cast: Cast, today: date) -> None:
    """Redness that lasts is a call; a blister within the same episode is urgent."""
    red = [{"place": "end of the limb", "finding": "redness", "redness_minutes": 45}]
    days = [cast.anouk.checkin(today - timedelta(days=back), skin=red) for back in (3, 2, 1)]
    cast.anouk.sync(*days)
    cast.ida.get("/api/clinic/worklist")
    first = skin_signal(cast)
    assert first["level"] == "call"
    cast.ida.made(f"/api/clinic/signals/{first['id']}/close", {"outcome": "Relief made"})
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert (row["limb_id"], row["urgency"]) == (cast.anouk.limb_id, 3)


@pytest.mark.parametrize(
    ("action", "given"), [("acknowledge", {}), ("snooze", {"until": "2025-09-30"}), ("close", {"outcome": "Twice"})]
)
def test_what_somebody_else_has_closed_is_told_and_not_overwritten(
    cast: Cast, today: date, action: str, given: dict[str, Any]
) -> None:
    path = blistered(cast, today)
    cast.ida.made(f"{path}/close", {"outcome": "Called"})
    answer = cast.ida.post(f"{path}/{action}", given)
    assert answer.status_code == 422
    assert "closed in the meantime" in str(answer.get_json()["error"]["fields"]["signal"])
    assert skin_signal(cast)["status"] == "closed"
    assert cast.ida.made(f"{path}/reopen", {})["status"] == "open"


def test_undo_of_ones_own_deed_never_hits_a_colleagues(cast: Cast, today: date) -> None:
    path = blistered(cast, today)
    cast.ida.made(f"{path}/acknowledge", {})
    cast.juno.made(f"{path}/close", {"outcome": "Seen"})
    answer = cast.ida.post(f"{path}/undo?event=acknowledge", {})
    assert answer.status_code == 422
    assert cast.nora.post(f"{path}/undo?event=close", {}).status_code == 422
    assert skin_signal(cast)["status"] == "closed"
    assert cast.juno.made(f"{path}/undo?event=close", {})["status"] == "acknowledged"
