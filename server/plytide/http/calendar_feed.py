"""The clinic's visits for a calendar elsewhere, at a secret address that can be revoked."""

from __future__ import annotations

from datetime import timedelta

from flask import Response, request

from plytide.auth.call import clinic_db, open_clinic, registry, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import ANYBODY, DECIDERS, STAFF
from plytide.auth.session import who
from plytide.export.calendar import feed
from plytide.http.body import answer
from plytide.http.route import Routes, checked_body
from plytide.storage import audit, calendar_feed, clinics, staff
from plytide.storage import visit as visits
from plytide.storage.ids import new_secret
from plytide.storage.sqlite import write
from plytide.wire.calendar_feed import CalendarFeedSchema

route = Routes("calendar_feed", "/api")

BACK, AHEAD = 31, 366  # days; judgement: what a diary is looked into for
ICALENDAR = "text/calendar"


@route("GET", "/clinic/calendar-feeds", STAFF)
def list_feeds() -> Response:
    """The addresses that were made, by whom, and when each was read last. The secrets are shown once, when made."""
    names, live = staff.names(clinic_db()), registry().calendar_feeds(who().session.clinic_id)
    return answer(
        {
            "feeds": [
                row | {"by": names.get(row["by_staff"], row["by_staff"]), "opens": row["id"] in live}
                for row in calendar_feed.every(clinic_db())
            ]
        }
    )


@route("POST", "/clinic/calendar-feeds", DECIDERS, body=CalendarFeedSchema, done=201)
def add_feed() -> Response:
    """A new address. Whoever has it reads the visits; it is said this once."""
    given, now, secret = checked_body(), settings().now(), new_secret()
    with write(clinic_db()) as db:
        feed_id = calendar_feed.add(db, given["label"], given["shows"], who().id, now)
        audit.record(db, now, f"staff:{who().id}", "calendar-feed.add", f"feed:{feed_id}", given["shows"])
    registry().add_calendar_feed(secret, who().session.clinic_id, feed_id)
    base = settings().public_url or request.host_url.rstrip("/")
    return answer({"id": feed_id, "url": f"{base}/api/calendar/{secret}.ics"}, 201)


@route("DELETE", "/clinic/calendar-feeds/<feed_id>", DECIDERS)
def revoke_feed(feed_id: str) -> Response:
    """The address stops working at once."""
    now = settings().now()
    with write(clinic_db()) as db:
        if not calendar_feed.revoke(db, feed_id, who().id, now):
            raise not_found()
        audit.record(db, now, f"staff:{who().id}", "calendar-feed.revoke", f"feed:{feed_id}")
    registry().drop_calendar_feed(who().session.clinic_id, feed_id)
    return answer({"id": feed_id, "revoked": True})


@route("GET", "/calendar/<secret>.ics", ANYBODY, gives=ICALENDAR)
def read_feed(secret: str) -> Response:
    """The visits as iCalendar, to whoever knows the address."""
    whose = registry().whose_calendar_feed(secret)
    if whose is None:
        raise not_found()
    db, now = open_clinic(whose[0]), settings().now()
    about = calendar_feed.one(db, whose[1])
    if about is None or about["revoked_at"]:
        raise not_found()
    first, last = (now - timedelta(days=BACK)).date(), (now + timedelta(days=AHEAD)).date()
    rows = visits.between(db, first.isoformat(), last.isoformat())
    with write(db):
        calendar_feed.seen(db, whose[1], now)
        audit.record(db, now, f"feed:{whose[1]}", "calendar.read", f"{len(rows)} visits")
    clinic = clinics.clinic_row(db)
    zone = clinic["settings"].get("zone")
    text = feed(rows, calendar=f"{clinic['name']}: visits", shows=about["shows"], zone=zone)
    return Response(text, mimetype=ICALENDAR, headers={"Cache-Control": "no-store"})
