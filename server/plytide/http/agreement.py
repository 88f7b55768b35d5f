"""The safety rules as the clinic's physician reads them, and who agreed to them. Not agreed never hides a rule."""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import DECIDERS, STAFF
from plytide.auth.session import who
from plytide.engine import rules
from plytide.http.body import answer
from plytide.http.entry import refuse
from plytide.http.route import Routes, checked_body
from plytide.storage import agreement as agreements
from plytide.storage import audit, staff
from plytide.storage.sqlite import write
from plytide.wire.agreement import AgreementSchema

route = Routes("agreement", "/api/clinic")


def agreement_to_json() -> dict[str, Any]:
    db, now = clinic_db(), rules.kept()
    before, names = agreements.newest_rules(db), staff.names(db)
    return {
        "state": rules.standing(agreements.newest_mark(db)),
        "version": now["version"],
        "sha256": rules.current_mark(),
        "reviewed_on": now["reviewed_on"],
        "danger_signs": now["danger_signs"],
        "rules": [rules.to_json(rule) for rule in now["rules"]],
        "changed": rules.changed(before) if before else [],
        "agreements": [one | {"by": names.get(one["by_staff"], one["by_staff"])} for one in agreements.all_of(db)],
    }


@route("GET", "/safety-rules", STAFF)
def rules_() -> Response:
    """Every rule with its words, its source and its status; who agreed, when, and what has changed since."""
    return answer(agreement_to_json())


@route("POST", "/safety-rules/agreements", DECIDERS, body=AgreementSchema, done=201)
def agree() -> Response:
    """Record that the clinic's physician agreed to the rules as the page showed them."""
    given = checked_body()
    now = settings().now()
    with write(clinic_db()) as db:
        if given["sha256"] != rules.current_mark():
            raise refuse("sha256", "The rules have changed since this page was opened. Read them again.")
        agreements.add(db, given["physician"].strip(), rules.kept(), given["sha256"], who().id, now)
        audit.record(db, now, f"staff:{who().id}", "rules.agree", "clinic", given["sha256"][:12])
    return answer(agreement_to_json(), 201)
