"""What the clinic entered wrongly: replaced, taken out, put back; the record and what became of it stay."""

from __future__ import annotations

import json
from datetime import date, timedelta
from random import Random
from typing import Any

import pytest

from plytide.storage.clinics import open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import IntegrityError
from plytide.wire import pad as wire_pad
from tests.actors import Cast, Clock
from tests.conftest import signed_in

TAPE: dict[str, Any] = {
    "on": "2025-09-10",
    "levels": [{"from_end_mm": 0, "circumference_mm": 240}, {"from_end_mm": 40, "circumference_mm": 280}],
    "weight_kg": 71.5,
}


def limb(cast: Cast, what: str = "") -> str:
    return f"/api/clinic/limbs/{cast.anouk.limb_id}{what}"


def story(cast: Cast, **query: str) -> Any:
    return cast.ida.get(limb(cast), query_string=query).get_json()


def a_pad(cast: Cast, mm: float = 15) -> str:
    socket_id = story(cast)["sockets"][0]["id"]
    made: str = cast.ida.made(f"/api/clinic/sockets/{socket_id}/pads", {"on": "2025-09-01", "thickness_mm": mm})["id"]
    return made


def correct(cast: Cast, table: str, record_id: str, **said: Any) -> str:
    made: str = cast.ida.made(f"/api/clinic/{table}s/{record_id}/correction", said)["id"]
    return made


def void(cast: Cast, record_id: str, reason: str = "Another person's.") -> None:
    assert cast.ida.post(f"/api/clinic/records/{record_id}/void", {"reason": reason}).status_code == 200


def test_a_correction_takes_the_records_place_and_the_record_stays_to_be_read(cast: Cast) -> None:
    first = cast.ida.made(limb(cast, "/measurements"), TAPE)["id"]
    wrong = {**TAPE, "levels": [{"from_end_mm": 0, "circumference_mm": 204}], "reason": "Digits swapped."}
    second = correct(cast, "measurement", first, **wrong)
    told = story(cast)
    assert [one["id"] for one in told["measurements"]] == [second]
    (line,) = told["corrected"]
    assert (line["deed"], line["reason"], line["replaced_by"]) == ("replace", "Digits swapped.", second)
    assert line["record"]["levels"][0]["circumference_mm"] == 240
    assert line["by_staff"] and line["can_come_back"]


@pytest.mark.parametrize(
    ("kind", "said"),
    [("intervention", {"on": "2025-09-02", "kind": "Relief made"}), ("pad", {"on": "2025-09-02", "thickness_mm": 1.5})],
)
def test_deeds_and_pads_are_corrected_in_the_same_way(cast: Cast, kind: str, said: dict[str, Any]) -> None:
    first = (
        a_pad(cast) if kind == "pad" else cast.ida.made(limb(cast, "/interventions"), {**said, "kind": "Oops"})["id"]
    )
    second = correct(cast, kind, first, **said)
    assert [(one["id"], one["on"]) for one in story(cast)[f"{kind}s"]] == [(second, "2025-09-02")]


def test_a_half_sock_counts_by_its_share_and_is_shown_as_it_was_entered(cast: Cast) -> None:
    socket_id = story(cast)["sockets"][0]["id"]
    said = {"on": "2025-09-01", "thickness_mm": 3, "half_sock_pct": 50}
    cast.ida.made(f"/api/clinic/sockets/{socket_id}/pads", said)
    (told,) = story(cast)["pads"]
    assert (told["thickness_mm"], told["half_sock_pct"]) == (3, 50)
    assert wire_pad.noun(told).thickness_mm == 1.5
    assert wire_pad.noun(told | {"half_sock_pct": None}).thickness_mm == 3
    for wrong in (0, 100, "half"):
        answer = cast.ida.post(f"/api/clinic/sockets/{socket_id}/pads", said | {"half_sock_pct": wrong})
        assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["half_sock_pct"])


def test_entered_by_mistake_counts_no_longer_says_why_and_can_be_put_back(cast: Cast) -> None:
    pad = a_pad(cast)
    refused = cast.ida.post(f"/api/clinic/records/{pad}/void", {})
    assert (refused.status_code, list(refused.get_json()["error"]["fields"])) == (422, ["reason"])
    void(cast, pad)
    told = story(cast)
    assert told["pads"] == [] and told["corrected"][0]["reason"] == "Another person's."
    assert cast.ida.post(f"/api/clinic/records/{pad}/void", {"reason": "again"}).status_code == 422
    cast.ida.made(f"/api/clinic/records/{pad}/restore")
    told = story(cast)
    assert [one["id"] for one in told["pads"]] == [pad]
    assert [line["deed"] for line in told["corrected"]] == ["restore", "void"]
    assert cast.ida.post(f"/api/clinic/records/{pad}/restore").status_code == 422


def test_an_undone_correction_leaves_one_record_and_never_two(cast: Cast) -> None:
    first = a_pad(cast)
    second = correct(cast, "pad", first, on="2025-09-01", thickness_mm=1.5)
    third = correct(cast, "pad", second, on="2025-09-01", thickness_mm=2.5)
    assert (
        cast.ida.post(f"/api/clinic/pads/{first}/correction", {"on": "2025-09-01", "thickness_mm": 9}).status_code
        == 422
    )
    assert cast.ida.post(f"/api/clinic/records/{first}/restore").status_code == 422  # corrected once more since
    cast.ida.made(f"/api/clinic/records/{second}/restore")
    assert [one["id"] for one in story(cast)["pads"]] == [second]
    cast.ida.made(f"/api/clinic/records/{first}/restore")
    assert [one["id"] for one in story(cast)["pads"]] == [first]
    assert cast.ida.post(f"/api/clinic/records/{third}/restore").status_code == 422  # first counts
    assert cast.ida.post(f"/api/clinic/records/{second}/restore").status_code == 422


def test_no_order_of_deeds_makes_two_of_one_record_count(cast: Cast) -> None:
    """A pad and its corrections are taken out, put back and corrected again in any order; the screen offers to put
    back exactly what can be put back.
    """
    chance = Random(1)
    kin = [a_pad(cast)]
    for _ in range(80):
        told = story(cast)
        assert len(told["pads"]) <= 1
        offered = {line["record"]["id"] for line in told["corrected"] if line["can_come_back"]}
        record_id, deed = chance.choice(kin), chance.choice(("void", "restore", "restore", "correction"))
        if deed == "correction":
            said = {"on": "2025-09-01", "thickness_mm": 3}
            done = cast.ida.post(f"/api/clinic/pads/{record_id}/correction", said)
            if done.status_code == 201 and len(kin) < 6:
                kin.append(done.get_json()["id"])
        else:
            done = cast.ida.post(f"/api/clinic/records/{record_id}/{deed}", {"reason": "x"} if deed == "void" else {})
        if deed == "restore":
            assert (done.status_code == 200) == (record_id in offered)


def test_the_engine_reads_the_record_that_counts(cast: Cast, today: date, clock: Clock) -> None:
    """A pad of 15 mm that was one of 1.5 mm: the level it moved comes back, whichever way it is mended."""
    days = [cast.anouk.checkin(today - timedelta(days=n)) for n in range(40, 0, -1)]
    cast.anouk.sync(*days)

    def level() -> Any:
        return cast.ida.get(limb(cast, "/assessment")).get_json()["volume"]["change_pct"]

    before = level()
    assert before is not None
    pad = a_pad(cast)
    wide = level()
    assert wide != before
    void(cast, pad)
    assert level() == before
    cast.ida.made(f"/api/clinic/records/{pad}/restore")
    assert level() == wide
    correct(cast, "pad", pad, on="2025-09-01", thickness_mm=1.5)
    assert level() not in (wide, before)


def test_a_correction_is_news_for_the_worklist(cast: Cast) -> None:
    pad = a_pad(cast)
    cast.ida.get("/api/clinic/worklist")
    settings = cast.app.config["SETTINGS"]
    registry = Registry(settings.data_dir)
    clinic = open_clinic(
        settings.data_dir, registry, next(id_ for id_, file in registry.clinic_files() if "marram" in file)
    )
    assert clinic.conn.execute("SELECT count(*) FROM stale").fetchone() == (0,)
    void(cast, pad)
    assert clinic.conn.execute("SELECT limb_id FROM stale").fetchall() == [(cast.anouk.limb_id,)]
    for table in ("pad", "correction"):
        for statement in (f"UPDATE {table} SET created_at = ''", f"DELETE FROM {table}"):
            with pytest.raises(IntegrityError, match="append-only"):
                clinic.conn.execute(statement)
    clinic.close()
    registry.close()


def test_a_replay_shows_the_record_as_it_counted_then(cast: Cast, today: date, clock: Clock) -> None:
    first = cast.ida.made(limb(cast, "/measurements"), TAPE)["id"]
    clock.forward(days=2)
    ida = signed_in(cast.app, "ida")
    second = ida.made(f"/api/clinic/measurements/{first}/correction", {**TAPE, "weight_kg": 70})["id"]
    now = ida.get(limb(cast)).get_json()
    then = ida.get(limb(cast), query_string={"as_of": today.isoformat()}).get_json()
    assert [[one["id"] for one in told["measurements"]] for told in (now, then)] == [[second], [first]]
    assert then["corrected"] == []


def test_the_audit_line_names_both_records_and_nothing_of_what_they_say(cast: Cast) -> None:
    first = cast.ida.made(limb(cast, "/measurements"), TAPE)["id"]
    second = correct(cast, "measurement", first, **{**TAPE, "weight_kg": 70, "reason": "Scale was off."})
    void(cast, second, "Scale was off again.")
    lines = cast.nora.get("/api/clinic/audit", query_string={"subject": cast.anouk.limb_id}).get_json()["lines"]
    deeds = {line["what"]: line for line in lines}
    assert deeds["measurement.correct"]["detail"] == f"{second} replaces {first}"
    assert deeds["measurement.void"]["detail"] == second
    assert "Scale" not in json.dumps(lines)


def test_exports_say_which_record_counts(cast: Cast) -> None:
    first = cast.ida.made(limb(cast, "/measurements"), TAPE)["id"]
    second = correct(cast, "measurement", first, **{**TAPE, "weight_kg": 70})
    bundle = json.loads(cast.ida.get(limb(cast, "/bundle.fhir.json")).get_data())
    status = {
        entry["resource"]["id"].rpartition(".")[0]: entry["resource"]["status"]
        for entry in bundle["entry"]
        if entry["resource"]["resourceType"] == "Observation"
    }
    assert status == {first: "entered-in-error", second: "corrected"}
    held = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/export.json").get_json()["held"]
    assert {row["id"]: row["counts"][:3] for row in held["measurement"]} == {first: "no,", second: "yes"}
    assert held["correction"][0]["record_id"] == first
    page = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/export.html").get_data(as_text=True)
    assert "What the clinic corrected or took out" in page
    cast.ida.made(f"/api/clinic/records/{first}/restore")
    held = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/export.json").get_json()["held"]
    assert {row["id"]: row["counts"][:3] for row in held["measurement"]} == {first: "yes", second: "no,"}


def test_a_correction_is_checked_as_the_record_was(cast: Cast) -> None:
    first = cast.ida.made(limb(cast, "/measurements"), TAPE)["id"]
    path = f"/api/clinic/measurements/{first}/correction"
    for wrong, field in (({"levels": []}, "levels"), ({"on": "2031-01-01"}, "on"), ({"weight_kg": -1}, "weight_kg")):
        answer = cast.ida.post(path, {**TAPE, **wrong})
        assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, [field])
    assert (
        cast.ida.post(f"/api/clinic/pads/{first}/correction", {"on": TAPE["on"], "thickness_mm": 2}).status_code == 404
    )


def test_an_erased_person_leaves_no_correction_and_no_paper_behind(cast: Cast) -> None:
    void(cast, a_pad(cast))
    paper = {"given": True, "on": "2025-09-01", "by": "Anouk", "what_for": "Photos"}
    cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/consents", paper)
    cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/erasure", {"reason": None})
    done = cast.nora.made(f"/api/clinic/people/{cast.anouk.id}/erasure/confirm", {"name": "Anouk"})
    assert (done["rows"]["correction"], done["rows"]["paper_consent"], done["rows"]["pad"]) == (1, 1, 1)


def test_decisions_stand_on_the_limbs_own_story_as_they_stood(cast: Cast, today: date, clock: Clock) -> None:
    told = {"on": today.isoformat(), "choice": "wait", "reasons": ["Skin."], "note": "Ask again."}
    decision = cast.ida.made(limb(cast, "/decisions"), told)["id"]
    (kept,) = story(cast)["decisions"]
    assert (kept["choice"], kept["by"], kept["reasons"], kept["note"]) == ("wait", "ida", ["Skin."], "Ask again.")
    clock.forward(days=2)
    ida = signed_in(cast.app, "ida")
    ida.delete(f"/api/clinic/decisions/{decision}")
    now = ida.get(limb(cast)).get_json()["decisions"]
    then = ida.get(limb(cast), query_string={"as_of": today.isoformat()}).get_json()["decisions"]
    before = ida.get(limb(cast), query_string={"as_of": (today - timedelta(days=1)).isoformat()}).get_json()[
        "decisions"
    ]
    assert now[0]["taken_back_at"] and then[0]["taken_back_at"] is None and before == []


def test_a_consent_on_paper_stands_in_the_history_and_in_the_export(cast: Cast) -> None:
    path = f"/api/clinic/people/{cast.anouk.id}/consents"
    first = {"given": True, "on": "2025-09-01", "by": "Anouk", "what_for": "Photos for teaching"}
    cast.ida.made(path, first)
    cast.juno.made(path, {**first, "given": False, "on": "2025-09-10"})
    paper = cast.ida.get(path).get_json()["paper"]
    assert [(one["given"], one["on"], one["by"], one["what_for"]) for one in paper] == [
        (False, "2025-09-10", "Anouk", "Photos for teaching"),
        (True, "2025-09-01", "Anouk", "Photos for teaching"),
    ]
    held = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/export.json").get_json()["held"]
    assert [(row["given"], row["by_staff"]) for row in held["paper_consent"]] == [(1, "ida"), (0, "juno")]
    for wrong, field in (({"on": "2025-09-16"}, "on"), ({"by": ""}, "by"), ({"what_for": ""}, "what_for")):
        answer = cast.ida.post(path, {**first, **wrong})
        assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, [field])


def test_undos_event_is_in_the_description_with_every_action_it_may_name(cast: Cast) -> None:
    paths = cast.nobody.get("/api/openapi.json").get_json()["paths"]
    (event,) = [
        one for one in paths["/api/clinic/signals/{signal_id}/undo"]["post"]["parameters"] if one["in"] == "query"
    ]
    actions = {path.rsplit("/", 1)[1] for path in paths if path.startswith("/api/clinic/signals/")} - {"undo"}
    assert (event["name"], set(event["schema"]["enum"])) == ("event", actions)
