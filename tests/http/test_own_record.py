"""The clinic's own record over HTTP: few people get words, an erased person leaves the counts, a file says the same."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from typing import Any

from plytide.model import Said
from plytide.storage import said
from plytide.storage.sqlite import connect
from tests.actors import Cast, Clock
from tests.conftest import signed_in
from tests.storage.test_lost import file_of

BLISTER = [{"place": "shin", "finding": "blister", "redness_minutes": None}]
PATH = "/api/clinic/own-record"


def figure(cast: Cast, code: str, kind: str | None = None) -> Any:
    found = signed_in(cast.app, "ida").get(PATH).get_json()["figures"]
    return next((one for one in found if (one["code"], one["kind"]) == (code, kind)), None)


def person_with_two_sockets(cast: Cast, name: str, today: date) -> str:
    ida = signed_in(cast.app, "ida")
    person = ida.made("/api/clinic/people", {"name": name})
    limb = ida.made(f"/api/clinic/people/{person['id']}/limbs", {"side": "left", "level": "transtibial"})
    for back, purpose in ((200, "diagnostic"), (100, "definitive")):
        fitted = (today - timedelta(days=back)).isoformat()
        ida.made(f"/api/clinic/limbs/{limb['id']}/sockets", {"fitted_on": fitted, "purpose": purpose})
    return str(person["id"])


def test_from_five_people_on_there_is_a_figure_and_an_erased_person_is_counted_no_more(cast: Cast, today: date) -> None:
    people = [person_with_two_sockets(cast, f"Person {n}", today) for n in range(4)]
    few = figure(cast, "first-to-definitive")
    assert (few["people"], few["interval"]) == (4, None)
    people.append(person_with_two_sockets(cast, "Person 4", today))
    five = figure(cast, "first-to-definitive")
    assert five["interval"] == {"value": 100, "low": 100, "high": 100}
    rows = list(csv.DictReader(io.StringIO(cast.ida.get(f"{PATH}.csv").get_data(as_text=True))))
    row = next(one for one in rows if one["code"] == "first-to-definitive")
    assert (row["people"], float(row["value"])) == ("5", 100.0)
    other = cast.teodor.get(PATH).get_json()
    assert all(one["people"] < 5 for one in other["figures"])  # another clinic's people are not among them
    cast.ida.made(f"/api/clinic/people/{people[0]}/erasure", {"reason": "Asked for it."})
    gone = cast.nora.post(f"/api/clinic/people/{people[0]}/erasure/confirm", {"name": "Person 0"})
    assert gone.status_code == 200
    left = figure(cast, "first-to-definitive")
    assert (left["people"], left["interval"]) == (4, None)


def test_a_socket_taken_out_as_a_mistake_or_not_fitted_yet_is_counted_nowhere(cast: Cast, today: date) -> None:
    people = [person_with_two_sockets(cast, f"Person {n}", today) for n in range(5)]
    codes = ("first-to-definitive", "remade", "remakes")
    before = [figure(cast, code) for code in codes]
    limb = cast.anouk.limb_id  # one socket so far, a preparatory one
    making = {"id": "m1", "made": "cast", "on": today.isoformat(), "purpose": "definitive", "suspension": None}
    made = cast.ida.made(f"/api/clinic/limbs/{limb}/makings", making)["id"]
    end = {"id": "f1", "socket": {"fitted_on": today.isoformat()}, "open_seen": True}
    assert cast.ida.post(f"/api/clinic/makings/{made}/finish", end).status_code == 200
    assert figure(cast, "first-to-definitive")["people"] == len(people) + 1
    cast.ida.made(f"/api/clinic/makings/{made}/void", {"id": "v1", "reason": "Another person's."})
    assert [figure(cast, code) for code in codes] == before
    later = {"fitted_on": (today + timedelta(days=60)).isoformat(), "purpose": "definitive"}
    cast.ida.made(f"/api/clinic/limbs/{limb}/sockets", later)
    assert [figure(cast, code) for code in codes] == before


def test_a_signal_is_acted_on_once_somebody_of_the_staff_did_something(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    ida = signed_in(cast.app, "ida")
    ida.get("/api/clinic/worklist")
    assert figure(cast, "acted-on", "skin")["cases"] == 1
    assert figure(cast, "time-to-answer", "skin")["cases"] == 0
    signals = ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["signals"]
    skin = next(one["id"] for one in signals if one["kind"] == "skin")
    clock.forward(hours=5)
    signed_in(cast.app, "ida").made(f"/api/clinic/signals/{skin}/acknowledge", {})
    assert figure(cast, "time-to-answer", "skin")["cases"] == 1
    assert figure(cast, "time-to-answer", "skin")["interval"] is None


def kept_sayings(cast: Cast) -> list[Said]:
    db = connect(file_of(cast.app.config["SETTINGS"], "nora"))
    try:
        return said.of_limb(db, cast.anouk.limb_id)
    finally:
        db.close()


def test_what_was_said_is_kept_once_a_week_and_no_late_entry_changes_it(cast: Cast, today: date, clock: Clock) -> None:
    for back in range(20, -1, -1):
        cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=back)))
    signed_in(cast.app, "ida").get("/api/clinic/worklist")
    before = kept_sayings(cast)
    assert before and before[-1].change is not None and before[-1].coming is not None
    late = cast.anouk.checkin(today - timedelta(days=3), stack=[{"ply": 5, "make": "single"}] * 2)
    cast.anouk.sync(late)
    signed_in(cast.app, "ida").get("/api/clinic/worklist")
    assert kept_sayings(cast) == before
    clock.forward(days=8)
    cast.anouk.sync(cast.anouk.checkin(today + timedelta(days=8)))
    signed_in(cast.app, "ida").get("/api/clinic/worklist")
    assert kept_sayings(cast)[: len(before)] == before
    assert kept_sayings(cast)[-1].on == today + timedelta(days=8)
    rows = list(csv.DictReader(io.StringIO(signed_in(cast.app, "ida").get(f"{PATH}.csv").get_data(as_text=True))))
    assert [row["code"] for row in rows[:4]] == ["level-held", "coming-held", "steady-28", "steady-90"]


def test_an_erased_persons_sayings_go_with_them(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    signed_in(cast.app, "ida").get("/api/clinic/worklist")
    assert kept_sayings(cast)
    person, name = cast.anouk.id, cast.anouk.name
    cast.ida.made(f"/api/clinic/people/{person}/erasure", {"reason": "Asked for it."})
    assert cast.nora.post(f"/api/clinic/people/{person}/erasure/confirm", {"name": name}).status_code == 200
    assert kept_sayings(cast) == []
