"""A socket made on the limb: kept step by step, stopped with a reason, finished, put right, taken out and put back."""

from __future__ import annotations

import itertools
from datetime import timedelta
from typing import Any

import pytest

from plytide.export.making import ON_PAPER
from plytide.settings import Settings
from plytide.storage import caseload
from plytide.storage.sqlite import connect
from tests.actors import Actor, Cast, Clock
from tests.conftest import TODAY, signed_in
from tests.storage.test_lost import file_of

DAY = TODAY.isoformat()
IDS = itertools.count()
WHY = {"despite": {"reason": "Seen and spoken about today."}}
SOCKET = {
    "fitted_on": DAY,
    "stack_at_fitting": [{"ply": 1, "make": "single"}],
    "wear_schedule": [{"day": 1, "hours": 1}],
}


def begun(cast: Cast, limb_id: str | None = None, **said: Any) -> Any:
    body = {"id": f"mk-{next(IDS)}", "made": "direct", "on": DAY, "purpose": "diagnostic", "suspension": "pin_lock"}
    return cast.ida.made(f"/api/clinic/limbs/{limb_id or cast.anouk.limb_id}/makings", {**body, **said})


def at(made: Any, path: str = "") -> str:
    return f"/api/clinic/makings/{made['id']}{path}"


def answered(who: Actor, made: Any, step: str, value: Any = None, **said: Any) -> Any:
    body = {"id": f"e-{next(IDS)}", "step": step, "state": "done", "value": value, **said}
    return who.post(at(made, "/steps"), body)


def step(made: Any, code: str) -> Any:
    return next(one for one in made["steps"] if one["code"] == code)


def codes(answer: Any, code: str = "stands-against") -> list[str]:
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (409, code), answer.get_json()
    return [one["code"] for one in answer.get_json()["against"]]


def finished(cast: Cast, made: Any, **said: Any) -> Any:
    body = {"id": f"f-{next(IDS)}", "socket": SOCKET, "open_seen": True, **said}
    return cast.ida.post(at(made, "/finish"), body)


def story(cast: Cast) -> Any:
    return cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()


# Kept at once, once, on whichever screen.


def test_each_answer_is_kept_once_and_taken_up_on_another_screen(cast: Cast) -> None:
    made = begun(cast)
    body = {"id": "one-press", "step": "tape", "state": "done", "value": None}
    for _ in range(2):
        said = cast.ida.made(at(made, "/steps"), body)
    assert step(said, "tape")["history"] == []
    other = cast.ida.post(at(made, "/steps"), {**body, "state": "not-needed"})
    assert other.status_code == 422 and list(other.get_json()["error"]["fields"]) == ["id"]
    assert answered(cast.juno, made, "weight", 81.5).status_code == 200
    taken_up = cast.nora.get(at(made)).get_json()
    assert (step(taken_up, "tape")["state"], step(taken_up, "weight")["value"]) == ("done", 81.5)
    assert {step(taken_up, "tape")["by"], step(taken_up, "weight")["by"]} == {"ida", "juno"}
    again = cast.ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/makings", {
        "id": made["id"], "made": "direct", "on": DAY, "purpose": "diagnostic", "suspension": "pin_lock"})  # fmt: skip
    assert again.status_code == 200 and step(again.get_json(), "weight")["value"] == 81.5


def test_a_screen_that_is_behind_takes_no_answer_back(cast: Cast) -> None:
    made = begun(cast)
    answered(cast.juno, made, "weight", 81.5)
    note = {"id": "n1", "step": "weight", "note": "With the shoe on."}  # of a screen that has not seen it
    weight = step(cast.ida.made(at(made, "/steps"), note), "weight")
    assert (weight["state"], weight["value"], weight["note"]) == ("done", 81.5, "With the shoe on.")
    gone = cast.ida.post(at(made, "/steps"), {"id": "n2", "step": "weight", "value": None})
    assert gone.status_code == 422  # ticked, and nothing found


def test_a_second_one_beside_an_open_one_is_asked_about_and_two_limbs_know_of_each_other(cast: Cast) -> None:
    left, right = cast.dov.limb_ids
    one = begun(cast, left)
    body = {"id": "again", "made": "direct", "on": DAY, "purpose": "diagnostic", "suspension": None}
    assert codes(cast.ida.post(f"/api/clinic/limbs/{left}/makings", body)) == ["begun-already"]
    two = begun(cast, right)
    assert [each["id"] for each in two["beside"]] == [one["id"]]
    assert [each["id"] for each in cast.ida.get(at(one)).get_json()["beside"]] == [two["id"]]
    answered(cast.ida, two, "skin", "closed")
    assert step(cast.ida.get(at(one)).get_json(), "skin")["state"] == "open"


@pytest.mark.parametrize(
    ("step_code", "value", "field"),
    [
        ("nothing", None, "step"),
        ("skin", "blue", "value"),
        ("skin", None, "value"),
        ("weight", 7000, "value"),
        ("weight", "80", "value"),
        ("tape", 3, "value"),
    ],
)
def test_an_answer_that_is_none_is_refused_by_field(cast: Cast, step_code: str, value: Any, field: str) -> None:
    refused = answered(cast.ida, begun(cast), step_code, value)
    assert refused.status_code == 422 and list(refused.get_json()["error"]["fields"]) == [field]


# What stands against it stops.


@pytest.mark.parametrize(
    ("found", "code"),
    [
        ({"weight": 120, "limit": 100}, "weight-over-limit"),
        ({"shape": "bulbous"}, "bulbous"),
        ({"skin": "open"}, "open-skin"),
        ({"scar": "deep"}, "deep-scar"),
        ({"length": 110, "pin_least": 130}, "too-short-for-pin"),
        ({"feeling": "none"}, "no-heat-check"),
    ],
)
def test_what_stands_against_it_stops_before_the_making_and_the_reason_is_kept(
    cast: Cast, found: dict[str, Any], code: str
) -> None:
    made = begun(cast)
    for name, value in found.items():
        assert answered(cast.ida, made, name, value).status_code == 200  # what is found is always kept
    assert codes(answered(cast.ida, made, "liner")) == [code]
    assert step(cast.ida.get(at(made)).get_json(), "liner")["state"] == "open"
    said = answered(cast.ida, made, "liner", **WHY).get_json()
    assert (said["despite"][0]["reason"], said["despite"][0]["by"]) == (WHY["despite"]["reason"], "ida")
    assert [one["answered"] for one in said["against"]] == [True]
    assert answered(cast.ida, made, "pads").status_code == 200  # said once


def test_a_reason_covers_only_what_its_screen_showed(cast: Cast) -> None:
    """A colleague entered a weight over the limit while the first one wrote why open skin is no hindrance."""
    made = begun(cast)
    answered(cast.ida, made, "skin", "open")
    shown = [one["text"] for one in answered(cast.ida, made, "liner").get_json()["against"]]
    for name, value in (("weight", 130), ("limit", 100)):
        answered(cast.juno, made, name, value)
    why = {"despite": {"reason": "A graze on the other side.", "of": shown}}
    assert codes(answered(cast.ida, made, "liner", **why)) == ["weight-over-limit", "open-skin"]
    assert codes(finished(cast, made, **why)) == ["weight-over-limit", "open-skin"]
    both = {"despite": {**why["despite"], "of": [one["text"] for one in cast.ida.get(at(made)).get_json()["against"]]}}
    assert answered(cast.ida, made, "liner", **both).status_code == 200


def test_a_matter_that_was_over_and_comes_again_is_asked_anew(cast: Cast) -> None:
    made = begun(cast)
    answered(cast.ida, made, "skin", "open")
    assert answered(cast.ida, made, "liner", **WHY).status_code == 200
    answered(cast.ida, made, "skin", "open", note="Still the same.")
    assert answered(cast.ida, made, "pads").status_code == 200
    answered(cast.ida, made, "skin", "closed")
    answered(cast.juno, made, "skin", "open")  # weeks later, at another place
    assert codes(answered(cast.ida, made, "attach")) == ["open-skin"]


def test_the_socket_keeps_the_reasons_of_what_stands_against_it_and_no_others(cast: Cast) -> None:
    made = begun(cast)
    answered(cast.ida, made, "skin", "open")
    answered(cast.ida, made, "liner", despite={"reason": "A graze, covered."})
    answered(cast.ida, made, "skin", "closed")
    for name, value in (("weight", 130), ("limit", 100)):
        answered(cast.ida, made, name, value)
    assert finished(cast, made, despite={"reason": "The maker was asked."}).status_code == 200
    (kept,) = story(cast)["sockets"][-1]["despite"]
    assert (kept["reason"], [one["code"] for one in kept["against"]]) == ("The maker was asked.", ["weight-over-limit"])


def test_why_another_one_is_begun_is_kept(cast: Cast) -> None:
    begun(cast)
    second = begun(cast, **WHY)
    (kept,) = cast.ida.get(at(second)).get_json()["despite"]
    assert (kept["reason"], [one["code"] for one in kept["against"]]) == (WHY["despite"]["reason"], ["begun-already"])


def test_what_is_not_known_stops_nothing_and_another_matter_is_asked_anew(cast: Cast) -> None:
    made = begun(cast)
    assert answered(cast.ida, made, "liner").status_code == 200
    answered(cast.ida, made, "limit", 100)
    answered(cast.ida, made, "weight", 120)
    assert answered(cast.ida, made, "form", **WHY).status_code == 200
    answered(cast.ida, made, "weight", 130)
    assert codes(answered(cast.ida, made, "cure")) == ["weight-over-limit"]
    assert codes(finished(cast, made)) == ["weight-over-limit"]
    answered(cast.ida, made, "weight", 90)
    assert answered(cast.ida, made, "cure").status_code == 200


def test_a_second_check_of_heat_lifts_its_stop_and_without_a_pin_length_stops_nothing(cast: Cast) -> None:
    made = begun(cast, suspension="suction")
    for name, value in (("feeling", "reduced"), ("length", 90), ("pin_least", 130)):
        answered(cast.ida, made, name, value)
    assert codes(answered(cast.ida, made, "liner")) == ["no-heat-check"]
    answered(cast.ida, made, "heat2", "By thermometer, Juno")
    assert answered(cast.ida, made, "liner").status_code == 200
    cast.ida.made(at(made, "/plan"), {"id": "p1", "purpose": "diagnostic", "suspension": "pin_lock"})
    assert codes(answered(cast.ida, made, "pads")) == ["too-short-for-pin"]


def test_a_person_with_reduced_feeling_and_a_wound_on_the_log_stop_it_too(cast: Cast) -> None:
    cast.ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"tags": ["reduced_sensation"]})
    skin = [{"place": "end of the limb", "finding": "open_skin", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(TODAY - timedelta(days=1), skin=skin))
    assert codes(answered(cast.ida, begun(cast), "liner")) == ["open-skin", "no-heat-check"]
    cast.ida.post(at(begun(cast, **WHY), "/void"), {"id": "v", "reason": "Only tried."})
    assert codes(answered(cast.ida, begun(cast, made="cast", **WHY), "cast")) == ["open-skin"]  # nothing sets warm


# Finished.


def test_what_is_open_is_named_and_the_socket_is_entered_with_the_clock(cast: Cast) -> None:
    made, worn = begun(cast), story(cast)["sockets"][0]
    left = finished(cast, made, open_seen=False)
    assert set(codes(left, "left-open")) == {"left-open"}
    assert "Trim lines cut, edges smooth" in [one["text"] for one in left.get_json()["against"]]
    for one in made["steps"]:
        value = {"choice": "closed", "number": 10, "text": "By hand"}.get((one["asks"] or {}).get("kind", ""))
        value = {"shape": "draws-off", "scar": "none", "feeling": "felt", "weight": 80, "limit": 125}.get(
            one["code"], value
        )
        if one["code"] not in ("trim", "hand"):
            assert answered(cast.ida, made, one["code"], value).status_code == 200, one
    answered(cast.ida, made, "hand", state="not-needed", note="A caregiver dons it.")
    unsaid = answered(cast.ida, made, "skin", None, state="not-needed", note=" ")  # it can stop: not without a why
    assert unsaid.status_code == 422 and list(unsaid.get_json()["error"]["fields"]) == ["note"]
    body = {"id": "fin", "socket": SOCKET, "retires": worn["id"], "retired_why": "Too large.", "bring": "Your socks."}
    assert codes(cast.ida.post(at(made, "/finish"), body), "left-open") == ["left-open"]
    done = cast.ida.made(at(made, "/finish"), {**body, "open_seen": True})
    assert (
        done["finished"]["left_open"] == ["Trim lines cut, edges smooth"] and done["finished"]["bring"] == "Your socks."
    )
    assert (done["socket"]["made"], done["socket"]["suspension"], done["socket"]["weight_limit_kg"]) == (
        "direct",
        "pin_lock",
        125,
    )
    assert done["remake"]["from"] == "2025-09-29" and done["remake"]["to"] == "2025-10-06"
    assert cast.ida.made(at(made, "/finish"), {**body, "open_seen": True})["socket"]["id"] == done["socket"]["id"]
    sockets = story(cast)["sockets"]
    assert [(one["retired_on"], one["retired_why"]) for one in sockets] == [(DAY, "Too large."), (None, None)]
    told = cast.anouk.phone.get("/api/me").get_json()
    assert "Too large." not in str(told) and "'day': 1" in str(told)


def test_a_socket_is_not_fitted_before_it_was_begun_nor_retires_anothers(cast: Cast) -> None:
    made = begun(cast)
    early = finished(cast, made, socket={**SOCKET, "fitted_on": "2025-09-14"})
    assert list(early.get_json()["error"]["fields"]) == ["socket.fitted_on"]
    theirs = cast.ida.get(f"/api/clinic/limbs/{cast.dov.limb_id}").get_json()["sockets"][0]["id"]
    assert list(finished(cast, made, retires=theirs).get_json()["error"]["fields"]) == ["retires"]
    assert list(finished(cast, made, socket={}).get_json()["error"]["fields"]) == ["socket.fitted_on"]
    assert len(story(cast)["sockets"]) == 1


def test_a_step_is_put_right_later_with_its_history(cast: Cast) -> None:
    made = begun(cast)
    answered(cast.ida, made, "comfort", 4)
    assert finished(cast, made).status_code == 200
    assert list(answered(cast.ida, made, "comfort", 8).get_json()["error"]["fields"]) == ["why"]
    said = answered(cast.juno, made, "comfort", 8, why="Read the wrong line.").get_json()
    right = step(said, "comfort")
    assert (right["value"], right["why"], right["by"]) == (8, "Read the wrong line.", "juno")
    assert [(one["value"], one["by"]) for one in right["history"]] == [(4, "ida")]


def test_taken_out_and_put_back_the_sockets_are_as_they_were(cast: Cast) -> None:
    made, worn = begun(cast), story(cast)["sockets"][0]
    finished(cast, made, retires=worn["id"])
    before = story(cast)["sockets"]
    assert cast.ida.post(at(made, "/void"), {"id": "v1", "reason": ""}).status_code == 422
    cast.ida.made(at(made, "/void"), {"id": "v1", "reason": "The other limb."})
    out = story(cast)
    assert [one["retired_on"] for one in out["sockets"]] == [None, DAY]
    assert "by mistake" in out["sockets"][1]["retired_why"] and out["makings"][0]["voided"]
    assert list(answered(cast.ida, made, "tape").get_json()["error"]["fields"]) == ["making"]
    for _ in range(2):
        cast.ida.made(at(made, "/restore"), {"id": "r1"})
    assert story(cast)["sockets"] == before


# Stock.


def liner(cast: Cast, hand: int) -> str:
    item_id = str(cast.ida.made("/api/clinic/stock/items", {"kind": "liner", "name": "Cushion"})["id"])
    if hand:
        body = {"id": f"d-{next(IDS)}", "deed": "received", "count": hand, "lot": "L1"}
        cast.ida.made(f"/api/clinic/stock/items/{item_id}/movements", body)
    return item_id


def on_hand(cast: Cast, item_id: str) -> int:
    return next(
        int(one["on_hand"])
        for one in cast.ida.get("/api/clinic/stock/items").get_json()["items"]
        if one["id"] == item_id
    )


def test_what_is_told_of_a_limb_after_a_mistake_is_as_if_it_had_not_been(cast: Cast, clock: Clock) -> None:
    """Before: the figures began anew at a socket nobody ever wore, and it was the first definitive one."""
    days = [TODAY - timedelta(days=n) for n in range(40, -1, -1)]
    cast.anouk.sync(
        *(cast.anouk.checkin(day, stack=[{"ply": 1 + 2 * (day > days[20]), "make": "single"}]) for day in days)
    )
    limb = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    pages = ("/assessment", "/plan", "/visit-page", "/payer-page", "/letter-draft?kind=payer")
    before = {page: cast.ida.get(limb + page).get_json() for page in pages}
    made = begun(cast, purpose="definitive")
    finished(cast, made, socket={**SOCKET, "fitted_on": DAY})
    assert cast.ida.get(f"{limb}/assessment").get_json() != before["/assessment"]
    cast.ida.made(at(made, "/void"), {"id": "v1", "reason": "Another person's."})
    assert {page: cast.ida.get(limb + page).get_json() for page in pages} == before
    cast.ida.made(at(made, "/restore"), {"id": "r1"})
    assert cast.ida.get(f"{limb}/assessment").get_json() != before["/assessment"]


def test_a_mistake_leaves_the_house_as_one_and_hides_no_socket_of_a_file(cast: Cast, settings: Settings) -> None:
    made = begun(cast)
    finished(cast, made)
    socket = cast.ida.get(at(made)).get_json()["socket"]["id"]

    def told() -> tuple[set[str], bool]:
        entries = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/bundle.fhir.json").get_json(force=True)["entry"]
        ours = [one["resource"] for one in entries if one["resource"]["id"] in (socket, f"{socket}.use")]
        db = connect(file_of(settings, "nora"))
        known = socket in {one[0] for one in caseload.sockets_known(db)}
        db.close()
        return {one["status"] for one in ours}, known

    assert told() == ({"active"}, True)
    cast.ida.made(at(made, "/void"), {"id": "v1", "reason": "Another person's."})
    assert told() == ({"entered-in-error"}, False)
    cast.ida.made(at(made, "/restore"), {"id": "r1"})
    assert told() == ({"active"}, True)


def test_a_planned_recast_is_not_done_by_a_mistake(cast: Cast) -> None:
    """Before: the plan, its chair and its liners were gone with a socket that nobody ever wore."""
    decided = {"on": DAY, "choice": "definitive-now", "planned_on": DAY}
    cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/decisions", decided)

    def planned() -> list[str]:
        return [one["limb_id"] for one in cast.ida.get("/api/clinic/stock/need").get_json()["recasts"]]

    cast.ida.get("/api/clinic/worklist")  # each limb is assessed
    assert planned() == [cast.anouk.limb_id]
    made = begun(cast, purpose="definitive")
    finished(cast, made)
    socket = cast.ida.get(at(made)).get_json()["socket"]["id"]
    cast.ida.made(f"/api/clinic/sockets/{socket}/pads", {"on": DAY, "thickness_mm": 2})
    assert planned() == []
    cast.ida.made(at(made, "/void"), {"id": "v1", "reason": "Another person's."})
    assert planned() == [cast.anouk.limb_id]
    assert story(cast)["pads"] == []
    cast.ida.made(at(made, "/restore"), {"id": "r1"})
    assert planned() == [] and len(story(cast)["pads"]) == 1


def test_a_socket_taken_out_as_a_mistake_is_not_changed_behind_its_making(cast: Cast) -> None:
    """Before: an empty "retired on" and it was worn again, while its making was still a mistake."""
    made = begun(cast)
    finished(cast, made)
    socket = f"/api/clinic/sockets/{cast.ida.get(at(made)).get_json()['socket']['id']}"
    cast.ida.made(f"{socket}/components", {"what": "Lock", "fitted_on": DAY, "life_until": "2025-09-20"})
    assert [one["what"] for one in story(cast)["parts"]] == ["Lock, life"]
    cast.ida.made(at(made, "/void"), {"id": "v1", "reason": "Another person's."})
    assert story(cast)["parts"] == []  # its dates come up no more
    assert "Lock" not in cast.ida.get("/api/clinic/worklist").get_data(as_text=True)
    for answer in (
        cast.ida.patch(socket, {"retired_on": None}),
        cast.ida.post(f"{socket}/pads", {"on": DAY, "thickness_mm": 2}),
        cast.ida.post(f"{socket}/suspensions", {"on": DAY, "suspension": "strap", **WHY}),
        cast.ida.post(f"{socket}/components", {"what": "Valve", "fitted_on": DAY}),
    ):
        assert answer.status_code == 422 and list(answer.get_json()["error"]["fields"]) == ["socket"]
    cast.ida.made(at(made, "/restore"), {"id": "r1"})
    assert cast.ida.patch(socket, {"note": "Trimmed."}).status_code == 200
    assert [one["what"] for one in story(cast)["parts"]] == ["Lock, life"]


def test_what_was_put_right_on_the_socket_before_outlasts_a_mistake_and_its_undoing(cast: Cast) -> None:
    """Before: the end of the socket worn before was written over by what it had been before the mistake."""
    worn = story(cast)["sockets"][0]["id"]

    def ended() -> Any:
        return next(one for one in story(cast)["sockets"] if one["id"] == worn)["retired_on"]

    made = begun(cast)
    finished(cast, made, retires=worn)
    cast.ida.patch(f"/api/clinic/sockets/{worn}", {"retired_on": "2025-09-10"})  # that was the true day
    cast.ida.made(at(made, "/void"), {"id": "v1", "reason": "Another person's."})
    assert ended() == "2025-09-10"
    cast.ida.made(at(made, "/restore"), {"id": "r1"})
    assert ended() == "2025-09-10"
    other = begun(cast)
    cast.ida.patch(f"/api/clinic/sockets/{worn}", {"retired_on": None})
    finished(cast, other, retires=worn)
    cast.ida.made(at(other, "/void"), {"id": "v2", "reason": "Another person's."})
    assert ended() == DAY  # the first one is worn since
    cast.ida.patch(f"/api/clinic/sockets/{worn}", {"retired_on": "2025-09-12"})
    cast.ida.made(at(other, "/restore"), {"id": "r2"})
    assert ended() == "2025-09-12"


def test_a_replay_of_the_days_before_a_mistake_was_found_knows_nothing_of_it(cast: Cast, clock: Clock) -> None:
    limb = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    worn = story(cast)["sockets"][0]["id"]
    made = begun(cast)
    finished(cast, made, retires=worn, retired_why="Too wide.")

    def replay(who: Actor) -> Any:
        asked = f"?as_of={DAY}"
        told = who.get(limb + asked).get_json()
        return told["sockets"], told["assessment"], who.get(f"{limb}/visit-page{asked}").get_json()

    before = replay(cast.ida)
    clock.forward(days=3)
    ida = signed_in(cast.app, "ida")
    assert replay(ida) == before
    ida.made(at(made, "/void"), {"id": "v1", "reason": "Another person's."})
    assert replay(ida) == before
    (first, second) = ida.get(limb).get_json()["sockets"]
    assert (first["retired_on"], second["retired_on"]) == (None, DAY)


def test_a_higher_limit_entered_at_the_end_lifts_no_lower_one_found_before(cast: Cast) -> None:
    made = begun(cast)
    for name, value in (("weight", 130), ("limit", 100)):
        answered(cast.ida, made, name, value)
    end = {"socket": {**SOCKET, "weight_limit_kg": 150}}
    assert codes(finished(cast, made, **end)) == ["weight-over-limit"]
    assert finished(cast, made, **end, **WHY).status_code == 200


def test_the_end_knows_no_earlier_form_of_a_socket(cast: Cast) -> None:
    """Before: it was answered as a server that can't store, and every try again was, too."""
    made = begun(cast)
    refused = finished(cast, made, socket={**SOCKET, "was": {"note": "x"}})
    assert refused.status_code == 422 and list(refused.get_json()["error"]["fields"]) == ["socket.was"]


def test_a_socket_is_not_fitted_on_a_day_to_come_nor_ends_another_twice(cast: Cast) -> None:
    made, worn = begun(cast), story(cast)["sockets"][0]["id"]
    for day in ("2025-09-17", "2052-09-15"):
        early = finished(cast, made, socket={**SOCKET, "fitted_on": day})
        assert early.status_code == 422 and list(early.get_json()["error"]["fields"]) == ["socket.fitted_on"]
    cast.ida.patch(f"/api/clinic/sockets/{worn}", {"retired_on": "2025-08-01", "retired_why": "It broke."})
    again = finished(cast, made, retires=worn)
    assert again.status_code == 422 and list(again.get_json()["error"]["fields"]) == ["retires"]
    kept = story(cast)["sockets"][0]
    assert (kept["retired_on"], kept["retired_why"]) == ("2025-08-01", "It broke.")


def test_a_made_socket_takes_gives_back_and_takes_again(cast: Cast) -> None:
    made, item_id = begun(cast), liner(cast, 2)
    take = {"id": "t1", "item_id": item_id, "count": 1}
    for _ in range(2):
        said = cast.ida.made(at(made, "/items"), take)
    assert on_hand(cast, item_id) == 1 and [one["lots"] for one in said["items"]] == [["L1"]]
    assert codes(cast.ida.post(at(made, "/items"), {**take, "id": "t2"})) == ["taken-already"]
    cast.ida.made(at(made, "/items"), {**take, "id": "t2", **WHY})
    cast.ida.made("/api/clinic/stock-uses/t2/give-back")
    cast.ida.made("/api/clinic/stock-uses/t2/give-back")
    assert on_hand(cast, item_id) == 1
    cast.ida.made(at(made, "/void"), {"id": "v", "reason": "The other limb."})
    assert on_hand(cast, item_id) == 2
    cast.ida.made(at(made, "/restore"), {"id": "r"})
    assert on_hand(cast, item_id) == 1
    cast.ida.made(at(made, "/void"), {"id": "v2", "reason": "Once more."})
    gone = {"id": "x", "deed": "used", "count": 2}
    cast.ida.made(f"/api/clinic/stock/items/{item_id}/movements", gone)  # somebody else took them meanwhile
    assert codes(cast.ida.post(at(made, "/restore"), {"id": "r2"})) == ["not-enough"]
    assert cast.ida.get(at(made)).get_json()["voided"] and on_hand(cast, item_id) == 0
    cast.ida.made(at(made, "/restore"), {"id": "r2", **WHY})
    assert on_hand(cast, item_id) == -1


def test_the_same_take_with_another_number_is_refused_by_field(cast: Cast) -> None:
    made, item_id = begun(cast), cast.ida.made("/api/clinic/stock/items", {"kind": "liner", "name": "Cushion"})["id"]
    taken = {"id": "t1", "item_id": item_id, "count": 1, **WHY}
    for _ in range(2):
        assert cast.ida.post(at(made, "/items"), taken).status_code == 200
    other = cast.ida.post(at(made, "/items"), {**taken, "count": 2})
    assert other.status_code == 422 and list(other.get_json()["error"]["fields"]) == ["id"]


def test_an_erased_person_leaves_the_count_and_nobody_in_it(cast: Cast) -> None:
    made, item_id = begun(cast), liner(cast, 1)
    cast.ida.made(at(made, "/items"), {"id": "t1", "item_id": item_id, "count": 1})
    assert finished(cast, made).status_code == 200
    cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/erasure", {"reason": "Asked for it."})
    gone = cast.nora.post(f"/api/clinic/people/{cast.anouk.id}/erasure/confirm", {"name": "Anouk"})
    assert gone.status_code == 200 and {"making", "making_event", "stock_use"} <= set(gone.get_json()["rows"])
    assert on_hand(cast, item_id) == 0
    assert cast.ida.get(at(made)).status_code == 404


# The clinic's list.


def test_the_clinics_list_has_versions_and_a_past_making_shows_its_own(cast: Cast) -> None:
    made = begun(cast)
    ours = next(one for one in cast.ida.get("/api/clinic/making-lists").get_json()["lists"] if one["made"] == "direct")
    steps = [{name: one[name] for name in ("code", "phase", "text")} for one in ours["steps"]]
    own = [{**one, "text": f"Ours: {one['text']}"} for one in steps if one["code"] != "hand"]
    own.append({"phase": "after", "text": "Photo for the file"})
    where = "/api/clinic/making-lists/direct"
    given = {"steps": own, "url": "https://maker.example/manual", "pin_least_mm": 140, "wear": [1, 2]}
    kept = cast.ida.put(where, given).get_json()
    assert kept["own"] and kept["steps"][-1]["code"] == "own-1" and len(kept["versions"]) == 1
    assert step(cast.ida.get(at(made)).get_json(), "hand")["text"].startswith("Hands:")
    cast.ida.post(at(made, "/void"), {"id": "v", "reason": "Only tried."})
    newer = begun(cast)
    assert newer["list"]["url"] == "https://maker.example/manual" and newer["steps"][0]["text"].startswith("Ours: ")
    answered(cast.ida, newer, "length", 120)
    assert codes(answered(cast.ida, newer, "liner")) == ["too-short-for-pin"]  # by the clinic's own figure
    lacks = cast.ida.put(where, {"steps": [one for one in own if one.get("code") != "skin"]})
    assert lacks.status_code == 422 and "can be reworded" in lacks.get_json()["error"]["fields"]["steps"][0]
    late = cast.ida.put(
        where, {"steps": [{**one, "phase": "after"} if one.get("code") == "skin" else one for one in own]}
    )
    assert late.status_code == 422
    bad = cast.ida.put(where, {"steps": own, "url": "javascript:alert(1)"})
    assert list(bad.get_json()["error"]["fields"]) == ["url"]
    back = cast.ida.put(where, {"steps": None}).get_json()
    assert not back["own"] and back["steps"] == ours["steps"] and len(back["versions"]) == 2


# The record read elsewhere.


def test_plan_payers_page_and_letter_read_the_record(cast: Cast) -> None:
    made = begun(cast)
    answered(cast.ida, made, "scar", "deep")
    answered(cast.ida, made, "liner", **WHY)
    assert finished(cast, made, **WHY).status_code == 200
    limb = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    words = cast.ida.get(f"{limb}/plan").get_json()["makings"][0]
    assert words.startswith("15 September 2025: diagnostic socket, ") and "Seen and spoken about today." in words
    assert "deep, drawn-in scar" in words and "left open: " in words
    heads = {one["head"]: one["lines"] for one in cast.ida.get(f"{limb}/payer-page").get_json()["heads"]}
    made_lines = [one["text"] for one in heads["How the socket was made"]]
    assert made_lines[0].startswith("15 September 2025: diagnostic socket, ") and "by the clinic" in made_lines[0]
    assert "Gone on by ida because “Seen and spoken about today.”." in made_lines
    assert cast.ida.get(f"{limb}/payer-page.pdf").data[:4] == b"%PDF"
    cast.ida.put("/api/clinic/letter-templates/payer", {"text": "Of {person}: {making}."})
    draft = cast.ida.get(f"{limb}/letter-draft?kind=payer").get_json()
    assert "15 September 2025: diagnostic socket" in draft["text"] and draft["lacks"] == []
    assert story(cast)["sockets"][-1]["despite"][0]["reason"] == WHY["despite"]["reason"]
    yesterday = cast.ida.get(f"{limb}/plan?as_of={TODAY - timedelta(days=1)}").get_json()
    assert yesterday["makings"] == []


def test_a_long_reason_is_whole_on_the_payers_page(cast: Cast) -> None:
    made, long = begun(cast), "Because it was looked at twice and found to be so. " * 7
    answered(cast.ida, made, "scar", "deep")
    answered(cast.ida, made, "liner", despite={"reason": long})
    heads = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/payer-page").get_json()["heads"]
    told = [one["text"] for head in heads if head["head"] == "How the socket was made" for one in head["lines"]]
    assert long.strip() in " ".join(told) and max(map(len, told[1:])) <= ON_PAPER


# Parts with their numbers, pads, suspensions.


def test_a_part_has_its_numbers_its_dates_come_up_and_its_limit_is_asked_about(cast: Cast) -> None:
    cast.anouk.sync(cast.anouk.checkin(TODAY - timedelta(days=1), weight_kg=122.1))
    socket = story(cast)["sockets"][0]["id"]
    where = f"/api/clinic/sockets/{socket}/components"
    lock = {"what": "Lock", "maker": "As on the box", "serial": "S-1", "fitted_on": DAY, "weight_limit_kg": 100}
    lock |= {"warranty_until": "2027-09-15", "life_until": "2028-09-15"}
    assert codes(cast.ida.post(where, lock)) == ["weight-over-limit"]
    early = cast.ida.post(where, {**lock, "fitted_on": "2025-01-01"})
    assert list(early.get_json()["error"]["fields"]) == ["fitted_on"]
    component_id = cast.ida.made(where, {**lock, **WHY})["id"]
    told = story(cast)
    assert told["sockets"][0]["components"][0]["serial"] == "S-1"
    assert [one["what"] for one in told["parts"]] == ["Lock, warranty", "Lock, life"]
    retired = f"/api/clinic/components/{component_id}/retire"
    assert list(cast.ida.post(retired, {"on": "2025-09-01"}).get_json()["error"]["fields"]) == ["on"]
    cast.ida.made(retired, {"on": DAY, "why": "Worn out."})
    told = story(cast)
    assert told["parts"] == [] and told["sockets"][0]["components"][0]["retired_why"] == "Worn out."


def test_a_pad_has_its_measures_and_a_switched_suspension_keeps_what_it_was(cast: Cast) -> None:
    socket = story(cast)["sockets"][0]["id"]
    pad = {"on": DAY, "thickness_mm": 3, "place": "fibula head", "length_mm": 60, "width_mm": 35}
    cast.ida.made(f"/api/clinic/sockets/{socket}/pads", pad)
    switch = {"on": DAY, "suspension": "suction", "liner": "Sealing liner 24, 3 mm"}
    cast.ida.made(f"/api/clinic/sockets/{socket}/suspensions", switch)
    told = story(cast)
    assert {name: told["pads"][0][name] for name in ("length_mm", "width_mm", "thickness_mm")} == {
        "length_mm": 60, "width_mm": 35, "thickness_mm": 3,
    }  # fmt: skip
    was = told["sockets"][0]["suspensions"][0]
    assert (was["was"], was["suspension"], was["liner"]) == ("pin_lock", "suction", switch["liner"])


# One id says one thing, and a list is no form of one person.


@pytest.mark.parametrize(
    "other", [{"purpose": "definitive"}, {"suspension": None}, {"on": (TODAY - timedelta(days=1)).isoformat()}]
)
def test_the_same_id_with_other_words_begins_nothing(cast: Cast, other: dict[str, Any]) -> None:
    """Before: "kept", and the other words were lost."""
    made = begun(cast)
    body = {"id": made["id"], "made": "direct", "on": DAY, "purpose": "diagnostic", "suspension": "pin_lock"}
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}/makings"
    assert cast.ida.post(path, body).status_code == 200
    again = cast.ida.post(path, {**body, **other})
    assert (again.status_code, list(again.get_json()["error"]["fields"])) == (422, ["id"])
    assert cast.ida.get(at(made)).get_json()["plan"]["purpose"] == "diagnostic"


def test_the_same_id_with_other_words_finishes_nothing(cast: Cast) -> None:
    made = begun(cast)
    first = finished(cast, made, id="the-end")
    assert first.status_code == 200 and "given" not in first.get_json()["finished"]
    assert finished(cast, made, id="the-end").get_json()["socket"] == first.get_json()["socket"]
    for other in ({"bring": "Shoes"}, {"socket": {**SOCKET, "liner_mm": 6}}):
        again = finished(cast, made, id="the-end", **other)
        assert (again.status_code, list(again.get_json()["error"]["fields"])) == (422, ["id"])
    assert cast.ida.get(at(made)).get_json()["socket"]["liner_mm"] is None


def test_two_who_change_a_list_hear_of_each_other(cast: Cast) -> None:
    path = "/api/clinic/making-lists/direct"
    shown = next(one for one in cast.ida.get("/api/clinic/making-lists").get_json()["lists"] if one["made"] == "direct")
    steps = [{name: step[name] for name in ("code", "phase", "text")} for step in shown["steps"]]
    longer = [*steps, {"code": None, "phase": "after", "text": "Photograph kept"}]
    first = cast.ida.put(path, {"steps": longer, "was": shown["n"]})
    assert first.status_code == 200
    second = cast.nora.put(path, {"steps": steps, "was": shown["n"]})
    assert (second.status_code, second.get_json()["error"]["code"]) == (409, "changed-meanwhile")
    assert second.get_json()["now"] == {"was": first.get_json()["n"]}
    assert cast.nora.put(path, {"steps": steps, "was": first.get_json()["n"]}).status_code == 200  # now it is meant
    assert cast.nora.put("/api/clinic/making-lists/no-such", {"steps": steps, "was": 0}).status_code == 404
