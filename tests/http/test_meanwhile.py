"""Two staff open the same form: who keeps second is told, by field, and nothing is written over unseen."""

from __future__ import annotations

from typing import Any

import pytest

from tests.actors import Actor, Cast
from tests.conftest import SOCKET


def places(cast: Cast) -> dict[str, tuple[str, str, Any, Any, Any]]:
    """(address, field, how the form showed it, Nora's value, Juno's)."""
    limb = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    socket = limb["sockets"][0]
    assert socket["note"] == SOCKET.get("note")
    return {
        "person": (f"/api/clinic/people/{cast.anouk.id}", "name", "Anouk", "Anouk B", "Anouk C"),
        "person's tags": (f"/api/clinic/people/{cast.anouk.id}", "tags",
                          limb["person"]["tags"], ["dialysis"], ["diabetes"]),
        "own log": (f"/api/clinic/people/{cast.anouk.id}", "language", None, "Dutch", "Frisian"),
        "limb": (f"/api/clinic/limbs/{cast.anouk.limb_id}", "shape", limb["limb"]["shape"], "conical", "bulbous"),
        "socket": (f"/api/clinic/sockets/{socket['id']}", "note", socket["note"], "Trimmed.", "Flared."),
        "socket's stack": (
            f"/api/clinic/sockets/{socket['id']}",
            "stack_at_fitting",
            socket["stack_at_fitting"],
            [],
            [{"ply": 1, "make": "unknown"}],
        ),
        "settings": ("/api/clinic/settings", "chairs", [], ["Room 1"], ["Room 2"]),
        "a limit": ("/api/clinic/settings", "thresholds", {"redness_minutes": 20}, {"redness_minutes": 15},
                    {"redness_minutes": 10}),
    }  # fmt: skip


PLACES = ("person", "person's tags", "own log", "limb", "socket", "socket's stack", "settings", "a limit")


def keep(who: Actor, path: str, **said: Any) -> Any:
    return who.call("PATCH", path, said)


@pytest.mark.parametrize("place", PLACES)
def test_the_second_is_told_what_stands_there_now_and_may_then_write_over_it(cast: Cast, place: str) -> None:
    path, field, was, noras, idas = places(cast)[place]
    assert keep(cast.nora, path, **{field: noras, "was": {field: was}}).status_code == 200
    told = keep(cast.ida, path, **{field: idas, "was": {field: was}})
    assert (told.status_code, told.get_json()["error"]["code"]) == (409, "changed-meanwhile")
    assert [name.split(".")[0] for name in told.get_json()["error"]["fields"]] == [field]
    assert told.get_json()["now"] == {field: noras}
    # Both said the same, and a form that knows how it stands now.
    assert keep(cast.ida, path, **{field: noras, "was": {field: was}}).status_code == 200
    assert keep(cast.ida, path, **{field: idas, "was": told.get_json()["now"]}).status_code == 200


@pytest.mark.parametrize("place", PLACES)
def test_a_form_that_does_not_say_how_it_was_is_kept_as_ever(cast: Cast, place: str) -> None:
    path, field, _, noras, idas = places(cast)[place]
    assert keep(cast.nora, path, **{field: noras}).status_code == 200
    assert keep(cast.ida, path, **{field: idas}).status_code == 200
    assert keep(cast.ida, path, **{field: noras, "was": {}}).status_code == 200


def test_what_a_page_shows_is_no_change_of_a_colleagues(cast: Cast) -> None:
    """Every field, as the page got it: kept as lists, flags, numbers or nothing."""
    person, limb = f"/api/clinic/people/{cast.anouk.id}", f"/api/clinic/limbs/{cast.anouk.limb_id}"
    numbers = [{"number": "020 123 45", "whose": "her sister"}, {"number": "030 99"}]
    full = {"telephones": numbers, "own_log": True, "tags": ["dialysis"], "born_on": "1980-01-02"}
    assert keep(cast.ida, person, **full).status_code == 200
    assert keep(cast.ida, limb, deep_scar=False, reference_circumference_mm=300).status_code == 200
    story = cast.ida.get(limb).get_json()
    socket = story["sockets"][0]
    days = [{"day": 1, "hours": 2}]
    assert keep(cast.ida, f"/api/clinic/sockets/{socket['id']}", wear_schedule=days, liner_mm=6).status_code == 200
    story = cast.ida.get(limb).get_json()
    shown = [
        (person, cast.ida.get(person).get_json(), {**full, "telephones": numbers[:1], "own_log": False, "tags": []}),
        (limb, story["limb"], {"deep_scar": True, "reference_circumference_mm": 310, "side": "right"}),
        (
            f"/api/clinic/sockets/{socket['id']}",
            story["sockets"][0],
            {"wear_schedule": [], "liner_mm": 6.5, "note": "x"},
        ),
    ]
    for path, before, said in shown:
        was = {name: before[name] for name in said}
        answer = keep(cast.ida, path, **said, was=was)
        assert answer.status_code == 200, answer.get_json()


def test_two_fields_of_one_form_are_no_matter_of_each_other(cast: Cast) -> None:
    path = f"/api/clinic/people/{cast.anouk.id}"
    assert keep(cast.nora, path, language="Dutch", was={"language": None}).status_code == 200
    assert keep(cast.ida, path, name="Anouk B", was={"name": "Anouk"}).status_code == 200
    assert cast.ida.get(path).get_json()["language"] == "Dutch"


@pytest.mark.parametrize("nonsense", ["x", 7, [], None, {"name": {"a": [1]}}, {"nothing": 1}])
def test_what_makes_no_sense_as_how_it_was_loses_nothing(cast: Cast, nonsense: Any) -> None:
    path = f"/api/clinic/people/{cast.anouk.id}"
    said = keep(cast.ida, path, name="Anouk B", was=nonsense)
    assert said.status_code in (200, 409, 422)
    assert (cast.ida.get(path).get_json()["name"] == "Anouk B") == (said.status_code == 200)


def test_a_letters_template_is_kept_by_one_and_the_other_is_told(cast: Cast) -> None:
    path = "/api/clinic/letter-templates/payer"
    first = next(
        one for one in cast.ida.get("/api/clinic/letter-templates").get_json()["templates"] if one["kind"] == "payer"
    )
    assert cast.nora.put(path, {"text": "Nora’s words.", "was": first["text"]}).status_code == 200
    told = cast.ida.put(path, {"text": "Ida’s words.", "was": first["text"]})
    assert (told.status_code, told.get_json()["now"]) == (409, {"text": "Nora’s words."})
    assert cast.ida.put(path, {"text": "Ida’s words.", "was": "Nora’s words."}).status_code == 200
    assert cast.ida.put(path, {"text": None}).status_code == 200
