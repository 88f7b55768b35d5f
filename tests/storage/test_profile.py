"""What was known when: limits kept by any version are read as the engine reads today's."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from plytide.engine.thresholds import DEFAULTS, RANGES, Thresholds
from plytide.storage import profile
from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.sqlite import connect


@pytest.fixture
def db(tmp_path: Path) -> Iterator[Database]:
    db = connect(tmp_path / "clinic.db", create=True)
    clinic_migrations.apply(db)
    yield db
    db.close()


def test_the_limit_of_redness_is_the_engines() -> None:
    assert (profile.LEAST, profile.MOST) == RANGES["redness_minutes"]
    assert profile.REDNESS == DEFAULTS.redness_minutes


@pytest.mark.parametrize("kept", ["x", True, None, 900, -4, 15, 12.5, [], {}])
def test_a_limit_kept_by_another_version_is_read_as_today(db: Database, kept: object) -> None:
    limits = {"redness_minutes": kept}
    profile.keep_settings(db, {"thresholds": limits}, "2025-01-01T00:00:00+00:00")
    (past,) = profile.past(db, {"id": "p", "tags": [], "born_on": None}, {"thresholds": {}})
    assert past.redness_minutes == Thresholds.kept(limits).redness_minutes
