"""What the clinic writes to a person's phones and what they answer: kept once, seen by whom it is for, read when it
was.
"""

from __future__ import annotations

from typing import Any

import pytest

from plytide.storage.files import backup
from tests.actors import Actor, Cast, Json, Wearer
from tests.conftest import bearing, signed_in
from tests.http.test_contact import faults, row_of, story

SAID_AT = "2025-09-15T13:00:00Z"
ASKED: Json = {"kind": "question", "text": "Is the spot closed?", "choices": ["Yes", "No", "Not sure"]}


def write(cast: Cast, who: Wearer, **said: Any) -> Any:
    return cast.ida.post(f"/api/clinic/people/{who.id}/messages", said)


def sent(cast: Cast, who: Wearer, **said: Any) -> str:
    answer = write(cast, who, **said)
    assert answer.status_code == 201, answer.get_json()
    return str(answer.get_json()["id"])


def on(phone: Actor) -> list[Json]:
    found: list[Json] = phone.get("/api/me").get_json()["messages"]
    return found


def an_answer(who: Wearer, message_id: str, **said: Any) -> Json:
    first: Json = {"id": f"a-{message_id}", "message_id": message_id, "person_id": who.id, "event": "answer"}
    return first | {"said_at": SAID_AT} | said


def offer(phone: Actor, *answers: Json) -> list[Json]:
    answer = phone.post("/api/sync", {"schema": 1, "cursor": None, "answers": list(answers)})
    assert answer.status_code == 200, answer.get_json()
    found: list[Json] = answer.get_json()["answer_receipts"]
    return found


def statuses(phone: Actor, *answers: Json) -> list[str]:
    return [one["status"] for one in offer(phone, *answers)]


def at_clinic(cast: Cast, who: Wearer) -> Json:
    found: Json = story(cast, who)["messages"][0]
    return found


def second_phone(cast: Cast, who: Wearer, role: str) -> tuple[Actor, str]:
    code = cast.ida.made(f"/api/clinic/people/{who.id}/enrolment-codes", {"role": role})["code"]
    joined = cast.nobody.made("/api/enrol", {"code": code, "label": "Kitchen phone"})
    return bearing(cast.app, joined["token"]), joined["device_id"]


def test_a_question_is_asked_answered_and_read_and_each_side_hears_of_it(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, **ASKED, limb_id=cast.anouk.limb_id)
    (there,) = on(cast.anouk.phone)
    assert {name: there[name] for name in ASKED} == ASKED
    assert (there["by"], there["withdrawn"], there["answers"]) == ("ida", False, [])
    assert at_clinic(cast, cast.anouk)["stands"] == "waiting"
    seen = an_answer(cast.anouk, message_id, id="s-1", event="seen")
    assert statuses(cast.anouk.phone, seen) == ["kept"]
    assert (at_clinic(cast, cast.anouk)["stands"], row_of(cast, cast.anouk)["signals"]) == ("seen", [])
    assert statuses(cast.anouk.phone, an_answer(cast.anouk, message_id, choice="No", text="Still wet")) == ["kept"]
    row = row_of(cast, cast.anouk)
    assert (row["urgency"], row["why"]) == (2, "An answer waits to be read: “No. Still wet”.")
    assert on(cast.anouk.phone)[0]["answers"][0]["read_at"] is None  # nobody has
    assert cast.juno.post(f"/api/clinic/messages/{message_id}/read", {}).status_code == 200
    told = on(cast.anouk.phone)[0]["answers"][0]
    assert (told["choice"], told["read_by"], told["read_at"][:10], told["mine"]) == ("No", "juno", "2025-09-15", True)
    assert row_of(cast, cast.anouk)["signals"] == []
    assert at_clinic(cast, cast.anouk)["unread"] == 0
    assert list(faults(cast.juno.post(f"/api/clinic/messages/{message_id}/read", {}))) == ["message"]


def test_to_deal_with_the_row_is_to_have_read_it(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, **ASKED)
    offer(cast.anouk.phone, an_answer(cast.anouk, message_id, choice="Yes"))
    (row,) = row_of(cast, cast.anouk)["signals"]
    assert cast.ida.post(f"/api/clinic/signals/{row['id']}/close", {"outcome": "Looked at"}).status_code == 200
    assert on(cast.anouk.phone)[0]["answers"][0]["read_by"] == "ida"


def test_to_put_the_row_off_is_not_to_have_read_it(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, **ASKED)
    offer(cast.anouk.phone, an_answer(cast.anouk, message_id, choice="Yes"))
    (row,) = row_of(cast, cast.anouk)["signals"]
    assert cast.ida.post(f"/api/clinic/signals/{row['id']}/snooze", {"until": "2025-09-20"}).status_code == 200
    assert on(cast.anouk.phone)[0]["answers"][0]["read_at"] is None
    offer(cast.anouk.phone, an_answer(cast.anouk, message_id, id="b-2", text="It bleeds"))
    assert [one["status"] for one in row_of(cast, cast.anouk)["signals"]] == ["open"]  # a new word brings it back


def test_an_answer_offered_twice_is_there_once_and_never_changed(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, **ASKED)
    one = an_answer(cast.anouk, message_id, choice="Yes")
    assert statuses(cast.anouk.phone, one, one) == ["kept", "already"]
    assert statuses(cast.anouk.phone, one) == ["already"]
    assert offer(cast.anouk.phone, one | {"choice": "No"})[0]["errors"] == {
        "id": ["A different answer already has this id."]
    }
    assert [each["choice"] for each in at_clinic(cast, cast.anouk)["answers"]] == ["Yes"]


def test_two_phones_of_one_limb_answer_differently_and_both_are_told(cast: Cast) -> None:
    other, _ = second_phone(cast, cast.anouk, "caregiver")
    message_id = sent(cast, cast.anouk, **ASKED)
    offer(cast.anouk.phone, an_answer(cast.anouk, message_id, choice="Yes"))
    offer(other, an_answer(cast.anouk, message_id, id="b-1", choice="No"))
    found = at_clinic(cast, cast.anouk)["answers"]
    assert [(one["choice"], one["by"]["role"]) for one in found] == [("Yes", "wearer"), ("No", "caregiver")]
    assert [(one["choice"], one["mine"]) for one in on(other)[0]["answers"]] == [("Yes", False), ("No", True)]


def test_an_answer_to_a_question_taken_back_meanwhile_is_kept_and_marked(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, **ASKED)
    assert cast.ida.delete(f"/api/clinic/messages/{message_id}").status_code == 200
    assert on(cast.anouk.phone)[0]["withdrawn"] is True
    assert at_clinic(cast, cast.anouk)["stands"] == "withdrawn"
    assert statuses(cast.anouk.phone, an_answer(cast.anouk, message_id, choice="Yes")) == ["kept"]
    assert at_clinic(cast, cast.anouk)["answers"][0]["late"] is True
    assert list(faults(cast.ida.delete(f"/api/clinic/messages/{message_id}"))) == ["message"]


def test_a_message_that_no_phone_can_get_is_refused_at_once(cast: Cast) -> None:
    assert faults(write(cast, cast.anouk, kind="read", to="caregiver")) == {
        "to": ["No phone of theirs can get this now. Call instead."]
    }
    message_id = sent(cast, cast.anouk, kind="read")
    (phone,) = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/devices").get_json()["devices"]
    assert cast.ida.delete(f"/api/clinic/devices/{phone['id']}").status_code == 200
    assert list(faults(write(cast, cast.anouk, kind="read"))) == ["to"]
    assert (at_clinic(cast, cast.anouk)["id"], at_clinic(cast, cast.anouk)["stands"]) == (message_id, "nobody")


def test_a_caregiver_reads_nothing_of_what_a_teenagers_own_log_withholds(cast: Cast) -> None:
    other, _ = second_phone(cast, cast.anouk, "caregiver")
    cast.ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"own_log": True})
    private = sent(cast, cast.anouk, kind="words", text="About what you wrote on Sunday.")
    assert (len(on(cast.anouk.phone)), on(other)) == (1, [])
    refused = offer(other, an_answer(cast.anouk, private, text="What was it?"))[0]
    assert refused["errors"] == {"message_id": ["This phone has no such message."]}
    both = sent(cast, cast.anouk, **ASKED, to="all")
    offer(cast.anouk.phone, an_answer(cast.anouk, both, choice="No", text="Don't tell"))
    offer(other, an_answer(cast.anouk, both, id="b-1", choice="Yes"))
    assert [one["choice"] for one in on(other)[0]["answers"]] == ["Yes"]
    assert "Don't tell" not in other.get("/api/me").get_data(as_text=True)
    assert [one["choice"] for one in on(cast.anouk.phone)[1]["answers"]] == ["No", "Yes"]


def test_nobody_answers_for_another_person_or_reads_what_is_theirs(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, **ASKED)
    assert (on(cast.dov.phone), on(cast.esme.phone)) == ([], [])
    assert statuses(cast.dov.phone, an_answer(cast.anouk, message_id, choice="Yes")) == ["refused"]
    assert statuses(cast.dov.phone, an_answer(cast.dov, message_id, choice="Yes")) == ["refused"]
    assert statuses(cast.esme.phone, an_answer(cast.esme, message_id, choice="Yes")) == ["refused"]
    assert (
        cast.ida.post(
            f"/api/clinic/people/{cast.anouk.id}/messages", {"kind": "read", "limb_id": cast.dov.limb_id}
        ).status_code
        == 404
    )


def test_please_send_a_photo(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, kind="photo", text="Of the front")
    log = cast.anouk.checkin(cast.clock.now.date())
    cast.anouk.sync(log)
    told = an_answer(cast.anouk, message_id, choice="photo", checkin_id=log["id"])
    assert statuses(cast.anouk.phone, told) == ["kept"]
    assert at_clinic(cast, cast.anouk)["answers"][0]["checkin_id"] == log["id"]
    assert "photo sent" in row_of(cast, cast.anouk)["why"]


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"kind": "words"}, "text"),
        ({"kind": "words", "text": "   "}, "text"),
        ({"kind": "words", "text": "x" * 10_000}, "text"),
        ({"kind": "question", "text": "So?", "choices": ["Yes"]}, "choices"),
        ({"kind": "question", "text": "So?", "choices": ["Yes", "Yes "]}, "choices"),
        ({"kind": "question", "text": "So?", "choices": ["a", "b", "c", "d"]}, "choices"),
        ({"kind": "words", "text": "Hm", "choices": ["Yes", "No"]}, "choices"),
        ({"kind": "shout", "text": "Hm"}, "kind"),
    ],
)
def test_what_can_not_be_written_is_refused_by_field(cast: Cast, said: Json, field: str) -> None:
    assert list(faults(write(cast, cast.anouk, **said))) == [field]


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"choice": "Maybe"}, "choice"), ({}, "choice"), ({"text": "x" * 301}, "text"),
        ({"said_at": "noon"}, "said_at"),
        ({"event": "shouted"}, "event"), ({"mood": "fine"}, "mood"),
    ],
)  # fmt: skip
def test_what_can_not_be_answered_is_refused_by_field_and_the_others_kept(cast: Cast, said: Json, field: str) -> None:
    message_id = sent(cast, cast.anouk, **ASKED)
    good = an_answer(cast.anouk, message_id, id="good", choice="Yes")
    bad = an_answer(cast.anouk, message_id, id="bad", **said)
    receipts = offer(cast.anouk.phone, bad, good)
    assert [one["status"] for one in receipts] == ["refused", "kept"]
    assert list(receipts[0]["errors"]) == [field]


def test_text_in_any_script_is_kept_as_it_was_written(cast: Cast) -> None:
    line = "<script>alert(1)</script> مرحبا Καλημέρα"
    message_id = sent(cast, cast.anouk, kind="words", text=line)
    offer(cast.anouk.phone, an_answer(cast.anouk, message_id, text=line))
    assert (on(cast.anouk.phone)[0]["text"], at_clinic(cast, cast.anouk)["answers"][0]["text"]) == (line, line)


def test_after_a_restore_the_answer_comes_again_and_the_lost_question_is_named(cast: Cast, tmp_path: Any) -> None:
    data = cast.app.config["SETTINGS"].data_dir
    backup.backup(data, tmp_path / "copy", cast.clock.now)
    message_id = sent(cast, cast.anouk, **ASKED)
    answer = an_answer(cast.anouk, message_id, choice="No")
    assert statuses(cast.anouk.phone, answer) == ["kept"]
    backup.restore(tmp_path / "copy", data, force=True)
    cast.ida = signed_in(cast.app, "ida")
    assert on(cast.anouk.phone) == []
    assert statuses(cast.anouk.phone, answer) == ["refused"]  # without a copy nobody knows what was asked
    copy = {**ASKED, "at": SAID_AT, "by": "ida"}
    assert statuses(cast.anouk.phone, answer | {"message": copy}) == ["kept"]
    found = at_clinic(cast, cast.anouk)
    assert (found["text"], found["brought"], found["answers"][0]["choice"]) == (ASKED["text"], True, "No")
    assert statuses(cast.anouk.phone, answer | {"message": copy}) == ["already"]


def test_after_a_restore_the_answer_of_each_phone_comes_again(cast: Cast, tmp_path: Any) -> None:
    """The one that brings the question first does not shut the other one out."""
    other, _ = second_phone(cast, cast.anouk, "caregiver")
    data = cast.app.config["SETTINGS"].data_dir
    backup.backup(data, tmp_path / "copy", cast.clock.now)
    message_id = sent(cast, cast.anouk, **ASKED)
    copy = {"message": {**ASKED, "at": SAID_AT, "by": "ida"}}
    mine = an_answer(cast.anouk, message_id, choice="No") | copy
    theirs = an_answer(cast.anouk, message_id, id="b-1", choice="Yes") | copy
    backup.restore(tmp_path / "copy", data, force=True)
    assert (statuses(cast.anouk.phone, mine), statuses(other, theirs)) == (["kept"], ["kept"])


def test_a_person_is_erased_with_messages_waiting(cast: Cast) -> None:
    message_id = sent(cast, cast.anouk, **ASKED)
    offer(cast.anouk.phone, an_answer(cast.anouk, message_id, choice="No"))
    path = f"/api/clinic/people/{cast.anouk.id}/erasure"
    assert cast.ida.post(path, {"reason": "Asked"}).status_code == 201
    assert cast.nora.post(f"{path}/confirm", {"name": "Anouk"}).status_code == 200
    assert cast.ida.post(f"/api/clinic/messages/{message_id}/read", {}).status_code == 404
    assert offer_gone(cast, an_answer(cast.anouk, message_id, choice="No")) == 401


def offer_gone(cast: Cast, answer: Json) -> int:
    return int(cast.anouk.phone.post("/api/sync", {"schema": 1, "answers": [answer]}).status_code)


def test_a_replay_knows_no_message_that_came_later(cast: Cast) -> None:
    sent(cast, cast.anouk, **ASKED)
    assert len(story(cast, cast.anouk, "?as_of=2025-09-15")["messages"]) == 1
    assert story(cast, cast.anouk, "?as_of=2025-09-14")["messages"] == []


def test_too_many_at_once_and_what_is_no_list(cast: Cast) -> None:
    body = {"schema": 1, "answers": [{}] * 201}
    assert cast.anouk.phone.post("/api/sync", body).status_code == 413
    assert cast.anouk.phone.post("/api/sync", {"schema": 1, "answers": {}}).status_code == 422
    assert "answer_receipts" not in cast.anouk.sync().get_json()  # nothing is said to a phone that knows of none
