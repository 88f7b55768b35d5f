"""The audit chain: every read and write of health data leaves a line, and no line can be changed unnoticed.

OWASP ASVS 5.0: 16.2.1 (who, what, when), 16.4.2 (logs can't be altered unnoticed).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from plytide.storage import audit
from plytide.storage.clinics import clinic_path, open_clinic
from plytide.storage.files import backup
from plytide.storage.registry.registry import Registry, registry_path
from plytide.storage.sqlite import connect
from tests.actors import PASSWORD, Cast
from tests.conftest import TODAY


def data_of(cast: Cast) -> Path:
    return Path(cast.app.config["SETTINGS"].data_dir)


def clinic_file(data: Path) -> Path:
    registry = Registry(data)
    try:
        return clinic_path(data, registry.clinic_files()[0][1])
    finally:
        registry.close()


@pytest.fixture
def chain(cast: Cast) -> Path:
    """A clinic's file whose chain has some lines, the last of which the registry saw."""
    assert cast.anouk.sync(cast.anouk.checkin(TODAY)).status_code == 200
    cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}")
    assert cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD}).status_code == 200
    cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}")  # two lines after that sight
    cast.ida.get("/api/clinic/people")
    data = data_of(cast)
    assert backup.check(data) == []
    return clinic_file(data)


def tampered(path: Path, *statements: str) -> None:
    """Change the file as somebody with the file and no scruples would: triggers off first."""
    db = connect(path)
    for name in ("audit_no_update", "audit_no_delete"):
        db.conn.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        assert db.conn.execute(statement).rowcount != 0
    db.close()


MIDDLE = "(SELECT n FROM audit ORDER BY n LIMIT 1 OFFSET 5)"
LAST = "(SELECT max(n) FROM audit)"


@pytest.mark.parametrize(
    "column, value",
    [
        ("n", "1000000"),
        ("at", "'2020-01-01T00:00:00+00:00'"),
        ("who", "'staff:nobody'"),
        ("what", "'limb.look'"),
        ("subject", "'limb:x'"),
        ("detail", "'x'"),
        ("feed_seq", "987"),
        ("hash", "zeroblob(32)"),
        ("device", "'Firefox on Mac'"),
        ("facts", "'1:00'"),
    ],
)
@pytest.mark.parametrize("line", ["1", MIDDLE, LAST])
def test_a_change_of_any_column_of_any_line_is_found(chain: Path, column: str, value: str, line: str) -> None:
    tampered(chain, f"UPDATE audit SET {column} = {value} WHERE n = {line}")
    assert len(backup.check(chain.parents[1])) == 1


def test_every_column_is_among_those_changed_above(chain: Path) -> None:
    db = connect(chain)
    assert [row[1] for row in db.conn.execute("PRAGMA table_info(audit)")] == [
        "n", "at", "who", "what", "subject", "detail", "feed_seq", "hash", "device", "facts",
    ]  # fmt: skip
    db.close()


@pytest.mark.parametrize("lines", [f"n = {MIDDLE}", "n = 1", f"n = {LAST}", f"n > {MIDDLE}", "true"])
def test_lines_taken_out_anywhere_are_missed(chain: Path, lines: str) -> None:
    tampered(chain, f"DELETE FROM audit WHERE {lines}")
    assert len(backup.check(chain.parents[1])) == 1


def test_two_lines_changing_places_are_found(chain: Path) -> None:
    tampered(
        chain,
        "UPDATE audit SET n = -n WHERE n IN (3, 4)",
        "UPDATE audit SET n = 7 + n WHERE n IN (-3, -4)",
    )
    assert len(backup.check(chain.parents[1])) == 1


def test_a_line_put_in_is_found(chain: Path) -> None:
    tampered(
        chain,
        f"UPDATE audit SET n = n + 1000 WHERE n > {MIDDLE}",
        f"INSERT INTO audit SELECT n + 1, at, who, what, subject, detail, NULL, hash, device, facts FROM audit"
        f" WHERE n = {MIDDLE}",
        "UPDATE audit SET n = n - 999 WHERE n > 1000",
    )
    assert len(backup.check(chain.parents[1])) == 1


def test_cutting_the_end_off_and_moving_the_head_is_found_by_what_the_registry_saw(chain: Path) -> None:
    tampered(
        chain,
        f"DELETE FROM audit WHERE n > {MIDDLE}",
        "UPDATE audit_head SET (n, hash) = (SELECT n, hash FROM audit ORDER BY n DESC LIMIT 1)",
    )
    said = backup.check(chain.parents[1])
    assert len(said) == 1 and "the registry saw line" in said[0]


def test_a_chain_forged_whole_is_found_by_what_the_registry_saw(chain: Path) -> None:
    tampered(chain, f"UPDATE audit SET what = 'nothing' WHERE n = {MIDDLE}")
    db, previous = connect(chain), audit.START
    for line in db.conn.execute(
        "SELECT n, at, who, what, subject, detail, feed_seq, device, facts FROM audit ORDER BY n"
    ).fetchall():
        previous = audit.seal(previous, audit.Line(*line))
        db.conn.execute("UPDATE audit SET hash = ? WHERE n = ?", (previous, line[0]))
    db.conn.execute("UPDATE audit_head SET hash = ?", (previous,))
    assert audit.faults(db) == []  # by itself the file is whole
    db.close()
    said = backup.check(chain.parents[1])
    assert len(said) == 1 and "is not the one the registry saw" in said[0]


def test_the_file_itself_refuses_to_change_or_drop_a_line(chain: Path) -> None:
    db = connect(chain)
    for statement in ("UPDATE audit SET who = 'x'", "DELETE FROM audit"):
        with pytest.raises(Exception, match="append-only"):
            db.conn.execute(statement)
    db.close()


def test_the_registry_forgets_nothing_it_saw_when_it_looks_again(cast: Cast, chain: Path) -> None:
    db = connect(registry_path(data_of(cast)))
    seen = db.conn.execute("SELECT count(*) FROM witness").fetchone()[0]
    db.close()
    assert seen >= 1


def test_the_manager_reads_who_did_what_and_nobody_else_does(cast: Cast) -> None:
    cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}")
    cast.anouk.sync(cast.anouk.checkin(TODAY))
    assert cast.ida.get("/api/clinic/audit").status_code == 403
    lines = cast.nora.get("/api/clinic/audit?limit=5").get_json()
    assert [line["n"] for line in lines["lines"]] == sorted((line["n"] for line in lines["lines"]), reverse=True)
    further = cast.nora.get(f"/api/clinic/audit?limit=200&next={lines['next']}").get_json()
    told = {(line["name"], line["what"]) for line in lines["lines"] + further["lines"]}
    assert ("ida", "limb.read") in told and ("Anouk's phone", "sync") in told
    about = cast.nora.get(f"/api/clinic/audit?subject={cast.anouk.limb_id}").get_json()["lines"]
    assert about and all(cast.anouk.limb_id in line["subject"] for line in about)


READS: list[tuple[str, Callable[[Cast], str]]] = [
    ("limb.read", lambda cast: f"/api/clinic/limbs/{cast.anouk.limb_id}"),
    ("assessment.read", lambda cast: f"/api/clinic/limbs/{cast.anouk.limb_id}/assessment"),
    ("limb.export", lambda cast: f"/api/clinic/limbs/{cast.anouk.limb_id}/bundle.fhir.json"),
    ("limb.export", lambda cast: f"/api/clinic/limbs/{cast.anouk.limb_id}/checkins.csv"),
    ("person.read", lambda cast: f"/api/clinic/people/{cast.anouk.id}"),
    ("person.export", lambda cast: f"/api/clinic/people/{cast.anouk.id}/export.json"),
    ("people.read", lambda cast: "/api/clinic/people"),
    ("worklist.read", lambda cast: "/api/clinic/worklist"),
    ("visit-page.print", lambda cast: f"/api/clinic/limbs/{cast.anouk.limb_id}/visit-page.pdf"),
]


@pytest.mark.parametrize("what, address", READS, ids=[what for what, _ in READS])
def test_each_read_of_health_data_leaves_a_line(cast: Cast, what: str, address: Callable[[Cast], str]) -> None:
    ida = cast.ida.get("/api/clinic/session").get_json()["staff"]["id"]
    assert cast.ida.get(address(cast)).status_code == 200
    data = data_of(cast)
    registry = Registry(data)
    db = open_clinic(data, registry, registry.clinic_files()[0][0])
    newest = db.conn.execute("SELECT who, what, at FROM audit ORDER BY n DESC LIMIT 1").fetchone()
    db.close()
    registry.close()
    assert tuple(newest) == (f"staff:{ida}", what, cast.clock.now.isoformat())


def test_audit_lines_hold_no_health_data(cast: Cast) -> None:
    canary = "canary-of-a-wearer"
    cast.anouk.sync(cast.anouk.checkin(TODAY, note=canary, skin=[{"place": canary, "finding": "blister"}]))
    cast.ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/notes", {"text": canary})
    cast.ida.get(f"/api/clinic/people?q={canary}")
    lines = cast.nora.get("/api/clinic/audit?limit=200").get_data(as_text=True)
    assert "note.add" in lines and canary not in lines


FIREFOX = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0"
IPHONE = (
    "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko)"
    " Version/18.5 Mobile/15E148 Safari/604.1"
)
EDGE = "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36 Edg/140.0"


@pytest.mark.parametrize(
    "agent, words",
    [(FIREFOX, "Firefox on Windows"), (IPHONE, "Safari on iPhone"), (EDGE, "Edge on Linux"),
     ("curl/8", "unknown browser"),
     ("", "unknown browser")],
    ids=["firefox", "iphone", "edge", "curl", "none"],
)  # fmt: skip
def test_a_line_tells_the_browser_by_family_and_platform_only(cast: Cast, agent: str, words: str) -> None:
    client = cast.app.test_client()
    said = client.post(
        "/api/clinic/session", json={"login": "ida", "password": PASSWORD}, headers={"User-Agent": agent}
    )
    assert said.status_code == 200
    newest = cast.nora.get("/api/clinic/audit?limit=1").get_json()["lines"][0]
    assert (newest["what"], newest["device"]) == ("session.open", words)


def test_lines_from_before_the_browser_was_told_keep_their_seals(chain: Path) -> None:
    tampered(chain, "UPDATE audit SET device = '' WHERE n = 1")  # it never had one: the same bytes
    assert backup.check(chain.parents[1]) == []
    tampered_again = connect(chain)
    tampered_again.conn.execute(f"UPDATE audit SET device = '' WHERE n = {LAST}")
    tampered_again.close()
    assert len(backup.check(chain.parents[1])) == 1


def test_lines_say_who_and_about_whom_by_name(cast: Cast) -> None:
    anouk = cast.anouk
    cast.ida.get(f"/api/clinic/people/{anouk.id}")
    cast.ida.get(f"/api/clinic/limbs/{anouk.limb_id}")
    cast.ida.patch(f"/api/clinic/limbs/{anouk.limb_id}", {"shape": "conical"})
    cast.ida.made(f"/api/clinic/people/{anouk.id}/erasure", {})
    lines = cast.nora.get("/api/clinic/audit").get_json()["lines"]
    told = {line["what"]: (line["name"], line["about"], line["person_id"]) for line in reversed(lines)}
    assert told["person.read"] == ("ida", "Anouk", anouk.id)
    assert told["limb.read"] == ("ida", "Anouk, left transtibial", anouk.id)
    assert told["limb.change"] == told["limb.read"]
    assert f"limb:{anouk.limb_id}" in [line["subject"] for line in lines]  # the id stays beside the name
    assert cast.nora.post(f"/api/clinic/people/{anouk.id}/erasure/confirm", {"name": "Anouk"}).status_code == 200
    after = cast.nora.get("/api/clinic/audit").get_json()["lines"]
    assert "Anouk" not in str([line["about"] for line in after])
    assert "person that is no longer here" in [line["about"] for line in after]
