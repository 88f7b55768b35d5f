"""A phone is told up to when the clinic's backups have everything, so that it holds its photos until then."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from plytide.settings import Settings
from plytide.storage.files import backed_up, backup
from tests.actors import Cast, Wearer
from tests.http.test_photos import jpeg, put


def told(wearer: Wearer) -> str | None:
    said: str | None = wearer.phone.get("/api/me").get_json()["backed_up_at"]
    return said


def test_a_photo_counts_as_safe_when_two_backups_were_begun_after_it(
    cast: Cast, settings: Settings, tmp_path: Path
) -> None:
    cast.anouk.sync(cast.anouk.checkin(cast.clock.now.date(), id="c1"))
    kept_at = put(cast.anouk, jpeg()).get_json()["kept_at"]
    assert told(cast.anouk) is None
    cast.clock.forward(hours=1)
    backup.backup(settings.data_dir, tmp_path / "one", cast.clock.now)
    assert told(cast.anouk) is None  # it is often the last backup but one that is put back
    first = cast.clock.now
    cast.clock.forward(hours=1)
    backup.backup(settings.data_dir, tmp_path / "two", cast.clock.now)
    assert told(cast.anouk) == told(cast.esme) == first.isoformat() > kept_at
    cast.clock.forward(hours=1)
    late = put(cast.anouk, jpeg((320, 200)), "p2").get_json()["kept_at"]
    # The older one is put back: what came after it is in none, whatever was told before.
    backup.restore(tmp_path / "one", settings.data_dir, force=True, now=cast.clock.now)
    assert told(cast.anouk) == first.isoformat() < late
    assert [put(cast.anouk, jpeg(), "p1").status_code, put(cast.anouk, jpeg((320, 200)), "p2").status_code] == [
        200,
        201,
    ]


def test_a_list_that_can_not_be_read_promises_nothing_and_stops_nothing(
    cast: Cast, settings: Settings, tmp_path: Path
) -> None:
    for n in range(2):
        backup.backup(settings.data_dir, tmp_path / f"{n}", cast.clock.now + timedelta(hours=n))
    assert told(cast.anouk)
    for nonsense in ("", "[]", '{"clinics/x.db": 7}', "{"):
        (settings.data_dir / backed_up.LIST).write_text(nonsense)
        assert told(cast.anouk) is None
    for n in range(2, 4):
        backup.backup(settings.data_dir, tmp_path / f"{n}", cast.clock.now + timedelta(hours=n))
    assert told(cast.anouk)
