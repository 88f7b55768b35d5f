"""The clinic writes what a wearer reads on the phone, and takes it back."""

from __future__ import annotations

from flask import Response, request

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.entry import meanwhile
from plytide.http.limb import seen_limb
from plytide.http.route import TEXT, Routes, checked_body
from plytide.storage.sqlite import write
from plytide.wire.pocket import PocketSchema
from plytide.work import pocket

route = Routes("pocket", "/api/clinic")


@route("PATCH", "/limbs/<limb_id>/pocket", STAFF, body=PocketSchema)
def change(limb_id: str) -> Response:
    """Write the plan for the phone: what is given takes its place, the rest stays. Each version is kept.

    A 409 where any part in `was` stands otherwise by now, also one that is not given: the plan is read as a whole.
    """
    seen_limb(limb_id)
    given = checked_body()
    was = {name: value for name, value in given.pop("was", {}).items() if name in pocket.NOTHING}
    with write(clinic_db()) as db:
        meanwhile(pocket.current(db, limb_id), {**was, **given}, was)
        version = pocket.write(db, limb_id, given, who().id, settings().now())
    return answer({"id": version})


@route("DELETE", "/limbs/<limb_id>/pocket", STAFF, query={"was": TEXT})
def take_back(limb_id: str) -> Response:
    """No plan stands from now on: phones show none once they hear of it. With the version that was read in `was`, a
    409 where a colleague wrote another since.
    """
    seen_limb(limb_id)
    with write(clinic_db()) as db:
        if pocket.rewritten(db, limb_id, request.args.get("was")):
            raise Denied(409, "changed-meanwhile", "A colleague changed the plan meanwhile. Look at it again.")
        pocket.take_back(db, limb_id, who().id, settings().now())
    return answer({"limb_id": limb_id, "taken_back": True})
