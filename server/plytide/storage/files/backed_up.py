"""When each file was last copied by a backup: a small list beside the data, so that phones know what they may let go.

Two times are kept for each file: it is often the last backup but one that is put back.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from plytide.storage.files.lock import on_disk

LIST = "backed-up.json"
TIMES = 2


def _known(data_dir: Path) -> dict[str, list[str]]:
    try:
        known = json.loads((data_dir / LIST).read_text())
    except (OSError, ValueError):
        return {}  # then nothing is known to be in a backup, and phones hold on
    return known if isinstance(known, dict) else {}


def note(data_dir: Path, files: Iterable[str], made_at: datetime) -> None:
    """These files, named as in the backup, are in one that was begun at `made_at`. Raises OSError on a full disk."""
    known = _known(data_dir)
    for file in files:
        known[file] = [*known.get(file, []), made_at.isoformat()][-TIMES:]
    _write(data_dir, known)


def begin_anew(data_dir: Path, files: Iterable[str], made_at: str) -> None:
    """After a restore: what came later than this backup is in none that counts."""
    _write(data_dir, {file: [made_at] * TIMES for file in files})


def _write(data_dir: Path, known: dict[str, list[str]]) -> None:
    beside = data_dir / f"{LIST}.new"
    beside.write_text(json.dumps(known, indent=1, sort_keys=True) + "\n")
    on_disk(beside)
    beside.replace(data_dir / LIST)


def until(data_dir: Path, clinic_file: str | None) -> str | None:
    """Up to when all that a clinic took in lies in two backups; None when there are no two."""
    times = _known(data_dir).get(f"clinics/{clinic_file}", [])
    return times[0] if len(times) >= TIMES and all(isinstance(at, str) for at in times) else None
