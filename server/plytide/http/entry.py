"""What is alike in all that the clinic enters: checked, kept, audited, and the limb assessed again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.route import checked_body
from plytide.storage import assessment as assessments
from plytide.storage import audit, limb, person, rows, socket
from plytide.storage.rows import Row
from plytide.storage.sqlite import write
from plytide.work import despite
from plytide.work.entry_rules import ON, check
from plytide.work.meanwhile import changed


def refuse(field: str, words: str) -> Denied:
    return Denied(422, "invalid", "Some fields are not right.", fields={field: [words]})


def meanwhile(current: Mapping[str, Any], given: Mapping[str, Any], was: Mapping[str, Any], under: str = "") -> None:
    """Raises Denied 409 with what stands `now` in each field that a colleague changed since the form was opened."""
    now = changed(current, given, was)
    if now:
        words = "A colleague changed this meanwhile. Look at it again; kept once more, yours takes its place."
        names = {f"{under}.{name}" if under else name: [words] for name in now}
        raise Denied(409, "changed-meanwhile", words, fields=names, beside={"now": {under: now} if under else now})


def add(table: str, news_for: Iterable[str] = (), **owner: str) -> Response:
    """Check the body, keep one row, say its id. The limbs it is news for are assessed again."""
    values = {**owner, **column_names(table, checked_body())}
    values.pop("was", None)
    now = settings().now()
    check(clinic_db(), table, values, now)
    with write(clinic_db()) as db:
        row_id = rows.add(db, table, values, now)
        assessments.mark_stale(db, [row_id] if table == "limb" else news_for, now)
        audit.record(db, now, f"staff:{who().id}", f"{table}.add", row_id)
    return answer({"id": row_id}, 201)


def add_for_limb(table: str, limb_id: str, **owner: str) -> Response:
    return add(table, [limb_id], **{"limb_id": limb_id, **owner})


def change(table: str, row: Row, limb_ids: list[str]) -> Response:
    """Check the fields given, change them, keep the rest. A socket asks what stands against the change."""
    values = column_names(table, checked_body())
    was = column_names(table, values.pop("was", {}))
    why = despite.why_of(values)
    now, then = settings().now(), {**row, **values}
    check(clinic_db(), table, then, now)
    against: despite.Against = []
    reason = None
    if table == "socket":
        about = despite.about(row, values)
        against, reason = despite.ask(clinic_db(), row["limb_id"], then, why, now.date(), about)
    with write(clinic_db()) as db:
        meanwhile(_as_it_stands(table, row["id"]), values, was)
        rows.change(db, table, row["id"], values, now)
        despite.keep(db, row["id"], against, reason, who().id, now)
        assessments.mark_stale(db, limb_ids, now)
        audit.record(db, now, f"staff:{who().id}", f"{table}.change", row["id"], ",".join(sorted(values)))
    return answer({"id": row["id"]})


def _as_it_stands(table: str, row_id: str) -> Row:
    one = {"person": person.one, "limb": limb.one, "socket": socket.one}[table]
    return one(clinic_db(), row_id) or {}


def column_names(table: str, values: dict[str, Any]) -> dict[str, Any]:
    """Wire names to columns: `on` is the table's own date."""
    renamed = {"on": ON.get(table, "on")}
    return {renamed.get(name, name): int(value) if isinstance(value, bool) else value for name, value in values.items()}
