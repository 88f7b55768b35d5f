"""A clinic brings its caseload: what is asked, what a dry run says, what is kept, what is taken back."""

from __future__ import annotations

import base64
import json
from typing import Any

import pytest

from plytide.work import caseload as work
from tests.actors import Actor, Cast, checkin, plytide
from tests.conftest import TODAY

Json = dict[str, Any]
PART = 1_000_000
NAMED = {"Name": "name", "Born": "born_on", "No": "record_number", "Side": "side", "Level": "level"}
HEAD = "Name,Born,No,Side,Level"
THREE = (
    f"{HEAD}\nWren Alder,1961-05-04,A1,left,transtibial\nMoss Birch,1972-11-30,A2,right,transfemoral\n"
    "Finn Cole,1980-01-02,A3,left,transtibial\n"
)


def columns(**more: Any) -> Json:
    plain = {name: {"field": field} for name, field in NAMED.items()}
    return plain | {name: one if isinstance(one, dict) else {"field": one} for name, one in more.items()}


def sent(who: Actor, data: bytes | str, kind: str = "csv", **choices: Any) -> str:
    """A file on the server, with what the clinic said about it."""
    data = data.encode() if isinstance(data, str) else data
    caseload_id = str(who.made("/api/clinic/caseloads", {"name": "f.csv", "kind": kind, "size": len(data)})["id"])
    for n, start in enumerate(range(0, len(data), PART)):
        part = {"content": base64.b64encode(data[start : start + PART]).decode()}
        assert who.put(f"/api/clinic/caseloads/{caseload_id}/parts/{n}", part).status_code == 200
    if kind == "csv":
        answer = who.put(f"/api/clinic/caseloads/{caseload_id}/choices", {"columns": columns(), **choices})
        assert answer.status_code == 200, answer.get_json()
    return caseload_id


def rehearsed(who: Actor, caseload_id: str) -> Json:
    answer = who.get(f"/api/clinic/caseloads/{caseload_id}/rows?limit=200")
    assert answer.status_code == 200, answer.get_json()
    return dict(answer.get_json())


def brought(who: Actor, caseload_id: str) -> Json:
    said: Json = {"done_to": 0, "brought_at": None}
    while not said["brought_at"]:
        said = who.made(f"/api/clinic/caseloads/{caseload_id}/bring", {"done_to": said["done_to"]})
    return said


def whole(cast: Cast) -> list[str]:
    """What is wrong with the files after all of it: proofs of what was kept hold, or name what is gone."""
    said = plytide("check", "--data", str(cast.app.config["SETTINGS"].data_dir))
    return [] if said.returncode == 0 else [said.stdout + said.stderr]


def undone(who: Actor, caseload_id: str) -> tuple[int, list[Json]]:
    gone, kept, after = 0, [], ""
    while after is not None:
        said = who.made(f"/api/clinic/caseloads/{caseload_id}/undo", {"after": after})
        gone, kept, after = gone + said["gone"], kept + said["kept"], said["next"]
    return gone, kept


def names(who: Actor) -> list[str]:
    return [one["name"] for one in who.get("/api/clinic/people?limit=200").get_json()["people"]]


def test_the_dry_run_says_row_by_row_what_is_then_made(cast: Cast) -> None:
    before = names(cast.ida)
    caseload_id = sent(cast.ida, THREE)
    said = rehearsed(cast.ida, caseload_id)
    assert [(row["n"], row["person"], row["makes"]) for row in said["rows"]] == [
        (2, "Wren Alder", ["person", "limb"]),
        (3, "Moss Birch", ["person", "limb"]),
        (4, "Finn Cole", ["person", "limb"]),
    ]
    assert names(cast.ida) == before
    done = brought(cast.ida, caseload_id)
    assert done["made"] == said["would_make"] == {"person": 3, "limb": 3}
    assert sorted(set(names(cast.ida)) - set(before)) == ["Finn Cole", "Moss Birch", "Wren Alder"]


def test_the_same_file_twice_is_said_and_makes_nothing_new(cast: Cast) -> None:
    brought(cast.ida, sent(cast.ida, THREE))
    again = sent(cast.ida, THREE)
    look = cast.ida.get(f"/api/clinic/caseloads/{again}").get_json()["file"]
    assert look["brought_before"]["on"] == TODAY.isoformat()
    said = rehearsed(cast.ida, again)
    assert (said["would_make"], said["nothing_new"]) == ({}, 3)
    assert brought(cast.ida, again)["made"] == {}
    assert names(cast.ida).count("Wren Alder") == 1


def test_columns_are_remembered(cast: Cast) -> None:
    sent(cast.ida, THREE)
    other = cast.ida.made("/api/clinic/caseloads", {"name": "g.csv", "kind": "csv", "size": len(THREE)})["id"]
    cast.ida.put(f"/api/clinic/caseloads/{other}/parts/0", {"content": base64.b64encode(THREE.encode()).decode()})
    look = cast.ida.get(f"/api/clinic/caseloads/{other}").get_json()["file"]
    assert {name: one["field"] for name, one in look["columns"].items()} == NAMED


@pytest.mark.parametrize("encoding", ["cp1252", "cp1253", "cp1251"])
def test_an_encoding_the_bytes_do_not_prove_is_asked(cast: Cast, encoding: str) -> None:
    name = {"cp1252": "Zoë Müller", "cp1253": "Αννα Δρυ", "cp1251": "Анна Дуб"}[encoding]
    data = f"{HEAD}\n{name},1961-05-04,A1,left,transtibial\n".encode(encoding)
    caseload_id = sent(cast.ida, data)
    look = cast.ida.get(f"/api/clinic/caseloads/{caseload_id}").get_json()["file"]
    assert look["asks"] == ["encoding"]
    assert name in {one["encoding"]: one["sample"] for one in look["encodings"]}[encoding]
    refused = cast.ida.get(f"/api/clinic/caseloads/{caseload_id}/rows")
    assert (refused.status_code, list(refused.get_json()["error"]["fields"])) == (422, ["encoding"])
    cast.ida.put(f"/api/clinic/caseloads/{caseload_id}/choices", {"encoding": encoding})
    assert rehearsed(cast.ida, caseload_id)["rows"][0]["person"] == name


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_an_encoding_the_bytes_prove_is_not_asked(cast: Cast, encoding: str) -> None:
    caseload_id = sent(cast.ida, f"{HEAD}\nZoë Müller,1961-05-04,A1,left,transtibial\n".encode(encoding))
    assert rehearsed(cast.ida, caseload_id)["rows"][0]["person"] == "Zoë Müller"


@pytest.mark.parametrize(
    ("written", "order"), [("04.05.1961", "dmy"), ("05/04/1961", "mdy"), ("1961/05/04", "ymd"), ("1961-05-04", None)]
)
def test_the_order_of_dates_is_asked_and_never_guessed(cast: Cast, written: str, order: str | None) -> None:
    caseload_id = sent(cast.ida, f"{HEAD}\nWren Alder,{written},A1,left,transtibial\n")
    if order:
        refused = cast.ida.get(f"/api/clinic/caseloads/{caseload_id}/rows")
        assert list(refused.get_json()["error"]["fields"]) == ["date_order"]
        stopped = cast.ida.post(f"/api/clinic/caseloads/{caseload_id}/bring", {"done_to": 0})
        assert stopped.status_code == 422
        cast.ida.put(f"/api/clinic/caseloads/{caseload_id}/choices", {"date_order": order})
    brought(cast.ida, caseload_id)
    found = cast.ida.made("/api/clinic/people/search", {"q": "Wren"})["people"]
    assert found[0]["born_on"] == "1961-05-04"


def test_a_date_of_another_order_a_short_year_and_no_such_day_name_their_row(cast: Cast) -> None:
    rows = ["31.05.1961", "05.31.1961", "31.05.61", "30.02.1961"]
    text = HEAD + "".join(f"\nWren {n},{born},B{n},left,transtibial" for n, born in enumerate(rows))
    said = rehearsed(cast.ida, sent(cast.ida, text, date_order="dmy"))
    assert [(row["n"], list(row["faults"])) for row in said["wrong_rows"]] == [(n, ["Born"]) for n in (3, 4, 5)]


def test_a_file_cut_short_names_where_and_keeps_the_rest(cast: Cast) -> None:
    cut = THREE[: THREE.index("Finn Cole") + 14]
    said = brought(cast.ida, sent(cast.ida, cut))
    assert ([one["n"] for one in said["faults"]], said["made"]["person"]) == ([4], 2)
    quoted = THREE.replace("Finn Cole", '"Finn Cole')
    said = rehearsed(cast.ida, sent(cast.ida, quoted))
    assert said["wrong"] == 1 and "cut short" in said["wrong_rows"][0]["faults"]["row"]
    missing = cast.ida.made("/api/clinic/caseloads", {"name": "h.csv", "kind": "csv", "size": 5000})["id"]
    cast.ida.put(f"/api/clinic/caseloads/{missing}/parts/0", {"content": base64.b64encode(b"Name\n").decode()})
    assert "5 of 5000 bytes" in str(cast.ida.get(f"/api/clinic/caseloads/{missing}").get_json())
    bundle = sent(cast.ida, b'{"resourceType": "Bundle", "entry": [{"re', "fhir")
    assert "cut short" in str(cast.ida.get(f"/api/clinic/caseloads/{bundle}").get_json())


@pytest.mark.parametrize("cell", ["=HYPERLINK(1)", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2+3"])
def test_a_formula_in_a_cell_is_refused_by_its_column(cast: Cast, cell: str) -> None:
    text = f"{THREE}{cell},1950-01-01,A9,left,transtibial\n"
    said = rehearsed(cast.ida, sent(cast.ida, text))
    assert [(row["n"], list(row["faults"])) for row in said["wrong_rows"]] == [(5, ["Name"])]


def test_a_name_that_is_another_clinics_is_somebody_new_and_nothing_is_said_of_them(cast: Cast) -> None:
    caseload_id = sent(cast.ida, f"{HEAD}\nEsme,1990-07-14,,left,transtibial\n")
    row = rehearsed(cast.ida, caseload_id)["rows"][0]
    assert (row["makes"], row["same_name"]) == (["person", "limb"], False)
    assert cast.teodor.get(f"/api/clinic/caseloads/{caseload_id}").status_code == 404
    assert cast.teodor.post(f"/api/clinic/caseloads/{caseload_id}/bring", {"done_to": 0}).status_code == 404
    brought(cast.ida, caseload_id)
    assert names(cast.teodor) == ["Esme"]


def test_doubles_are_found_by_record_number_or_name_and_birth_date(cast: Cast) -> None:
    rows = [
        "anouk ,1968-04-02,,left,transtibial",  # here already
        "Anouk,1970-01-01,,left,transtibial",  # another Anouk
        "Anouk,,,left,transtibial",  # whose?
        "Wren Alder,1961-05-04,A1,left,transtibial",
        "Wren Alder,1961-05-04,a1,right,transtibial",  # the other limb of the same
        "Moss Birch,1961-05-04,A1,left,transtibial",  # a number taken
        "Wren Alder,1961-05-05,A1,left,transtibial",  # a birth date that disagrees
    ]
    said = rehearsed(cast.ida, sent(cast.ida, "\n".join([HEAD, *rows])))
    assert [row["makes"] for row in said["rows"]] == [[], ["person", "limb"], [], ["person", "limb"], ["limb"], [], []]
    assert said["rows"][1]["same_name"]
    assert [list(row["faults"]) for row in said["wrong_rows"]] == [["born_on"], ["record_number"], ["born_on"]]


def test_units_and_distances_are_said_and_tape_weight_and_socket_come_in(cast: Cast) -> None:
    row = "Wren Alder,1961-05-04,A1,left,transtibial,2025-08-01"
    text = f'{HEAD},Day,At end,At 5,Kilo,Fitted,Purpose\n{row},"24,5","28,1","80,5",2025-05-05,preparatory\n'
    more = columns(
        Day="measured_on",
        Kilo={"field": "weight_kg", "unit": "kg"},
        Fitted="fitted_on",
        Purpose="purpose",
        **{"At end": {"field": "circumference", "unit": "cm", "from_end_mm": 0}},
    )
    caseload_id = sent(cast.ida, text, columns=more | {"At 5": {"field": "circumference", "from_end_mm": 50}})
    assert "unit" in rehearsed(cast.ida, caseload_id)["rows"][0]["faults"]["At 5"]
    more["At 5"] = {"field": "circumference", "unit": "cm", "from_end_mm": 50}
    cast.ida.put(f"/api/clinic/caseloads/{caseload_id}/choices", {"columns": more})
    assert brought(cast.ida, caseload_id)["made"] == {"limb": 1, "measurement": 1, "person": 1, "socket": 1}
    limb = cast.ida.made("/api/clinic/people/search", {"q": "Wren"})["people"][0]["limbs"][0]
    tape = cast.ida.get(f"/api/clinic/limbs/{limb['id']}").get_json()["measurements"][0]
    assert [level["circumference_mm"] for level in tape["levels"]] == [245, 281]


def test_what_stands_against_an_imported_socket_names_its_row_and_says_that_nobody_was_asked(cast: Cast) -> None:
    rows = [("Wren Alder,1961-05-04,A1", "122", "100"), ("Moss Birch,1972-11-30,A2", "80", "100")]
    lines = [f"{who},left,transtibial,2025-08-01,300,{kg},2025-05-05,preparatory,{limit}" for who, kg, limit in rows]
    text = "\n".join([f"{HEAD},Day,End,Kilo,Fitted,Purpose,Limit", *lines, ""])
    kilo = {"unit": "kg"}
    more = columns(
        Day="measured_on",
        End={"field": "circumference", "unit": "mm", "from_end_mm": 0},
        Kilo={"field": "weight_kg", **kilo},
        Fitted="fitted_on",
        Purpose="purpose",
        Limit={"field": "weight_limit_kg", **kilo},
    )
    caseload_id = sent(cast.ida, text, columns=more)
    said = brought(cast.ida, caseload_id)
    assert (said["made"]["socket"], said["faults"]) == (2, []), said

    def despite(name: str) -> Json:
        limb = cast.ida.made("/api/clinic/people/search", {"q": name})["people"][0]["limbs"][0]
        ((one,),) = [each["despite"] for each in cast.ida.get(f"/api/clinic/limbs/{limb['id']}").get_json()["sockets"]]
        return dict(one)

    heavy, light = despite("Wren"), despite("Moss")
    assert [each["code"] for each in heavy["against"]] == ["weight-over-limit"]
    assert heavy["reason"].endswith("Not asked: imported, row 2 of the file.")
    assert (light["against"], light["reason"]) == ([], work.WHY)
    assert undone(cast.ida, caseload_id)[0] == 2


def many(count: int) -> list[str]:
    return [f"Person {n},19{n % 80 + 10}-03-0{n % 9 + 1},R{n},left,transtibial" for n in range(count)]


def test_ten_thousand_rows_come_in_portions_and_three_bad_ones_are_named(cast: Cast) -> None:
    rows = many(10_000)
    rows[10] = "Nobody,1999-13-40,R10,left,transtibial"
    rows[5000] = "No side,1990-01-01,R5000,middle,transtibial"
    rows[9999] = "=1,1990-01-01,R9999,left,transtibial"
    caseload_id = sent(cast.ida, "\n".join([HEAD, *rows]))
    said: Json = {"done_to": 0, "brought_at": None}
    steps = []
    while not said["brought_at"]:
        said = cast.ida.made(f"/api/clinic/caseloads/{caseload_id}/bring", {"done_to": said["done_to"]})
        steps.append(said["done_to"])
        if len(steps) == 3:  # between two portions a phone is answered as ever
            assert cast.anouk.sync(cast.anouk.checkin(TODAY)).get_json()["receipts"][0]["status"] == "kept"
    assert all(after - before <= work.PORTION for before, after in zip([0, *steps], steps, strict=False))
    assert [(one["n"], list(one["faults"])) for one in said["faults"]] == [
        (12, ["Born"]),
        (5002, ["side"]),
        (10001, ["Name"]),
    ]
    assert said["made"] == {"person": 9997, "limb": 9997}


def test_a_portion_asked_for_twice_is_made_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "PORTION", 2)
    caseload_id = sent(cast.ida, THREE)
    first = [cast.ida.made(f"/api/clinic/caseloads/{caseload_id}/bring", {"done_to": 0}) for _ in range(2)]
    assert first[0] == first[1] and first[0]["made"]["person"] == 2
    assert brought(cast.ida, caseload_id)["made"]["person"] == 3


def phone_of(cast: Cast, caseload_id: str, which: int) -> Actor:
    letter = cast.ida.made(f"/api/clinic/caseloads/{caseload_id}/letters", {})["letters"][which]
    token = cast.nobody.made("/api/enrol", {"code": letter["code"], "label": "Phone"})["token"]
    return Actor(cast.app, {"Authorization": f"Bearer {token}"})


def test_an_undo_keeps_and_names_whoever_has_sent_entries_since(cast: Cast) -> None:
    before = names(cast.ida)
    caseload_id = sent(cast.ida, THREE)
    brought(cast.ida, caseload_id)
    phone = phone_of(cast, caseload_id, 0)
    limb_id = phone.get("/api/me").get_json()["people"][0]["limbs"][0]["id"]
    body = {"schema": 1, "cursor": None, "checkins": [checkin(limb_id, TODAY)]}
    assert phone.post("/api/sync", body).get_json()["receipts"][0]["status"] == "kept"
    gone, kept = undone(cast.ida, caseload_id)
    assert (gone, [(one["name"], one["why"]) for one in kept]) == (2, [("Wren Alder", "a phone has sent entries")])
    assert sorted(set(names(cast.ida)) - set(before)) == ["Wren Alder"]
    assert whole(cast) == []
    assert phone.post("/api/sync", body).get_json()["receipts"][0]["status"] == "already"


def test_an_undo_keeps_whoever_was_changed_or_has_a_phone_and_takes_a_limb_from_those_who_stay(cast: Cast) -> None:
    text = THREE + "Dov,1981-01-30,,left,transfemoral\n"
    caseload_id = sent(cast.ida, text)
    brought(cast.ida, caseload_id)
    phone_of(cast, caseload_id, 1)
    finn = cast.ida.made("/api/clinic/people/search", {"q": "Finn"})["people"][0]["id"]
    assert cast.ida.patch(f"/api/clinic/people/{finn}", {"ask_for": "his sister"}).status_code == 200
    gone, kept = undone(cast.ida, caseload_id)
    assert gone == 1 and {one["name"]: one["why"] for one in kept} == {
        "Dov": "a phone has joined",
        "Moss Birch": "a phone has joined",
        "Finn Cole": "something was entered or changed since",
    }


def test_an_undo_takes_a_limb_and_a_socket_from_somebody_without_a_phone(cast: Cast) -> None:
    cast.ida.made("/api/clinic/people", {"name": "Ivo Elm", "born_on": "1955-05-05", "tags": []})
    text = f"{HEAD},Fitted,Purpose\nIvo Elm,1955-05-05,,left,transtibial,2025-05-05,preparatory\n"
    caseload_id = sent(cast.ida, text, columns=columns(Fitted="fitted_on", Purpose="purpose"))
    assert brought(cast.ida, caseload_id)["made"] == {"limb": 1, "socket": 1}
    cast.ida.get("/api/clinic/worklist")  # assessed, so that signals may hang on the limb
    assert undone(cast.ida, caseload_id) == (1, [])
    assert whole(cast) == []
    assert cast.ida.made("/api/clinic/people/search", {"q": "Ivo"})["people"][0]["limbs"] == []


def test_an_import_taken_back_halfway_does_not_go_on(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "PORTION", 1)
    caseload_id = sent(cast.ida, THREE)
    first = cast.ida.made(f"/api/clinic/caseloads/{caseload_id}/bring", {"done_to": 0})
    assert undone(cast.ida, caseload_id) == (1, [])
    cast.ida.made(f"/api/clinic/caseloads/{caseload_id}/bring", {"done_to": first["done_to"]})
    assert "Moss Birch" not in names(cast.ida)


def test_what_plytide_exports_comes_back_in_at_another_clinic(cast: Cast) -> None:
    levels = [
        {"from_end_mm": 0, "circumference_mm": 240},
        {"name": "knee", "from_end_mm": 50, "circumference_mm": 281.5},
    ]
    tape = {"on": "2025-09-01", "levels": levels, "weight_kg": 81.5, "measured_by": "Ida"}
    cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/measurements", tape)
    cast.anouk.sync(cast.anouk.checkin(TODAY, weight_kg=80))
    data = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/bundle.fhir.json").get_data()
    caseload_id = sent(cast.teodor, data, "fhir")
    assert cast.teodor.get(f"/api/clinic/caseloads/{caseload_id}").get_json()["file"]["left_out"] == 1
    assert brought(cast.teodor, caseload_id)["made"] == {"limb": 1, "measurement": 1, "person": 1, "socket": 1}
    limb = cast.teodor.made("/api/clinic/people/search", {"q": "Anouk"})["people"][0]["limbs"][0]
    assert (limb["side"], limb["level"]) == ("left", "transtibial")
    kept = cast.teodor.get(f"/api/clinic/limbs/{limb['id']}").get_json()["measurements"][0]
    assert (kept["weight_kg"], kept["measured_by"]) == (81.5, "Ida")
    assert [(one["from_end_mm"], one["circumference_mm"]) for one in kept["levels"]] == [(0, 240), (50, 281.5)]
    assert rehearsed(cast.teodor, sent(cast.teodor, data, "fhir"))["would_make"] == {}
    assert rehearsed(cast.ida, sent(cast.ida, data, "fhir"))["would_make"] == {}  # at home everything is known


@pytest.mark.parametrize("odd", [
    [], {}, {"resourceType": "Bundle"}, {"resourceType": "Bundle", "entry": [3, {"resource": []}]},
    {"resourceType": "Bundle", "entry": [
        {"resource": {"resourceType": "Patient", "name": 3, "identifier": {}, "telecom": 5}},
    ]},
])  # fmt: skip
def test_an_odd_bundle_is_a_plain_refusal(cast: Cast, odd: Any) -> None:
    answer = cast.ida.get(f"/api/clinic/caseloads/{sent(cast.ida, json.dumps(odd), 'fhir')}/rows")
    assert answer.status_code == 422 or answer.get_json()["wrong"] == 1


def test_codes_are_for_those_without_a_phone_and_work_once(cast: Cast) -> None:
    caseload_id = sent(cast.ida, THREE)
    brought(cast.ida, caseload_id)
    phone_of(cast, caseload_id, 0)
    said = cast.ida.made(f"/api/clinic/caseloads/{caseload_id}/letters", {})
    assert [one["name"] for one in said["letters"]] == ["Moss Birch", "Finn Cole"] and said["next"] is None


def test_no_file_and_no_name_stays_with_the_import(cast: Cast) -> None:
    caseload_id = sent(cast.ida, THREE + "Wren Elm,1961-05-04,A1,left,transtibial\n")
    brought(cast.ida, caseload_id)
    again = cast.ida.get(f"/api/clinic/caseloads/{caseload_id}/rows")
    assert "brought already" in str(again.get_json())
    listed = cast.ida.get("/api/clinic/caseloads").get_json()
    assert "Wren" not in json.dumps(listed) and listed["caseloads"][0]["faults"][0]["n"] == 5
