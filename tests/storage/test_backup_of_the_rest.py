"""One clinic's lost file costs no other clinic its backup: the rest is copied, the lost one is named, and it is no
success.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from plytide.cli import main
from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage.files import backup
from plytide.storage.sqlite import connect
from tests.actors import PASSWORD, Actor, Cast
from tests.storage.test_lost import empty, file_of, fresh, gone, without


def torn(begin: float, end: float) -> Callable[[Path], None]:
    """Nonsense in the middle, or in pages that only a look at every page finds."""

    def tear(path: Path) -> None:
        db = connect(path)
        db.conn.execute("PRAGMA journal_mode=DELETE")
        db.close()
        data = bytearray(path.read_bytes())
        first, last = max(int(begin * len(data)), 8192), int(end * len(data))
        data[first:last] = b"\xff" * (last - first)
        path.write_bytes(bytes(data))

    return tear


@pytest.mark.parametrize("harm", [gone, empty, fresh, without("limb"), torn(0, 0.5), torn(0.9, 1)])
def test_the_others_are_backed_up_and_the_lost_one_is_named(
    cast: Cast, settings: Settings, tmp_path: Path, harm: Callable[[Path], None], capsys: pytest.CaptureFixture[str]
) -> None:
    kept = cast.anouk.checkin(cast.clock.now.date())
    cast.anouk.sync(kept)
    lost, target = file_of(settings, "teodor"), tmp_path / "copy"
    harm(lost)
    was = lost.read_bytes() if lost.exists() else None
    assert main(["backup", str(target), "--data", str(settings.data_dir)]) != 0
    said = "".join(capsys.readouterr())
    assert "2 databases copied" in said and f"Not copied: clinics/{lost.name}: " in said
    assert "Traceback" not in said
    assert json.loads((target / "manifest.json").read_text())["lost"] == [f"clinics/{lost.name}"]
    backup.verify(target)
    # It is put back like any other, and leaves what it does not know as it lies.
    backup.restore(target, settings.data_dir, force=True)
    assert (lost.read_bytes() if lost.exists() else None) == was
    app = create_app(settings)
    signed = Actor(app).call("POST", "/api/clinic/session", {"login": "ida", "password": PASSWORD})
    assert signed.status_code in (200, 201)
    assert cast.anouk.sync(kept).get_json()["receipts"][0]["status"] == "already"
