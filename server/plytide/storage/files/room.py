"""How much room is left, and for what: photos and files stop first, then what staff enter; check-ins stop last.

The marks are multiples of the least the server needs to be ready, so that a small disk has small marks. Judgement.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Literal

Need = Literal["none", "some", "much"]

LOW, MUCH, SOME = 20, 6, 2  # times the least: told, no photos and files, no staff's entries
NEARLY = 0.8  # of what one clinic may take


def free(data_dir: Path) -> int:
    return shutil.disk_usage(data_dir).free


def size(path: Path) -> int:
    """Bytes; none for a file that is not there, or no longer: the last reader of a database takes its log away."""
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def taken(clinic_file: Path) -> int:
    """Bytes of a clinic's file and its log."""
    return size(clinic_file) + size(clinic_file.with_name(clinic_file.name + "-wal"))


def enough(data_dir: Path, least: int, need: Need) -> bool:
    """Whether the disk has room for a call that needs so much."""
    return need == "none" or free(data_dir) >= least * (MUCH if need == "much" else SOME)


def of_disk(data_dir: Path, least: int) -> list[str]:
    """What is to be told of the disk, before anything stops and after; empty when all is well."""
    left = free(data_dir)
    if left >= least * LOW:
        return []
    stops = "Photos and files are still taken."
    if left < least * MUCH:
        stops = "Photos and files wait on the phones and are not taken until there is room."
    if left < least * SOME:
        stops = "Only check-ins are still taken."
    return [f"The server’s disk has {left // 1_000_000} MB left. {stops}"]


def of_clinic(clinic_file: Path, most: int) -> list[str]:
    """What is to be told of one clinic's share of the disk."""
    now = taken(clinic_file)
    if now < most * NEARLY:
        return []
    stops = "Photos and files are no longer taken." if now >= most else "From all of it on, photos and files are not."
    return [f"This clinic has taken {round(100 * now / most)} % of its room on the server. {stops}"]
