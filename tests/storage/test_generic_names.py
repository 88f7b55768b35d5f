"""Two codes were makers' words: what was kept under them is brought over, what still says them is read."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from plytide import model
from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.sqlite import connect, prepare
from plytide.wire.history import read
from plytide.work.assess_lines import answers
from tests.actors import Cast

OLD = {"seal_in": "sealing_liner", "basalt": "composite"}
RENAMING = "generic_names"  # the migration, whatever number it has
ROWS = (
    "INSERT INTO person (id, name, tags, created_at, seq) VALUES ('p', 'Wren', '[]', '2025-05-01', 1)",
    "INSERT INTO limb (id, person_id, side, level, created_at, seq) VALUES ('l', 'p', 'left', 'transtibial',"
    " '2025-05-01', 2)",
    "INSERT INTO socket (id, limb_id, fitted_on, purpose, material, suspension, stack_at_fitting, note,"
    " created_at, seq)"
    " VALUES ('old', 'l', '2025-05-01', 'diagnostic', 'basalt', 'seal_in', '[]', 'seal_in and basalt',"
    " '2025-05-01', 3),"
    " ('plain', 'l', '2025-06-01', 'definitive', 'carbon', 'pin_lock', '[]', NULL, '2025-06-01', 4),"
    " ('bare', 'l', '2025-07-01', 'definitive', NULL, NULL, '[]', NULL, '2025-07-01', 5)",
    "INSERT INTO suspension (id, socket_id, changed_on, suspension, by_staff, created_at)"
    " VALUES ('s', 'plain', '2025-06-10', 'seal_in', 'ida', '2025-06-10')",
)


def test_rows_kept_under_the_old_names_are_brought_over_and_nothing_else_is(tmp_path: Path) -> None:
    path = tmp_path / "clinic.db"
    db = connect(path, create=True)
    names = [one.name for one in clinic_migrations.pending(db)]
    clinic_migrations.apply(db, stop_before=next(name for name in names if name.endswith(RENAMING)))
    for statement in ROWS:
        db.conn.execute(statement)
    db.conn.commit()
    db.close()
    prepare(path, clinic_migrations)
    db = connect(path)
    kept = db.conn.execute("SELECT id, material, suspension, note FROM socket ORDER BY id").fetchall()
    switched = db.conn.execute("SELECT suspension FROM suspension").fetchall()
    db.close()
    assert [tuple(row) for row in kept] == [
        ("bare", None, None, None),
        ("old", "composite", "sealing_liner", "seal_in and basalt"),  # what somebody wrote stays as they wrote it
        ("plain", "carbon", "pin_lock", None),
    ]
    assert [tuple(row) for row in switched] == [("sealing_liner",)]


def history(**socket: Any) -> dict[str, Any]:
    worn = {"id": "s1", "fitted_on": "2026-05-01", "purpose": "diagnostic", "stack_at_fitting": [], **socket}
    said = {
        "id": "c1",
        "date": "2026-05-02",
        "moment": "putting_on",
        "comfort": 7,
        "stack": [{"ply": 3, "make": "single"}],
    }
    return {"limb": {"id": "a1", "amputated_on": "2026-03-01"}, "sockets": [worn], "checkins": [said]}


def test_a_history_under_the_old_names_is_read_under_the_new() -> None:
    found, _ = read(history(material="basalt", suspension="seal_in"))
    assert (found.sockets[0].material, found.sockets[0].suspension) == ("composite", "sealing_liner")
    line = json.dumps(history(material="basalt", suspension="seal_in"))
    assert "error" not in json.loads(next(answers([line], None)))


def test_a_page_from_before_is_still_heard_and_answered_in_the_new_names(cast: Cast) -> None:
    limb = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    given = {"fitted_on": "2025-08-01", "purpose": "definitive", "material": "basalt", "suspension": "seal_in"}
    socket = cast.ida.made(f"{limb}/sockets", given)["id"]
    told = next(one for one in cast.ida.get(limb).get_json()["sockets"] if one["id"] == socket)
    assert (told["material"], told["suspension"]) == ("composite", "sealing_liner")
    assert cast.ida.patch(f"/api/clinic/sockets/{socket}", {"material": "basalt"}).status_code == 200
    cast.ida.made(f"/api/clinic/sockets/{socket}/suspensions", {"on": "2025-08-20", "suspension": "seal_in"})
    told = next(one for one in cast.ida.get(limb).get_json()["sockets"] if one["id"] == socket)
    assert (told["material"], [one["suspension"] for one in told["suspensions"]]) == ("composite", ["sealing_liner"])


@pytest.mark.parametrize("name", ["seal_in ", "SEAL_IN", "lanyard"])
def test_what_never_was_a_name_is_refused_with_todays_names(cast: Cast, name: str) -> None:
    given = {"fitted_on": "2025-08-01", "purpose": "definitive", "suspension": name}
    answer = cast.ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/sockets", given)
    assert answer.status_code == 422
    said = answer.get_json()["error"]["fields"]["suspension"][0]
    assert "sealing_liner" in said and "seal_in" not in said.replace("sealing_liner", "")


def test_the_old_names_are_not_offered_any_more(cast: Cast) -> None:
    described = cast.ida.get("/api/openapi.json").get_data(as_text=True)
    assert '"sealing_liner"' in described and '"composite"' in described
    for old in OLD:
        assert f'"{old}"' not in described
        assert old not in (*model.SUSPENSIONS, *model.MATERIALS)
