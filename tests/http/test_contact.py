"""Whom to call, and what came of it: numbers, calls recorded, the signal answered, the row that comes back."""

from __future__ import annotations

from typing import Any

import pytest

from plytide.work import background
from tests.actors import Cast, Json, Wearer
from tests.conftest import TODAY, signed_in

REACH = {
    "telephones": [
        {"number": "+31 (0)20 123 45", "whose": "her own", "best": "after ten"},
        {"number": "020-99", "whose": None, "best": None},
    ],
    "ask_for": "her sister Wil", "language": "Dutch", "record_number": "A-1044", "referrer": "Rehab ward 3",
    "physician": "Dr Ilse Wren", "physician_phone": "020 777",
}  # fmt: skip


def faults(answer: Any) -> dict[str, list[str]]:
    assert answer.status_code == 422, (answer.status_code, answer.get_json())
    found: dict[str, list[str]] = answer.get_json()["error"]["fields"]
    return found


def reach(cast: Cast, who: Wearer, **said: Any) -> Any:
    return cast.ida.patch(f"/api/clinic/people/{who.id}", said)


def record(cast: Cast, who: Wearer, **said: Any) -> Any:
    return cast.ida.post(f"/api/clinic/people/{who.id}/contacts", {"result": "not_reached", **said})


def row_of(cast: Cast, who: Wearer) -> Json:
    rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    return next(row for row in rows if row["limb_id"] == who.limb_id)


def story(cast: Cast, who: Wearer, as_of: str = "") -> Json:
    found: Json = cast.ida.get(f"/api/clinic/limbs/{who.limb_id}{as_of}").get_json()
    return found


def days_pass(cast: Cast, days: int) -> None:
    """What the background does: bring every limb to today. Sessions have ended meanwhile."""
    cast.clock.forward(days=days)
    assert background.sweep(cast.app.config["SETTINGS"]) > 0
    cast.ida = signed_in(cast.app, "ida")


@pytest.fixture
def urgent(cast: Cast) -> Json:
    """An urgent signal of Anouk's."""
    log = cast.anouk.checkin(TODAY, skin=[{"place": "fibula head", "finding": "open_skin"}], skin_checked=True)
    assert cast.anouk.sync(log).status_code == 200
    (signal,) = [one for one in row_of(cast, cast.anouk)["signals"] if one["level"] == "urgent"]
    return signal


def test_the_row_and_the_limb_say_whom_to_call_and_no_phone_does(cast: Cast) -> None:
    assert reach(cast, cast.anouk, **REACH).status_code == 200
    assert row_of(cast, cast.anouk)["person"]["telephones"] == REACH["telephones"]
    assert row_of(cast, cast.anouk)["person"]["ask_for"] == REACH["ask_for"]
    person = story(cast, cast.anouk)["person"]
    assert {name: person[name] for name in REACH} == REACH
    assert {name: cast.ida.get(f"/api/clinic/people/{cast.anouk.id}").get_json()[name] for name in REACH} == REACH
    told = cast.anouk.phone.get("/api/me").get_data(as_text=True) + cast.anouk.sync().get_data(as_text=True)
    assert "A-1044" not in told and "123 45" not in told and "Wil" not in told


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"telephones": [{"number": "call Wil"}]}, "telephones[0].number", "not “c”"),
        ({"telephones": [{"number": "12"}]}, "telephones[0].number", "at least 3 digits"),
        ({"telephones": [{}]}, "telephones[0].number", "needed"),
        ({"telephones": [{"number": "020 123"}, {"number": "020-123"}]}, "telephones", "twice"),
        ({"telephones": [{"number": "020 123"}] * 7}, "telephones", "at most 6"),
        ({"physician_phone": "the ward"}, "physician_phone", "can hold digits"),
        ({"record_number": "x" * 41}, "record_number", "1 to 40"),
    ],
)
def test_what_is_no_number_is_refused_by_field(cast: Cast, said: Json, field: str, words: str) -> None:
    answer = reach(cast, cast.anouk, **said)
    assert list(faults(answer)) == [field] and words in faults(answer)[field][0]


def test_a_record_number_is_one_persons(cast: Cast) -> None:
    assert reach(cast, cast.anouk, record_number="A-1044").status_code == 200
    assert reach(cast, cast.anouk, record_number="A-1044", name="Anouk").status_code == 200
    assert faults(reach(cast, cast.dov, record_number=" a-1044 ")) == {
        "record_number": ["This is already the record number of Anouk."]
    }


def test_a_call_stands_beside_the_signal_it_answers(cast: Cast, urgent: Json) -> None:
    made = record(cast, cast.anouk, signal_id=urgent["id"], number="020 99", said="No answer, twice")
    assert made.status_code == 201
    (call,) = story(cast, cast.anouk)["contacts"]
    assert (call["result"], call["said"], call["number"], call["by"]) == (
        "not_reached",
        "No answer, twice",
        "020 99",
        "ida",
    )
    assert (call["signal_id"], call["limb_id"]) == (urgent["id"], cast.anouk.limb_id)
    events = story(cast, cast.anouk)["signals"][0]["events"]
    assert (events[-1]["event"], events[-1]["result"], events[-1]["said"]) == (
        "contact",
        "not_reached",
        "No answer, twice",
    )
    assert row_of(cast, cast.anouk)["signals"][0]["status"] == "open"  # it answers nothing yet


def test_a_call_closes_the_signal_and_that_can_be_undone(cast: Cast, urgent: Json) -> None:
    record(
        cast,
        cast.anouk,
        result="reached",
        signal_id=urgent["id"],
        said="Has it dressed",
        agreed="No prosthesis",
        after="close",
    )
    signal = story(cast, cast.anouk)["signals"][0]
    assert signal["status"] == "closed"
    assert signal["events"][-1]["outcome"] == "Reached. Has it dressed. Agreed: No prosthesis"
    assert cast.ida.post(f"/api/clinic/signals/{urgent['id']}/undo?event=close", {}).status_code == 200
    assert story(cast, cast.anouk)["signals"][0]["status"] == "open"
    assert len(story(cast, cast.anouk)["contacts"]) == 1  # the call itself was made


def test_nobody_reached_does_not_close_what_is_urgent(cast: Cast, urgent: Json) -> None:
    for result in ("not_reached", "left_word"):
        assert list(faults(record(cast, cast.anouk, result=result, signal_id=urgent["id"], after="close"))) == ["after"]
    assert story(cast, cast.anouk)["contacts"] == []


def test_a_next_try_puts_the_signal_off_and_it_comes_back_on_that_day(cast: Cast, urgent: Json) -> None:
    assert record(cast, cast.anouk, signal_id=urgent["id"], next_on="2025-09-17").status_code == 201
    assert story(cast, cast.anouk)["signals"][0]["snoozed_until"] == "2025-09-17"
    days_pass(cast, 2)
    assert [one["status"] for one in row_of(cast, cast.anouk)["signals"] if one["id"] == urgent["id"]] == ["open"]


def test_a_next_try_without_a_signal_comes_back_as_a_row_and_goes_when_somebody_talked(cast: Cast) -> None:
    assert record(cast, cast.dov, next_on="2025-09-18", said="Mailbox full").status_code == 201
    assert (row_of(cast, cast.dov)["urgency"], row_of(cast, cast.dov)["signals"][0]["status"]) == (0, "snoozed")
    days_pass(cast, 3)
    row = row_of(cast, cast.dov)
    assert (row["urgency"], row["why"]) == (2, "Call again: not reached on 15 September.")
    days_pass(cast, 1)  # the engine knows nothing of it, and does not say that it is over
    assert row_of(cast, cast.dov)["signals"][0]["holds"] is True
    assert record(cast, cast.dov, result="called_us").status_code == 201
    assert row_of(cast, cast.dov)["signals"] == []


def test_a_later_next_try_takes_the_place_of_the_one_before(cast: Cast) -> None:
    for day in ("2025-09-18", "2025-09-22"):
        assert record(cast, cast.dov, next_on=day).status_code == 201
    assert [one["snoozed_until"] for one in row_of(cast, cast.dov)["signals"]] == ["2025-09-22"]


def test_a_visit_is_booked_with_the_call(cast: Cast, urgent: Json) -> None:
    visit = {"on": "2025-09-16", "time": "09:00", "what": "Skin"}
    assert (
        record(cast, cast.anouk, result="reached", signal_id=urgent["id"], after="close", visit=visit).status_code
        == 201
    )
    (booked,) = story(cast, cast.anouk)["visits"]
    assert (booked["on"], booked["signal_id"], booked["limb_id"]) == ("2025-09-16", urgent["id"], cast.anouk.limb_id)
    taken = record(cast, cast.dov, result="reached", visit=visit)
    assert taken.status_code == 409
    assert cast.ida.get(f"/api/clinic/people/{cast.dov.id}").get_json()["contacts"] == []  # all of it, or nothing


def test_what_can_not_be_is_refused(cast: Cast, urgent: Json) -> None:
    mine: Json = {"signal_id": urgent["id"]}
    for said, field in (
        ({**mine, "next_on": "2025-09-15"}, "next_on"),
        ({**mine, "result": "reached", "after": "close", "next_on": "2025-09-20"}, "next_on"),
        ({"result": "reached", "after": "close"}, "after"),
        ({"result": "shouted"}, "result"),
        ({"said": "x" * 1001}, "said"),
        ({"number": "the usual"}, "number"),
        ({"answer": "You may wear it."}, "answer"),
        ({"result": "reached", "visit": {"on": "2025-09-01"}}, "visit.on"),
    ):
        assert list(faults(record(cast, cast.anouk, **said))) == [field], said
    assert record(cast, cast.dov, **mine).status_code == 404  # another person's signal
    assert record(cast, cast.dov, limb_id=cast.anouk.limb_id).status_code == 404
    cast.ida.post(f"/api/clinic/signals/{urgent['id']}/close", {"outcome": "Seen"})
    assert list(faults(record(cast, cast.anouk, **mine, result="reached", after="close"))) == ["signal_id"]
    nobody = cast.ida.made("/api/clinic/people", {"name": "Wim"})["id"]
    answer = cast.ida.post(f"/api/clinic/people/{nobody}/contacts", {"result": "not_reached", "next_on": "2025-09-20"})
    assert list(faults(answer)) == ["next_on"]


def test_a_replay_knows_no_call_that_came_later(cast: Cast, urgent: Json) -> None:
    days_pass(cast, 2)
    record(cast, cast.anouk, signal_id=urgent["id"], next_on="2025-09-20")
    then = story(cast, cast.anouk, "?as_of=2025-09-15")
    assert (then["contacts"], then["signals"][0]["status"]) == ([], "open")
    assert len(story(cast, cast.anouk, "?as_of=2025-09-17")["contacts"]) == 1


def test_a_line_in_any_script_is_kept_as_it_was_written(cast: Cast) -> None:
    line = '<img src=x onerror="alert(1)"> مرحبا Καλημέρα 😀'
    assert record(cast, cast.anouk, said=line).status_code == 201
    assert story(cast, cast.anouk)["contacts"][0]["said"] == line
