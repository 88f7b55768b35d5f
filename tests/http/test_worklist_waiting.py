"""The worklist answers at once, however much news waits: a few limbs' news is read in the call, the rest behind it, and
the list says how many it does not know of yet.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from plytide.http.app import create_app
from plytide.http.worklist import AT_ONCE
from plytide.settings import Settings
from plytide.storage.sqlite import write
from plytide.work import background
from tests.actors import Cast
from tests.http.test_agreement import db_of


def test_much_news_is_read_behind_the_list_and_the_list_says_so(cast: Cast, settings: Settings, today: date) -> None:
    served = replace(settings, sweep_seconds=2)  # as `plytide serve`; nobody sweeps here but this test
    ida = replace(cast.ida, app=create_app(served))
    limbs = [
        ida.made(f"/api/clinic/people/{cast.anouk.id}/limbs", {"side": "left", "level": "transtibial"})["id"]
        for _ in range(AT_ONCE + 6)
    ]
    db = db_of(cast)
    with write(db):
        db.conn.execute("DELETE FROM stale")
        since = (settings.now() - timedelta(minutes=1)).isoformat()
        db.conn.executemany("INSERT INTO stale VALUES (?, ?)", [(limb_id, since) for limb_id in limbs])
    first = ida.get("/api/clinic/worklist").get_json()
    assert first["waiting"] == 6
    assert first["as_of"] == today.isoformat()
    background.sweep(served)
    assert ida.get("/api/clinic/worklist").get_json()["waiting"] == 0


def test_little_news_is_read_in_the_call_as_ever(cast: Cast, settings: Settings, today: date) -> None:
    ida = replace(cast.ida, app=create_app(replace(settings, sweep_seconds=2)))
    assert ida.get("/api/clinic/worklist").get_json()["waiting"] in (0, 1)
    background.sweep(settings)
    cast.anouk.sync(cast.anouk.checkin(today, skin=[{"place": "end", "finding": "open_skin"}], skin_checked=True))
    told = ida.get("/api/clinic/worklist").get_json()
    row = next(one for one in told["limbs"] if one["limb_id"] == cast.anouk.limb_id)
    assert told["waiting"] == 0 and any(signal["kind"] == "skin" for signal in row["signals"])
