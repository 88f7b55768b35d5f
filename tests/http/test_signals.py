"""What was closed or put off comes back when it must, and two people acting at once do not undo each other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from sqlite_utils import Database

from plytide.engine.language import Language
from plytide.engine.languages import LANGUAGES
from plytide.storage import clinic_migrations, signals
from plytide.storage.clinics import open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import write
from plytide.work import reassess
from tests.actors import PASSWORD, Actor, Cast, Clock, fields_of
from tests.http.anouk import path

BLISTER = [{"place": "end of the limb", "finding": "blister", "redness_minutes": None}]


def skin_signal(cast: Cast) -> Any:
    (signal,) = [
        one
        for one in cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["signals"]
        if one["kind"] == "skin"
    ]
    return signal


@contextmanager
def clinic_file(cast: Cast) -> Iterator[Database]:
    """The clinic's own database, to write what an older server would have left there."""
    settings = cast.app.config["SETTINGS"]
    registry = Registry(settings.data_dir)
    clinic = open_clinic(
        settings.data_dir, registry, next(id_ for id_, file in registry.clinic_files() if "marram" in file)
    )
    with write(clinic) as db:
        yield db
    clinic.close()
    registry.close()


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


def test_a_finding_that_nobody_has_seen_opens_what_was_acknowledged(cast: Cast, today: date) -> None:
    """The hold of a recast says that nobody has looked since: the row may not say that somebody did."""
    path = blistered(cast, today - timedelta(days=2))
    cast.ida.made(f"{path}/acknowledge", {})
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=1), skin=BLISTER))
    cast.ida.get("/api/clinic/worklist")
    assert skin_signal(cast)["status"] == "acknowledged"  # the same again: seen
    wound = {"place": "front of the limb", "finding": "open_skin", "redness_minutes": None}
    cast.anouk.sync(cast.anouk.checkin(today, skin=[*BLISTER, wound]))
    cast.ida.get("/api/clinic/worklist")
    signal = skin_signal(cast)
    assert (signal["status"], signal["events"][-1]["event"]) == ("open", "reported-again")
    assert "front of the limb" in signal["because"]


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


@pytest.mark.parametrize("words", ["Visit booked", "visit booked ", "VISIT BOOKED: Friday", " Visit  booked"])
def test_visit_booked_can_not_be_said_without_a_visit(cast: Cast, today: date, words: str) -> None:
    path = blistered(cast, today)
    cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/visits", {"on": (today - timedelta(days=1)).isoformat()})
    refused = cast.ida.post(f"{path}/close", {"outcome": words})
    assert (refused.status_code, refused.get_json()["error"]["fields"]) == (
        422,
        {"outcome": ["Enter the visit first."]},
    )
    assert skin_signal(cast)["status"] == "open"
    cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/visits", {"on": today.isoformat()})
    assert cast.ida.made(f"{path}/close", {"outcome": words})["status"] == "closed"


def test_a_visit_that_was_cancelled_is_no_visit(cast: Cast, today: date) -> None:
    path = blistered(cast, today)
    visit = cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/visits", {"on": today.isoformat()})["id"]
    cast.ida.patch(f"/api/clinic/visits/{visit}", {"cancelled": True})
    assert cast.ida.post(f"{path}/close", {"outcome": "Visit booked"}).status_code == 422


def test_the_visit_is_booked_in_the_same_step(cast: Cast, today: date) -> None:
    path = blistered(cast, today)
    friday = (today + timedelta(days=4)).isoformat()
    early = {"outcome": "Visit booked", "visit": {"on": (today - timedelta(days=1)).isoformat()}}
    assert list(cast.ida.post(f"{path}/close", early).get_json()["error"]["fields"]) == ["visit.on"]
    closed = cast.ida.made(f"{path}/close", {"outcome": "Visit booked", "visit": {"on": friday, "time": "10:15"}})
    (visit,) = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["visits"]
    assert (visit["on"], visit["time"]) == (friday, "10:15")
    assert closed["events"][-1]["visit_id"] == visit["id"]


def test_a_signal_kept_before_rules_had_names_is_taken_up_and_stays_closed(cast: Cast, today: date) -> None:
    path = blistered(cast, today)
    cast.ida.made(f"{path}/close", {"outcome": "Called"})
    with clinic_file(cast) as db:
        db.conn.execute("UPDATE signal SET rule = NULL")
    assert skin_signal(cast)["rule"] is None
    cast.anouk.sync(cast.anouk.checkin(today))
    cast.ida.get("/api/clinic/worklist")
    assert (skin_signal(cast)["status"], skin_signal(cast)["rule"]) == ("closed", None)
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    cast.ida.get("/api/clinic/worklist")
    assert (skin_signal(cast)["status"], skin_signal(cast)["rule"]) == ("open", "stop-wear-skin")


HERE = Language(
    months=tuple(f"maand {n}" for n in range(1, 13)),
    days=lambda count: f"{count} dagen",
    words={"FINDING": {"blister": "blaar"}, "PLACE": {"end of the limb": "het einde"}},
    sentences={
        "safety.finding": "{found:FINDING} ({place:PLACE}),",
        "safety.reported": "gemeld op {on:day}.",
        "safety.told": "Gezegd is de tekst van {rule:RULE}.",
    },
)


def test_what_was_said_is_kept_with_codes_and_values_and_can_be_said_in_another_language(
    cast: Cast, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    blistered(cast, today)
    signal = skin_signal(cast)
    assert [one["code"] for one in signal["sentences"]] == ["safety.finding", "safety.reported", "safety.told"]
    monkeypatch.setitem(LANGUAGES, "here", HERE)
    words = "Blaar (het einde), gemeld op 15 maand 9. Gezegd is de tekst van stop-wear-skin."
    assert signal["because"].startswith("Blister (end of the limb), reported on 15 September. The wearer was told: “")
    # The row, each event of its life, what a replay shows, and the answer to a deed.
    asked = {"Accept-Language": "here, en;q=0.5"}
    page = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    (here,) = cast.ida.get(page, headers=asked).get_json()["signals"]
    (then,) = cast.ida.get(f"{page}?as_of={today.isoformat()}", headers=asked).get_json()["signals"]
    acted = cast.ida.post(f"/api/clinic/signals/{signal['id']}/acknowledge", {}, headers=asked).get_json()
    assert [one["because"] for one in (here, here["events"][0], then, acted)] == [words] * 4
    (other,) = cast.ida.get(page, headers={"Accept-Language": "nowhere"}).get_json()["signals"]
    assert other["because"] == signal["because"]


def test_a_row_of_the_worklist_and_the_reasons_of_a_limb_are_said_in_the_language_asked_for(
    cast: Cast, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reason of a row holds what is said of its signal, or of a limb that has none."""
    sentences = {
        **HERE.sentences,
        "row.no-longer-seen": "niet meer gezien:",
        "row.more": "En nog {more}.",
        "too-few-days.one-day": "Pas {logged:days}.",
        "too-few-days.needed": "Nodig zijn {count} dagen.",
        "too-few-days.until-then": "Tot dan niets.",
    }
    monkeypatch.setitem(LANGUAGES, "here", replace(HERE, sentences=sentences))
    asked = {"Accept-Language": "here, en;q=0.5"}

    def row(headers: dict[str, str] | None = None) -> dict[str, Any]:
        rows = cast.ida.get("/api/clinic/worklist", headers=headers or {}).get_json()["limbs"]
        return next(one for one in rows if one["limb_id"] == cast.anouk.limb_id)

    cast.anouk.sync(cast.anouk.checkin(today))
    assert row()["why"].startswith("Not known yet: check-ins on 1 day. Needed are")
    assert row(asked)["why"] == "Pas 1 dagen. Nodig zijn 6 dagen. Tot dan niets."
    page = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    for asks in ("assessment", "plan"):
        first = cast.ida.get(f"{page}/{asks}", headers=asked).get_json()["readiness"]["reasons"][0]
        assert first == {"code": "too-few-days", "text": "Pas 1 dagen. Nodig zijn 6 dagen. Tot dan niets."}, asks
    assert cast.ida.get(page, headers=asked).get_json()["assessment"]["readiness"]["reasons"][0] == first

    blistered(cast, today)
    words = "Blaar (het einde), gemeld op 15 maand 9. Gezegd is de tekst van stop-wear-skin."
    assert (row(asked)["why"], row(asked)["signals"][0]["because"]) == (words, words)
    with clinic_file(cast) as db:
        db.conn.execute("UPDATE signal SET holds = 0")
        reassess.rank(db, cast.anouk.limb_id)
    assert row(asked)["why"] == f"Niet meer gezien: {words}"
    assert row()["why"].startswith("No longer seen, still open: Blister (end of the limb), reported on 15 September.")


def test_the_pages_are_told_what_a_language_calls_the_codes(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    words = {**HERE.words, "KIND": {"skin": "huid"}}
    monkeypatch.setitem(LANGUAGES, "here", replace(HERE, words=words))
    asked = {"Accept-Language": "here"}
    told = cast.ida.get("/api/clinic/session", headers=asked).get_json()
    assert told["words"] == HERE.words
    assert (told["signal_words"]["skin"], told["signal_words"]["silent"]) == ("huid", "silence")
    english = cast.ida.get("/api/clinic/session").get_json()
    assert (english["words"], english["signal_words"]["skin"]) == ({}, "skin")


def test_a_row_kept_before_there_were_codes_is_read_in_its_english(
    cast: Cast, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(LANGUAGES, "here", HERE)
    cast.anouk.sync(cast.anouk.checkin(today))
    rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    migrate = next(made for name, made in vars(clinic_migrations).items() if name.endswith("why_in_sentences"))
    with clinic_file(cast) as db:
        db.conn.execute("ALTER TABLE assessment DROP COLUMN why_sentences")
        migrate(db)
    assert cast.ida.get("/api/clinic/worklist", headers={"Accept-Language": "here"}).get_json()["limbs"] == rows


def test_a_signal_kept_before_there_were_codes_is_read_in_its_english(cast: Cast, today: date) -> None:
    blistered(cast, today)
    migrate = next(made for name, made in vars(clinic_migrations).items() if name.endswith("signal_sentences"))
    with clinic_file(cast) as db:
        for deed in ("insert", "update", "delete"):  # nor were there any proofs then
            db.conn.execute(f"DROP TRIGGER touched_signal_{deed}")
        db.conn.execute("ALTER TABLE signal DROP COLUMN sentences")
        migrate(db)
    signal = skin_signal(cast)
    assert signal["sentences"] == [] and signal["because"]
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    cast.ida.get("/api/clinic/worklist")
    assert skin_signal(cast)["sentences"] != []


def test_an_event_of_before_the_codes_shows_its_own_words_in_a_replay(cast: Cast, today: date) -> None:
    """Else what was said then would be said again in the words of a later day."""
    signal_id = blistered(cast, today).rpartition("/")[2]
    with clinic_file(cast) as db:
        signals.event(db, signal_id, cast.clock.now, "reported-again", because="As it was said.")
    replay = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}?as_of={today.isoformat()}").get_json()
    (then,) = [one for one in replay["signals"] if one["kind"] == "skin"]
    assert (then["because"], then["sentences"]) == ("As it was said.", [])


def test_a_signal_is_acknowledged_closed_and_the_life_of_it_kept(cast: Cast, today: date) -> None:
    skin = [{"place": "end of the limb", "finding": "blister", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    signal = next(one for one in row["signals"] if one["kind"] == "skin")
    path = f"/api/clinic/signals/{signal['id']}"
    assert cast.ida.made(f"{path}/acknowledge", {"note": "called"})["status"] == "acknowledged"
    assert fields_of(cast.ida.post(f"{path}/close", {})) == ["outcome"]
    assert cast.ida.made(f"{path}/close", {"outcome": "seen today"})["status"] == "closed"
    undone = cast.ida.made(f"{path}/undo", {})
    assert undone["status"] == "acknowledged"
    assert [event["event"] for event in undone["events"]] == ["opened", "acknowledge", "close", "undo"]
    assert cast.teodor.post(f"{path}/acknowledge", {}).status_code == 404


def test_a_closed_matter_stays_closed_and_an_unseen_one_stays_open(cast: Cast, today: date) -> None:
    skin = [{"place": "end of the limb", "finding": "blister", "redness_minutes": None}]
    said = cast.anouk.checkin(today, skin=skin)
    cast.anouk.sync(said)
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    cast.ida.get("/api/clinic/worklist")
    cast.anouk.sync(cast.anouk.checkin(today, replaces=said["id"]))
    cast.ida.get("/api/clinic/worklist")
    signal = next(one for one in cast.ida.get(path).get_json()["signals"] if one["kind"] == "skin")
    assert (signal["status"], signal["holds"]) == ("open", False)
    assert [event["event"] for event in signal["events"]] == ["opened", "taken-back", "no-longer-seen"]


def test_a_snooze_ends_by_itself(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, falls=2))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    signal = row["signals"][0]["id"]
    until = (today + timedelta(days=1)).isoformat()
    cast.ida.made(f"/api/clinic/signals/{signal}/snooze", {"until": until})
    listed = cast.ida.get("/api/clinic/worklist", query_string={"show": "snoozed"}).get_json()["limbs"]
    assert [one["limb_id"] for one in listed] == [cast.anouk.limb_id]
    assert listed[0]["urgency"] == 0
    clock.forward(days=1)
    session = cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD})
    ida = Actor(cast.app, {"Cookie": session.headers["Set-Cookie"].split(";")[0]})
    cast.anouk.sync(cast.anouk.checkin(today + timedelta(days=1)))
    woken = ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert (woken["urgency"], woken["signals"][0]["status"]) == (2, "open")
    events = ida.get(path(cast)).get_json()["signals"][0]["events"]
    assert [event["event"] for event in events] == ["opened", "snooze", "woke"]
