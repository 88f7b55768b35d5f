"""What sync promises beyond a single good call: relays, restores by hand, pages, clocks, revoked phones, versions."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from plytide.settings import Settings
from plytide.storage import audit, clinics, rows
from plytide.storage import checkin as checkins
from plytide.storage.sqlite import connect
from plytide.wire import checkin as wire
from plytide.wire.checkin import SCHEMAS
from plytide.work import authorship, sync
from tests.actors import Actor, Cast, Json, Wearer
from tests.conftest import bearing

PUBLISHED = Path(__file__).parents[1] / "published"
WIRE = (
    "id limb_id date time offset moment stack fit signs comfort pain skin skin_checked signs_checked"
    " hours_worn activity"
    " falls weight_kg tags note prefilled replaces withdrawn written_at zone proof photos"
).split()


def second_phone(cast: Cast, wearer: Wearer, role: str = "caregiver") -> Actor:
    code = cast.ida.made(f"/api/clinic/people/{wearer.id}/enrolment-codes", {"role": role})["code"]
    return bearing(cast.app, cast.nobody.made("/api/enrol", {"code": code, "label": "Second phone"})["token"])


def called(phone: Actor, *items: Json, cursor: str | None = None, **envelope: Any) -> Json:
    answer = phone.post("/api/sync", {"schema": 1, "cursor": cursor, "checkins": list(items), **envelope})
    assert answer.status_code == 200, answer.get_json()
    said: Json = answer.get_json()
    return said


def statuses(answer: Json) -> list[str]:
    return [receipt["status"] for receipt in answer["receipts"]]


def of_feed(answer: Json) -> dict[str, Json]:
    return {change["id"]: change for change in answer["changes"] if change["type"] == "checkin"}


def as_offered_again(change: Json) -> Json:
    """What a phone sends of an entry it had from the clinic, after a restore."""
    return {**{key: change[key] for key in WIRE if key in change}, "written_by": change["written_by"]["device_id"]}


def clinic_file(settings: Settings, cast: Cast) -> Path:
    for path in (settings.data_dir / "clinics").glob("*.db"):
        db = connect(path)
        known = db.conn.execute("SELECT 1 FROM limb WHERE id = ?", (cast.anouk.limb_id,)).fetchone()
        db.close()
        if known:
            return path
    raise AssertionError("no file holds the limb")


# Relays


def test_an_entry_offered_again_by_another_phone_is_already_kept_in_every_form(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, hours_worn=7.0, skin=[{"place": "shin", "finding": "rash"}])
    least = {key: value for key, value in cast.anouk.checkin(today).items() if key != "moment"}
    cast.anouk.sync(said, least)
    other = second_phone(cast, cast.anouk)
    had = of_feed(called(other))
    again = json.loads(json.dumps([as_offered_again(had[one["id"]]) for one in (said, least)]).replace("7.0", "7"))
    assert statuses(called(other, *again)) == ["already", "already"]


def proved(settings: Settings, cast: Cast, said: Json) -> Json:
    """As a phone offers what it had from the clinic: with the clinic's own proof of who wrote it."""
    db = connect(clinic_file(settings, cast))
    key = clinics.authorship_key(db)
    db.close()
    one = wire.read(said)
    return {**said, "proof": authorship.proof(key, one.id, one.limb_id, one.body, str(one.written_by))}


def test_a_phone_can_not_sign_as_another(cast: Cast, settings: Settings, today: date) -> None:
    caregiver = second_phone(cast, cast.anouk)
    me = caregiver.get("/api/me").get_json()["device"]["id"]
    theirs = cast.anouk.phone.get("/api/me").get_json()["device"]["id"]
    right = proved(settings, cast, cast.anouk.checkin(today, written_by=theirs))
    forged = [
        cast.anouk.checkin(today, written_by=theirs),
        cast.anouk.checkin(today, written_by=theirs, proof="x" * 24),
        cast.anouk.checkin(today, written_by=theirs, proof=right["proof"]),  # another entry's
        {**right, "id": cast.anouk.checkin(today)["id"], "comfort": 2},
    ]
    feed = of_feed(called(caregiver, *forged))
    assert [feed[one["id"]]["written_by"]["device_id"] for one in forged] == [me] * 4


def test_what_was_lost_in_a_restore_comes_back_from_another_phone_as_its_writers(
    cast: Cast, settings: Settings, today: date
) -> None:
    other = second_phone(cast, cast.anouk)
    path = clinic_file(settings, cast)
    db = connect(path)
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    before = path.read_bytes()
    said = cast.anouk.checkin(today, hours_worn=7.0, note="näher")
    cast.anouk.sync(said)
    had = of_feed(called(other))[said["id"]]
    theirs = had["written_by"]["device_id"]
    fresh = path.with_suffix(".older")
    fresh.write_bytes(before)
    fresh.replace(path)
    for beside in ("-wal", "-shm"):
        path.with_name(path.name + beside).unlink(missing_ok=True)
    feed = of_feed(called(other, json.loads(json.dumps(as_offered_again(had)).replace("7.0", "7"))))
    assert feed[said["id"]]["written_by"]["device_id"] == theirs


def test_a_relayed_entry_keeps_its_writer_only_if_that_phone_writes_for_the_limb(
    cast: Cast, settings: Settings, today: date
) -> None:
    other = second_phone(cast, cast.anouk)
    me = other.get("/api/me").get_json()["device"]["id"]
    theirs = cast.anouk.phone.get("/api/me").get_json()["device"]["id"]
    strangers = cast.bram.phone.get("/api/me").get_json()["device"]["id"]
    writers = (theirs, strangers, "nobody", None, me)
    items = [proved(settings, cast, cast.anouk.checkin(today, written_by=writer)) for writer in writers]
    feed = of_feed(called(other, *items))
    assert [feed[one["id"]]["written_by"]["device_id"] for one in items] == [theirs, me, me, me, me]
    assert feed[items[0]["id"]]["written_by"]["role"] == "wearer"


def test_a_caregiver_of_two_can_not_sign_one_childs_entry_with_the_others_phone(
    cast: Cast, settings: Settings, today: date
) -> None:
    people = {"role": "caregiver", "person_ids": [cast.anouk.id, cast.bram.id]}
    code = cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/enrolment-codes", people)["code"]
    both = bearing(cast.app, cast.nobody.made("/api/enrol", {"code": code, "label": "Both"})["token"])
    me = both.get("/api/me").get_json()["device"]["id"]
    brams = cast.bram.phone.get("/api/me").get_json()["device"]["id"]
    both_of = [cast.anouk.checkin(today, written_by=brams), cast.bram.checkin(today, written_by=brams)]
    items = [proved(settings, cast, one) for one in both_of]
    feed = of_feed(called(both, *items))
    assert [feed[one["id"]]["written_by"]["device_id"] for one in items] == [me, brams]


def test_the_relaying_phones_wrong_clock_does_not_cast_doubt_on_anothers_entry(
    cast: Cast, settings: Settings, today: date
) -> None:
    other = second_phone(cast, cast.anouk)
    theirs = cast.anouk.phone.get("/api/me").get_json()["device"]["id"]
    items = [proved(settings, cast, cast.anouk.checkin(today, written_by=theirs)), cast.anouk.checkin(today)]
    feed = of_feed(called(other, *items, client_now="2025-09-16T12:00:00Z"))
    assert [feed[one["id"]]["doubt"] for one in items] == [None, "clock"]


# Clocks


@pytest.mark.parametrize("by", [timedelta(days=366), timedelta(days=-1), timedelta(minutes=11)])
def test_a_wrong_phone_clock_is_marked_and_refuses_nothing(cast: Cast, today: date, by: timedelta) -> None:
    said = cast.anouk.checkin(today)
    answer = called(cast.anouk.phone, said, client_now=(cast.clock.now + by).isoformat())
    assert (statuses(answer), of_feed(answer)[said["id"]]["doubt"]) == (["kept"], "clock")
    phones = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/devices").get_json()
    rows = phones["devices"] if isinstance(phones, dict) else phones
    assert [row["skew_seconds"] for row in rows] == [int(by.total_seconds())]


@pytest.mark.parametrize(
    "said_now", ["2025-09-15T12:00:05Z", "noon", "", 7, None, "0001-01-01", "9999-12-31T23:59:59Z"]
)
def test_whatever_a_phone_says_of_its_clock_the_entry_is_kept(cast: Cast, today: date, said_now: Any) -> None:
    assert statuses(called(cast.anouk.phone, cast.anouk.checkin(today), client_now=said_now)) == ["kept"]


def test_what_is_kept_stays_kept_when_the_rules_for_its_day_have_changed(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today)
    cast.anouk.sync(said)
    later = (today + timedelta(days=1)).isoformat()
    assert cast.ida.patch(f"/api/clinic/limbs/{cast.anouk.limb_id}", {"amputated_on": later}).status_code == 200
    cast.clock.forward(days=-3)  # the server's clock was wrong, and is set back
    assert statuses(called(cast.anouk.phone, said, cast.anouk.checkin(today))) == ["already", "refused"]


# Revoked


def test_a_revoked_phone_is_turned_away_and_nothing_of_its_call_is_kept(cast: Cast, today: date) -> None:
    other = second_phone(cast, cast.anouk)
    device = other.get("/api/me").get_json()["device"]["id"]
    assert cast.ida.delete(f"/api/clinic/devices/{device}").status_code < 300
    said = cast.anouk.checkin(today)
    answer = other.post("/api/sync", {"schema": 1, "cursor": None, "checkins": [said]})
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (401, "revoked")
    assert of_feed(called(cast.anouk.phone)) == {}


# Pages


def test_a_page_boundary_among_people_limbs_and_checkins_skips_nothing(
    cast: Cast, today: date, settings: Settings
) -> None:
    sent = [cast.dov.checkin(today, note=f"{n}") for n in range(9)]
    for n, said in enumerate(sent):
        cast.dov.sync(said)
        if n % 3 == 0:
            cast.ida.patch(f"/api/clinic/limbs/{cast.dov.limb_ids[n % 2]}", {"shape": "conical"})
            cast.ida.patch(f"/api/clinic/people/{cast.dov.id}", {"tags": []})
    path = clinic_file(settings, cast)
    db = connect(path)
    device = sync.devices.live_device(db, cast.dov.phone.get("/api/me").get_json()["device"]["id"])
    assert device
    whole = sync.exchange(db, device, [], None, cast.clock.now, None, 500)
    for size in range(1, len(whole["changes"]) + 1):
        cursor, seen = None, []
        while True:
            page = sync.exchange(db, device, [], sync.read_cursor(cursor), cast.clock.now, None, size)
            seen += page["changes"]
            cursor = page["cursor"]
            if not page["more"]:
                break
        assert seen == whole["changes"]
    db.close()


def test_what_is_committed_while_a_page_is_read_is_not_skipped(
    cast: Cast, today: date, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each page is one view of the file: a newer list of people beside an older list of check-ins would hide some."""
    path = clinic_file(settings, cast)
    mine, others = connect(path), connect(path)
    device = sync.devices.live_device(mine, cast.anouk.phone.get("/api/me").get_json()["device"]["id"])
    assert device
    start = sync.exchange(mine, device, [], None, cast.clock.now, None, 500)["cursor"]
    with sync.write(mine):
        rows.change(mine, "person", cast.anouk.id, {"tags": []}, cast.clock.now)
    said, plain = cast.anouk.checkin(today), checkins.since

    def since(*args: Any) -> Any:
        found = plain(*args)
        monkeypatch.setattr(sync.checkins, "since", plain)
        sync.exchange(others, device, [said], None, cast.clock.now, None, 1)
        with sync.write(others):
            rows.change(others, "person", cast.anouk.id, {"tags": []}, cast.clock.now)
            rows.change(others, "limb", cast.anouk.limb_id, {"shape": "conical"}, cast.clock.now)
        return found

    monkeypatch.setattr(sync.checkins, "since", since)
    cursor, seen = start, []
    for _ in range(6):
        page = sync.exchange(mine, device, [], sync.read_cursor(cursor), cast.clock.now, None, 1)
        cursor = page["cursor"]
        seen += [change["type"] for change in page["changes"]]
    assert seen == ["person", "checkin", "person", "limb"]
    mine.close()
    others.close()


# Copies put back by hand


def test_a_file_put_back_by_hand_is_noticed_by_the_first_phone_ahead_of_it(
    cast: Cast, today: date, settings: Settings, tmp_path: Path
) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    path = clinic_file(settings, cast)
    shutil.copy(path, tmp_path / "old.db")
    lost = cast.anouk.checkin(today)
    ahead = called(cast.anouk.phone, lost)
    for beside in path.parent.glob(f"{path.name}*"):
        beside.unlink()
    shutil.copy(tmp_path / "old.db", path)
    told = called(cast.anouk.phone, cursor=ahead["cursor"])
    assert told["epoch"] != ahead["epoch"]
    assert statuses(called(cast.anouk.phone, lost, cursor=told["cursor"])) == ["kept"]
    assert called(cast.anouk.phone, cursor=told["cursor"])["epoch"] == told["epoch"]


def test_a_forked_file_is_noticed_though_it_has_grown_as_long(
    cast: Cast, today: date, settings: Settings, tmp_path: Path
) -> None:
    path = clinic_file(settings, cast)
    shutil.copy(path, tmp_path / "old.db")
    ahead = called(cast.anouk.phone, cast.anouk.checkin(today))
    for beside in path.parent.glob(f"{path.name}*"):
        beside.unlink()
    shutil.copy(tmp_path / "old.db", path)
    called(cast.bram.phone, *[cast.bram.checkin(today) for _ in range(3)])
    assert called(cast.anouk.phone, cursor=ahead["cursor"])["epoch"] != ahead["epoch"]


def test_a_receipt_ahead_of_what_the_phone_has_read_also_tells_an_older_file(
    cast: Cast, today: date, settings: Settings, tmp_path: Path
) -> None:
    path = clinic_file(settings, cast)
    cast.anouk.sync(*[cast.anouk.checkin(today) for _ in range(400)])
    cast.anouk.sync(*[cast.anouk.checkin(today) for _ in range(400)])
    shutil.copy(path, tmp_path / "old.db")
    ahead = called(cast.anouk.phone, cast.anouk.checkin(today))
    assert ahead["more"]
    for beside in path.parent.glob(f"{path.name}*"):
        beside.unlink()
    shutil.copy(tmp_path / "old.db", path)
    assert called(cast.anouk.phone, cursor=ahead["cursor"])["epoch"] != ahead["epoch"]


def test_no_writing_by_anybody_makes_a_cursor_look_foreign(cast: Cast, today: date) -> None:
    cursor, epoch = None, None
    for n in range(6):
        answer = called(cast.anouk.phone, cast.anouk.checkin(today), cursor=cursor)
        cursor, epoch = answer["cursor"], epoch or answer["epoch"]
        called(cast.bram.phone, cast.bram.checkin(today))
        cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"name": f"Bram {n}"})
        cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}")
        assert called(cast.anouk.phone, cursor=cursor)["epoch"] == epoch


# The audit


def test_a_call_that_keeps_and_reads_leaves_one_line_and_the_chain_holds(
    cast: Cast, today: date, settings: Settings
) -> None:
    db = connect(clinic_file(settings, cast))
    before = db.conn.execute("SELECT count(*) FROM audit").fetchone()[0]
    answer = called(cast.anouk.phone, cast.anouk.checkin(today), cast.anouk.checkin(today))
    lines = db.conn.execute("SELECT what, detail FROM audit WHERE n > ?", (before,)).fetchall()
    assert [tuple(line) for line in lines] == [("sync", f"kept 2, read {len(answer['changes'])}")]
    called(cast.anouk.phone, cursor=answer["cursor"])
    assert db.conn.execute("SELECT count(*) FROM audit").fetchone()[0] == before + 1
    assert audit.first_broken_line(db) is None
    db.close()


# Every version ever published


def test_every_published_version_has_its_fixture() -> None:
    assert {path.name for path in PUBLISHED.glob("wire-v*.json")} == {f"wire-v{n}.json" for n in SCHEMAS}


@pytest.mark.parametrize("version", SCHEMAS)
def test_a_phone_of_every_published_version_is_still_heard(cast: Cast, version: int) -> None:
    fixture = json.loads((PUBLISHED / f"wire-v{version}.json").read_text())
    items = [{**one, "limb_id": cast.anouk.limb_id} for one in fixture["checkins"]]
    answer = called(cast.anouk.phone, *items, schema=fixture["schema"])
    assert statuses(answer) == ["kept"] * len(items)
    feed = of_feed(answer)
    for item in items:
        said = {key: value for key, value in item.items() if key not in ("written_by", "stack")}
        assert {key: feed[item["id"]][key] for key in said} == said
        assert [sock["ply"] for sock in feed[item["id"]]["stack"]] == [sock["ply"] for sock in item["stack"]]


# Enough is enough, with a time to come back


def test_guessing_codes_is_slowed_and_says_for_how_long(cast: Cast) -> None:
    answers = [cast.nobody.post("/api/enrol", {"code": f"WRNG-C0DE-{n:04}", "label": "x"}) for n in range(40)]
    last = answers[-1]
    assert (last.status_code, last.get_json()["error"]["code"]) == (429, "too-many-tries")
    assert int(last.headers["Retry-After"]) >= 1


def test_a_body_of_more_than_two_megabytes_is_refused_in_our_shape(cast: Cast, today: date) -> None:
    answer = cast.anouk.phone.call("POST", "/api/sync", data=b" " * 2_100_000, content_type="application/json")
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (413, "too-large")


def test_a_server_that_can_not_get_at_its_file_asks_to_come_back(
    cast: Cast, today: date, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    db = connect(clinic_file(settings, cast))
    db.conn.execute("BEGIN IMMEDIATE")
    monkeypatch.setattr("plytide.storage.sqlite.BUSY_MS", 100)
    said = cast.anouk.checkin(today)
    answer = cast.anouk.sync(said)
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (503, "storage")
    assert int(answer.headers["Retry-After"]) > 0
    db.rollback()
    db.close()
    assert statuses(called(cast.anouk.phone, said)) == ["kept"]


# A cursor that was made up


def epoch_after(cast: Cast, cursor: str) -> str:
    answer = cast.anouk.phone.post("/api/sync", {"schema": 1, "cursor": cursor, "checkins": []}).get_json()
    return str(answer["epoch"])


def test_a_phone_can_not_make_all_others_offer_all_they_hold_by_a_cursor_it_made_up(cast: Cast, today: date) -> None:
    given = cast.anouk.sync(cast.anouk.checkin(today)).get_json()
    epoch, cursor = given["epoch"], given["cursor"]
    _, seq, head, mark, seal = cursor.split(".")
    far = "9" * 12
    for made_up in (
        f"{epoch}.{seq}.{far}.{mark}",
        f"{epoch}.{far}.{far}.{mark}.{seal}",
        f"{epoch}.{seq}.{head}.abcdefabcdef.{seal}",
        f"{epoch}.{seq}.{head}.abcdefabcdef.",
    ):
        assert epoch_after(cast, made_up) == epoch
    assert epoch_after(cast, cursor) == epoch


def test_a_cursor_from_before_there_were_seals_is_believed_once_in_a_while(cast: Cast, today: date) -> None:
    """A phone that was not updated, after an older copy of the file was put back by hand: it must offer all again."""
    given = cast.anouk.sync(cast.anouk.checkin(today)).get_json()
    epoch, seq, head, *_ = given["cursor"].split(".")
    cast.clock.now = datetime.now(UTC) + timedelta(hours=1)
    assert epoch_after(cast, f"{epoch}.{seq}.{head}.abcdefabcdef") == epoch
    cast.clock.forward(days=2)
    assert epoch_after(cast, f"{epoch}.{seq}.{head}.abcdefabcdef") != epoch
