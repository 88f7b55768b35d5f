"""The calendar of visits: booked, moved, missed, done; what stands in the way is said before; a feed elsewhere."""

from __future__ import annotations

from datetime import UTC, datetime
from threading import Barrier, Thread
from typing import Any

import pytest
from icalendar import Calendar

from plytide.storage.files import backup
from tests.actors import Actor, Cast, Json
from tests.conftest import signed_in

DAY = "2025-09-18"  # a Thursday, three days on


def faults(answer: Any) -> dict[str, list[str]]:
    assert answer.status_code == 422, (answer.status_code, answer.get_json())
    found: dict[str, list[str]] = answer.get_json()["error"]["fields"]
    return found


def book(cast: Cast, who: Any = None, staff: Actor | None = None, **said: Any) -> Any:
    return (staff or cast.ida).post(f"/api/clinic/people/{(who or cast.anouk).id}/visits", {"on": DAY, **said})


def the_visit(cast: Cast, visit_id: str) -> Json:
    found: Json = cast.ida.get(f"/api/clinic/visits/{visit_id}").get_json()
    return found


def keys(answer: Any) -> list[str]:
    assert answer.status_code == 409, answer.get_json()
    assert answer.get_json()["error"]["code"] == "taken"
    return [one["key"] for one in answer.get_json()["against"]]


def chairs(cast: Cast, *names: str) -> None:
    assert cast.nora.patch("/api/clinic/settings", {"chairs": list(names)}).status_code == 200


def test_a_week_shows_who_comes_when_why_how_long_and_in_which_chair(cast: Cast) -> None:
    chairs(cast, "Room 1", "Room 2")
    told = {"time": "10:30", "minutes": 45, "chair": "Room 2", "what": "Review fit", "limb_id": cast.anouk.limb_id}
    assert book(cast, **told).status_code == 201
    week = cast.juno.get("/api/clinic/visits?from=2025-09-15&to=2025-09-21").get_json()
    assert week["chairs"] == ["Room 1", "Room 2"]
    (one,) = week["visits"]
    assert {name: one[name] for name in told} == told
    assert one["person"] == {"id": cast.anouk.id, "name": "Anouk"}
    assert cast.juno.get("/api/clinic/visits?from=2025-09-19&to=2025-09-21").get_json()["visits"] == []
    assert cast.ida.get("/api/clinic/visits?from=2025-09-19&to=2025-09-01").status_code == 422


def test_two_visits_at_half_past_ten_are_not_booked_unwarned(cast: Cast) -> None:
    assert book(cast, time="10:30").status_code == 201
    answer = book(cast, cast.dov, time="10:45")
    (key,) = keys(answer)
    assert answer.get_json()["against"][0]["text"] == "Anouk is booked then (10:30, 30 minutes)."
    assert book(cast, cast.dov, time="11:00").status_code == 201  # the next one begins when this one ends
    assert book(cast, cast.dov, time="10:45", anyway=[key]).status_code == 409  # his own of 11:00 was not shown
    assert book(cast, cast.bram, time="10:00", minutes=30).status_code == 201


def test_anyway_counts_for_what_was_shown_and_not_for_what_came_since(cast: Cast) -> None:
    first = book(cast, time="10:30").get_json()["id"]
    seen = keys(book(cast, cast.dov, time="10:30"))
    assert cast.juno.patch(f"/api/clinic/visits/{first}", {"minutes": 60}).status_code == 200
    again = keys(book(cast, cast.dov, time="10:30", anyway=seen))
    assert again != seen
    assert book(cast, cast.dov, time="10:30", anyway=again).status_code == 201


def test_as_many_at_once_as_there_are_chairs(cast: Cast) -> None:
    chairs(cast, "Room 1", "Room 2")
    assert book(cast, time="10:30").status_code == 201
    assert book(cast, cast.dov, time="10:30").status_code == 201
    assert len(keys(book(cast, cast.bram, time="10:30"))) == 2
    assert faults(book(cast, cast.bram, time="14:30", chair="Room 3")) == {
        "chair": ["The clinic has these: Room 1, Room 2."]
    }


def test_the_same_chair_the_same_member_of_staff_and_the_same_person(cast: Cast) -> None:
    chairs(cast, "Room 1", "Room 2", "Room 3")
    ida = cast.ida.get("/api/clinic/session").get_json()["staff"]["id"]
    assert book(cast, time="10:30", chair="Room 1", staff_id=ida).status_code == 201
    for who, said, code in (
        (cast.dov, {"chair": "Room 1"}, "chair"),
        (cast.dov, {"staff_id": ida, "chair": "Room 2"}, "staff"),
        (cast.anouk, {"chair": "Room 2"}, "person"),
    ):
        assert [key.partition(":")[0] for key in keys(book(cast, who, time="10:30", **said))] == [code]


def test_two_members_of_staff_book_the_same_chair_at_once_and_one_is_told(cast: Cast) -> None:
    gate, got = Barrier(2), list[int]()

    def at_once(staff: Actor, who: Any) -> None:
        gate.wait()
        got.append(book(cast, who, staff, time="10:30", chair="Room 1").status_code)

    threads = [Thread(target=at_once, args=pair) for pair in ((cast.ida, cast.anouk), (cast.juno, cast.dov))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == [201, 409]


def test_a_visit_across_midnight_stands_in_the_way_on_both_days(cast: Cast) -> None:
    assert book(cast, time="23:30", minutes=90).status_code == 201
    assert keys(book(cast, cast.dov, on="2025-09-19", time="00:30"))
    assert book(cast, cast.dov, on="2025-09-19", time="01:00").status_code == 201


def test_closed_days_and_hours_are_said(cast: Cast) -> None:
    hours = [{"days": [1, 2, 3, 4], "from": "08:00", "to": "12:00"}]
    assert cast.nora.patch("/api/clinic/settings", {"hours": hours, "closed_on": ["2025-09-22"]}).status_code == 200
    assert keys(book(cast, on="2025-09-22")) == ["closed:2025-09-22"]  # a Monday, and a holiday
    assert keys(book(cast, time="11:45")) == [f"hours:{DAY}T11:45"]
    assert keys(book(cast, on="2025-09-20", time="09:00")) == ["hours:2025-09-20T09:00"]  # a Saturday
    assert book(cast, on="2025-09-20", time="09:00", anyway=["hours:2025-09-20T09:00"]).status_code == 201
    assert book(cast, time="11:30").status_code == 201


def test_a_time_that_the_clocks_skip_is_refused_and_one_that_comes_twice_is_not(cast: Cast) -> None:
    assert cast.nora.patch("/api/clinic/settings", {"zone": "Europe/Berlin"}).status_code == 200
    assert faults(book(cast, on="2026-03-29", time="02:30")) == {
        "time": ["The clocks go forward that night: this time does not exist."]
    }
    twice = book(cast, on="2025-10-26", time="02:30", minutes=60).get_json()["id"]
    found = the_visit(cast, twice)
    assert (found["begins"], found["ends"]) == ("2025-10-26T00:30:00+00:00", "2025-10-26T01:30:00+00:00")


def test_moved_missed_done_called_off_and_back_with_its_story(cast: Cast) -> None:
    on = "2025-09-15"
    visit_id = book(cast, on=on, time="10:30").get_json()["id"]
    change = lambda **said: cast.ida.patch(f"/api/clinic/visits/{visit_id}", said)  # noqa: E731
    assert change(on="2025-09-25").status_code == 200
    assert faults(change(outcome="done")) == {"outcome": ["This visit is still to come."]}
    assert change(on=on).status_code == 200
    assert change(outcome="missed").status_code == 200
    assert cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]["next_visit"] is None
    assert change(outcome="done").status_code == 200
    assert change(cancelled=True, outcome=None).status_code == 200
    assert change(cancelled=False).status_code == 200
    found = the_visit(cast, visit_id)
    assert found["sequence"] == 6 and len(found["changes"]) == 7
    assert found["changes"][1] | {"at": ""} == {
        "before": {"visit_on": on}, "after": {"visit_on": "2025-09-25"}, "by": "ida", "at": "",
    }  # fmt: skip
    assert change(cancelled=False).status_code == 200
    assert the_visit(cast, visit_id)["sequence"] == 6  # nothing was changed


def test_a_visit_put_back_or_moved_meets_what_was_booked_meanwhile(cast: Cast) -> None:
    first = book(cast, time="10:30").get_json()["id"]
    assert cast.ida.patch(f"/api/clinic/visits/{first}", {"cancelled": True}).status_code == 200
    assert book(cast, cast.dov, time="10:30").status_code == 201
    assert keys(cast.ida.patch(f"/api/clinic/visits/{first}", {"cancelled": False}))
    assert cast.ida.patch(f"/api/clinic/visits/{first}", {"cancelled": False, "time": "12:00"}).status_code == 200
    assert keys(cast.ida.patch(f"/api/clinic/visits/{first}", {"time": "10:15"}))


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"minutes": 0}, "minutes"), ({"minutes": 481}, "minutes"), ({"staff_id": "nobody"}, "staff_id"),
        ({"outcome": "late"}, "outcome"), ({"limb_id": "other"}, "limb_id"), ({"signal_id": "other"}, "signal_id"),
        ({"time": "25:00"}, "time"), ({"on": "2025-02-30"}, "on"),
    ],
)  # fmt: skip
def test_what_can_not_be_is_refused_by_field(cast: Cast, said: Json, field: str) -> None:
    assert list(faults(book(cast, **said))) == [field]


def test_the_wearers_phone_has_it_moved_and_called_off_too(cast: Cast) -> None:
    assert cast.nora.patch("/api/clinic/settings", {"zone": "Europe/Berlin"}).status_code == 200
    visit_id = book(cast, time="10:30", minutes=45, what="Review", chair="Room 1").get_json()["id"]
    mine = lambda: cast.anouk.phone.get("/api/me").get_json()  # noqa: E731
    (one,) = mine()["visits"]
    assert one["begins"] == "2025-09-18T08:30:00+00:00" and one["sequence"] == 0
    assert one.keys().isdisjoint({"chair", "staff_id", "signal_id", "limb_id"})  # the clinic's own
    cast.ida.patch(f"/api/clinic/visits/{visit_id}", {"time": "15:00"})
    assert (mine()["visits"][0]["time"], mine()["next_visits"][0]["sequence"]) == ("15:00", 1)
    cast.ida.patch(f"/api/clinic/visits/{visit_id}", {"cancelled": True})
    assert (mine()["visits"][0]["cancelled"], mine()["next_visits"]) == (True, [])
    assert cast.dov.phone.get("/api/me").get_json()["visits"] == []


def test_chair_time_reads_the_calendar_against_the_chairs(cast: Cast) -> None:
    first = lambda: cast.ida.get("/api/clinic/chair-time").get_json()["weeks"][0]  # noqa: E731
    assert first()["booked"] == {"visits": 0, "minutes": 0, "chair_minutes": None}
    hours = [{"days": [1, 2, 3, 4], "from": "08:00", "to": "12:00"}, {"days": [1], "from": "13:00", "to": "15:30"}]
    asked = {"hours": hours, "closed_on": ["2025-09-16"], "chairs": ["Room 1", "Room 2"]}
    assert cast.nora.patch("/api/clinic/settings", asked).status_code == 200
    kept = book(cast, time="10:30", minutes=45).get_json()["id"]
    off = book(cast, cast.dov, time="11:00").get_json()["id"]
    book(cast, cast.bram)  # some time that day
    book(cast, cast.bram, on="2025-09-22", time="09:00")
    cast.ida.patch(f"/api/clinic/visits/{off}", {"cancelled": True})
    # Three open days of four hours and two hours and a half, in two chairs.
    assert first()["booked"] == {"visits": 2, "minutes": 45, "chair_minutes": 2 * (3 * 240 + 150)}
    cast.clock.forward(days=4)
    cast.ida = signed_in(cast.app, "ida")
    assert cast.ida.patch(f"/api/clinic/visits/{kept}", {"outcome": "missed"}).status_code == 200
    assert first()["booked"]["visits"] == 1


# The feed


def address(cast: Cast, **said: Any) -> tuple[str, str]:
    made = cast.nora.made("/api/clinic/calendar-feeds", {"label": "Front desk", **said})
    return made["id"], "/api" + made["url"].partition("/api")[2]


def events(cast: Cast, path: str) -> list[Any]:
    answer = cast.nobody.get(path)
    assert answer.status_code == 200 and answer.mimetype == "text/calendar"
    text = answer.get_data(as_text=True)
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    return list(Calendar.from_ical(text).walk("VEVENT"))


def test_a_visit_called_off_after_it_was_read_is_cancelled_there_with_a_higher_sequence(cast: Cast) -> None:
    assert cast.nora.patch("/api/clinic/settings", {"zone": "Europe/Berlin"}).status_code == 200
    visit_id = book(cast, time="10:30", minutes=45, chair="Room 1; left, by the window").get_json()["id"]
    _, path = address(cast)
    (before,) = events(cast, path)
    assert before["DTSTART"].dt == datetime(2025, 9, 18, 8, 30, tzinfo=UTC)
    assert before["DTEND"].dt == datetime(2025, 9, 18, 9, 15, tzinfo=UTC)
    assert (before["STATUS"], before["SEQUENCE"], before["LOCATION"]) == ("CONFIRMED", 0, "Room 1; left, by the window")
    cast.clock.forward(minutes=5)
    cast.ida.patch(f"/api/clinic/visits/{visit_id}", {"cancelled": True})
    (after,) = events(cast, path)
    assert (after["UID"], after["STATUS"], after["SEQUENCE"]) == (before["UID"], "CANCELLED", 1)
    assert after["DTSTAMP"].dt > before["DTSTAMP"].dt


def test_without_a_zone_or_a_time_it_is_still_a_calendar(cast: Cast) -> None:
    book(cast, time="23:50")
    book(cast, cast.dov, on="2025-09-19", what="Привет; 你好,\nΚαλημέρα " * 5)
    _, path = address(cast, shows="names")
    timed, whole = events(cast, path)
    assert timed["DTSTART"].dt == datetime(2025, 9, 18, 23, 50) and timed["DTEND"].dt == datetime(2025, 9, 19, 0, 20)
    assert whole["DTSTART"].dt.isoformat() == "2025-09-19"
    assert whole["SUMMARY"] == "Dov: " + "Привет; 你好,\nΚαλημέρα " * 5


def test_no_name_leaves_the_clinic_unless_it_was_chosen(cast: Cast) -> None:
    book(cast, time="10:30", what="Skin breakdown")
    for shows, words in (("times", "Visit"), ("initials", "Visit A."), ("names", "Anouk: Skin breakdown")):
        assert [one["SUMMARY"] for one in events(cast, address(cast, shows=shows)[1])] == [words]


def test_a_leaked_address_is_revoked_and_nothing_else_opens(cast: Cast) -> None:
    feed_id, path = address(cast)
    secret = path.rpartition("/")[2].removesuffix(".ics")
    assert events(cast, path) == []
    assert secret not in cast.nora.get("/api/clinic/calendar-feeds").get_data(as_text=True)
    listed = cast.nora.get("/api/clinic/calendar-feeds").get_json()["feeds"]
    assert [(one["label"], one["by"], one["opens"], bool(one["read_at"])) for one in listed] == [
        ("Front desk", "nora", True, True)
    ]
    assert cast.nora.delete(f"/api/clinic/calendar-feeds/{feed_id}").status_code == 200
    for wrong in (path, path.replace(secret, secret[:-1]), "/api/calendar/.ics", f"/api/calendar/{feed_id}.ics"):
        assert cast.nobody.get(wrong).status_code == 404
    assert cast.nora.delete(f"/api/clinic/calendar-feeds/{feed_id}").status_code == 404


def test_each_reading_of_the_feed_is_in_the_chain(cast: Cast) -> None:
    feed_id, path = address(cast)
    events(cast, path)
    lines = cast.nora.get("/api/clinic/audit").get_json()["lines"]
    assert (lines[0]["who"], lines[0]["what"]) == (f"feed:{feed_id}", "calendar.read") or any(
        (line["who"], line["what"]) == (f"feed:{feed_id}", "calendar.read") for line in lines[:3]
    )


def test_an_address_is_dead_after_a_restore(cast: Cast, tmp_path: Any) -> None:
    """A copy may hold one that was revoked since."""
    feed_id, path = address(cast)
    data = cast.app.config["SETTINGS"].data_dir
    backup.backup(data, tmp_path / "copy", cast.clock.now)
    assert cast.nora.delete(f"/api/clinic/calendar-feeds/{feed_id}").status_code == 200
    backup.restore(tmp_path / "copy", data, force=True)
    assert cast.nobody.get(path).status_code == 404
