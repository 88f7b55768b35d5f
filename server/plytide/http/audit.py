"""That staff read something is kept in the audit chain."""

from __future__ import annotations

from plytide.auth.call import clinic_db, settings
from plytide.auth.session import who
from plytide.storage import audit
from plytide.storage.sqlite import write


def record_read(what: str, subject: str) -> None:
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", what, subject)
