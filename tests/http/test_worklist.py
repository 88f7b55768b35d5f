"""The worklist over HTTP: what reaches it, page by page, and that a clinic sees its own people only."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.actors import Cast, fields_of


def test_a_day_logged_on_a_phone_reaches_the_worklist(cast: Cast, today: date) -> None:
    skin = [{"place": "end of the limb", "finding": "open_skin", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin))
    worklist = cast.ida.get("/api/clinic/worklist").get_json()
    first = worklist["limbs"][0]
    assert (first["limb_id"], first["person"]["name"]) == (cast.anouk.limb_id, "Anouk")
    assert ("skin", "urgent") in [(signal["kind"], signal["level"]) for signal in first["signals"]]
    assert first["why"] and first["state"] in ("gathering", "held")
    assert worklist["as_of"] == today.isoformat()


def test_a_row_carries_four_weeks_of_socks_as_they_stand_after_corrections(cast: Cast, today: date) -> None:
    thin, thick = [{"ply": 1, "make": "single"}], [{"ply": 1, "make": "single"}, {"ply": 5, "make": "single"}]
    days = [today - timedelta(days=back) for back in (26, 25, 1)]
    logged = [cast.anouk.checkin(day, stack=thin) for day in days]
    wrong = cast.anouk.checkin(today, stack=thin)
    cast.anouk.sync(*logged, wrong)
    cast.anouk.sync(cast.anouk.checkin(today, stack=thick, replaces=wrong["id"]))
    rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    strip = next(row["strip"] for row in rows if row["limb_id"] == cast.anouk.limb_id)
    assert len(strip["mm"]) == 28
    assert [n for n, mm in enumerate(strip["mm"]) if mm is not None] == [1, 2, 26, 27]
    assert (strip["now"], strip["now_on"], strip["until"]) == (thick, today.isoformat(), today.isoformat())
    assert strip["mm"][27] > strip["mm"][26] == strip["mm"][1]
    assert strip["was"] in (thin, None)  # None where another socket was worn then


def test_another_clinic_sees_nothing_of_it(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    cast.ida.get("/api/clinic/worklist")
    seen = cast.teodor.get("/api/clinic/worklist").get_json()["limbs"]
    assert {row["person"]["name"] for row in seen} == {"Esme"}
    for path in (
        f"limbs/{cast.anouk.limb_id}",
        f"limbs/{cast.anouk.limb_id}/assessment",
        f"people/{cast.anouk.id}",
    ):
        answer = cast.teodor.get(f"/api/clinic/{path}")
        assert (answer.status_code, answer.get_json()["error"]["code"]) == (404, "not-found")


def test_the_worklist_is_paged_without_a_gap_or_a_double(cast: Cast) -> None:
    seen: list[str] = []
    onward = None
    while True:
        query = {"limit": "1", **({"next": onward} if onward else {})}
        answer = cast.ida.get("/api/clinic/worklist", query_string=query).get_json()
        seen += [row["limb_id"] for row in answer["limbs"]]
        onward = answer["next"]
        if onward is None:
            break
    assert sorted(seen) == sorted([*cast.anouk.limb_ids, *cast.bram.limb_ids, *cast.dov.limb_ids])


@pytest.mark.parametrize(("name", "value"), [("limit", "0"), ("limit", "x"), ("state", "fine"), ("next", "{}")])
def test_a_question_the_worklist_can_not_read_is_named(cast: Cast, name: str, value: str) -> None:
    assert fields_of(cast.ida.get("/api/clinic/worklist", query_string={name: value})) == [name]


def test_the_worklists_counts_are_those_of_its_rows(cast: Cast, today: date) -> None:
    skin = [{"place": "shin", "finding": "blister", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin))
    cast.bram.sync(cast.bram.checkin(today, falls=1))
    for closed in (False, True):
        worklist = cast.ida.get("/api/clinic/worklist").get_json()
        urgencies = [row["urgency"] for row in worklist["limbs"]]
        names = ("quiet", "note", "call", "urgent")
        assert worklist["counts"] == {name: urgencies.count(n) for n, name in enumerate(names)}
        if not closed:
            signal = worklist["limbs"][0]["signals"][0]["id"]
            cast.ida.made(f"/api/clinic/signals/{signal}/close", {"outcome": "seen"})
