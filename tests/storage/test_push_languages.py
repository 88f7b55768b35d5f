"""No constraint of the database knows which languages there are; reminders from before keep theirs."""

from __future__ import annotations

from pathlib import Path

from plytide.storage import push
from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.sqlite import connect, prepare

MENDED = "any_language"  # the migration, whatever number it has
BEFORE = (
    "INSERT INTO device (id, role, label, enrolled_at) VALUES ('d', 'wearer', 'phone', '2025-05-01')",
    "INSERT INTO push (device_id, subscription, at, zone, quiet_from, quiet_to, next_at, language)"
    " VALUES ('d', '{\"endpoint\": \"x\"}', '[\"07:30\"]', 'UTC', '22:00', '06:00', '2025-05-02', 'ar')",
)


def test_a_reminder_from_before_is_kept_whole_and_may_then_be_in_a_new_language(tmp_path: Path) -> None:
    path = tmp_path / "clinic.db"
    db = connect(path, create=True)
    names = [one.name for one in clinic_migrations.pending(db)]
    clinic_migrations.apply(db, stop_before=next(name for name in names if name.endswith(MENDED)))
    for statement in BEFORE:
        db.conn.execute(statement)
    db.conn.commit()
    before = push.of_device(db, "d")
    db.close()
    prepare(path, clinic_migrations)
    db = connect(path)
    kept = push.of_device(db, "d")
    assert kept is not None and kept == before and kept["language"] == "ar"
    push.keep(db, "d", {**kept, "language": "tlh"})
    assert (push.of_device(db, "d") or {})["language"] == "tlh"
    indexes = {row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE tbl_name = 'push'")}
    assert "push_next" in indexes
    db.close()
