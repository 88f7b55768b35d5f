"""A clinic whose file is lost, empty, another's or without a table is unavailable: said to everybody, replaced by
nothing.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from plytide.cli import main
from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage.files.backup import check
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import connect
from plytide.work import background
from tests.actors import PASSWORD, Cast


def file_of(settings: Settings, login: str) -> Path:
    registry = Registry(settings.data_dir)
    try:
        whose = registry.whose_login(login)
        assert whose is not None
        return settings.data_dir / "clinics" / str(registry.clinic_file(whose[0]))
    finally:
        registry.close()


def gone(path: Path) -> None:
    for part in path.parent.glob(path.name + "*"):
        part.unlink()


def empty(path: Path) -> None:
    gone(path)
    path.touch()


def fresh(path: Path) -> None:
    """A database, and none of ours."""
    gone(path)
    db = connect(path, create=True)
    db.conn.execute("CREATE TABLE something (a)")
    db.close()


def without(table: str) -> Callable[[Path], None]:
    def drop(path: Path) -> None:
        db = connect(path)
        db.conn.execute("PRAGMA foreign_keys=OFF")
        db.conn.execute(f"DROP TABLE {table}")
        db.close()

    return drop


def no_row(path: Path) -> None:
    db = connect(path)
    db.conn.execute("DELETE FROM clinic")
    db.close()


def garbage(path: Path) -> None:
    gone(path)
    path.write_bytes(b"not a database at all" * 500)


def cut(path: Path) -> None:
    """As a full disk or a broken copy leaves it."""
    db = connect(path)
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.conn.execute("PRAGMA journal_mode=DELETE")
    db.close()
    path.write_bytes(path.read_bytes()[:9000])


def anothers(path: Path) -> None:
    gone(path)
    other = next(one for one in path.parent.glob("*.db") if one != path)
    shutil.copyfile(other, path)


LOSSES = [
    gone,
    empty,
    fresh,
    no_row,
    garbage,
    cut,
    anothers,
    *map(without, ("clinic", "staff", "checkin", "mail", "audit")),
]
NAMES = [getattr(one, "__name__", "?") for one in LOSSES[:7]] + ["clinic", "staff", "checkin", "mail", "audit"]


@pytest.fixture(params=LOSSES, ids=NAMES)
def lost(request: pytest.FixtureRequest, settings: Settings) -> Path:
    """Of two clinics, that of Ida lost its file while no server ran."""
    path = file_of(settings, "ida")
    request.param(path)
    return path


def listing(folder: Path) -> dict[str, int]:
    return {path.name: path.stat().st_size for path in folder.iterdir() if path.suffix == ".db"}


def test_a_clinic_whose_file_is_lost_is_unavailable_and_nothing_is_made_in_its_place(
    lost: Path, cast: Cast, settings: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    """`cast` starts the app on what is left."""
    before = listing(lost.parent)
    for actor, path in ((cast.ida, "/api/clinic/worklist"), (cast.anouk.phone, "/api/me")):
        answer = actor.get(path)
        assert (answer.status_code, answer.get_json()["error"]["code"]) == (503, "clinic-unavailable"), path
        assert answer.headers["Retry-After"]
    assert cast.anouk.sync(cast.anouk.checkin(cast.clock().date())).status_code == 503
    entering = cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD})
    assert entering.status_code == 503 and "plytide check" in entering.get_json()["error"]["message"]
    # The other clinic works on, and gets its rounds.
    assert cast.teodor.get("/api/clinic/worklist").status_code == 200
    assert cast.esme.sync(cast.esme.checkin(cast.clock().date())).get_json()["receipts"][0]["status"] == "kept"
    assert background.sweep(settings) > 0
    ready = cast.nobody.get("/readyz")
    assert ready.status_code == 503 and f"…{lost.stem[-6:]}" in ready.get_json()["error"]["message"]
    assert "plytide_clinics_unavailable 1.0" in cast.nobody.get("/metrics").get_data(as_text=True)
    assert main(["check", "--data", str(settings.data_dir)]) == 1
    assert lost.name in capsys.readouterr().out
    assert listing(lost.parent) == before


def test_a_file_lost_while_the_server_runs_is_noticed(cast: Cast, settings: Settings) -> None:
    assert cast.ida.get("/api/clinic/worklist").status_code == 200
    path = file_of(settings, "ida")
    content = path.read_bytes()
    path.unlink()
    for actor, at in ((cast.ida, "/api/clinic/worklist"), (cast.anouk.phone, "/api/me")):
        assert actor.get(at).status_code == 503
    assert not path.exists()
    assert content


REGISTRY_LOSSES = {
    "gone": gone,
    "empty": empty,
    "fresh": fresh,
    "cut": lambda path: path.write_bytes(path.read_bytes()[:5000]),
}


@pytest.mark.parametrize("how", REGISTRY_LOSSES)
def test_a_lost_registry_is_said_and_never_replaced_by_an_empty_one(
    settings: Settings, how: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PLYTIDE_PASSWORD", PASSWORD)
    registry = settings.data_dir / "registry.db"
    db = connect(registry)
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.conn.execute("PRAGMA journal_mode=DELETE")
    db.close()
    REGISTRY_LOSSES[how](registry)
    here = ["--data", str(settings.data_dir)]
    there = registry.read_bytes() if registry.exists() else None
    for command in (["serve"], ["init", "--clinic", "New", "--login", "new"], ["backup", str(settings.data_dir / "b")]):
        assert main([command[0], *here, *command[1:]]) == 2
        said = capsys.readouterr().err
        assert "plytide init" not in said and "plytide rebuild" in said and "restore" in said
        assert all(path.name in said for path in (settings.data_dir / "clinics").glob("*.db"))
    assert main(["check", *here]) == 1
    assert "registry.db" in capsys.readouterr().out
    with pytest.raises(Exception, match="rebuild"):
        create_app(settings)
    assert (registry.read_bytes() if registry.exists() else None) == there


def test_a_registry_is_made_anew_from_the_clinics_files(
    settings: Settings, capsys: pytest.CaptureFixture[str], clock: Any
) -> None:
    here = ["--data", str(settings.data_dir)]
    assert main(["rebuild", *here]) == 2  # it is there
    gone(settings.data_dir / "registry.db")
    empty(settings.data_dir / "clinics" / "stray.db")
    assert main(["rebuild", *here]) == 0
    said = capsys.readouterr().out
    assert "Marram Yard Clinic" in said and "stray.db: left out" in said
    app = create_app(replace(settings, now=clock))
    for login in ("ida", "nora", "teodor"):
        answer = app.test_client().post("/api/clinic/session", json={"login": login, "password": PASSWORD})
        assert answer.status_code == 200, login
    assert check(settings.data_dir) == ["clinics/stray.db: the registry does not know it"]
