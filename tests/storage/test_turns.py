"""Writers of a file queue: one at a time, over threads and processes, and nobody waits for ever."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path

from plytide.storage.turns import turn

# Reads, goes away for an instant, and writes back one more: what two do at once loses one of the two.
COUNT = """
import sys, threading, time
from pathlib import Path
from plytide.storage.turns import turn
file, tally = Path(sys.argv[1]), Path(sys.argv[2])
def count():
    for _ in range(40):
        with turn(file, 60):
            seen = int(tally.read_text())
            time.sleep(0.0005)
            tally.write_text(str(seen + 1))
threads = [threading.Thread(target=count) for _ in range(3)]
for thread in threads: thread.start()
for thread in threads: thread.join()
"""


def test_writers_of_two_processes_and_six_threads_take_turns(tmp_path: Path) -> None:
    tally = tmp_path / "tally"
    tally.write_text("0")
    command = [sys.executable, "-c", COUNT, str(tmp_path / "clinic.db"), str(tally)]
    both = [subprocess.Popen(command) for _ in range(2)]
    assert [one.wait(timeout=120) for one in both] == [0, 0]
    assert tally.read_text() == "240"


def test_who_never_gets_a_turn_goes_on_to_sqlites_own_wait(tmp_path: Path) -> None:
    file, inside, leave, came = tmp_path / "clinic.db", threading.Event(), threading.Event(), threading.Event()

    def hold() -> None:
        with turn(file, 60):
            inside.set()
            leave.wait(60)

    def come() -> None:
        with turn(file, 0.05):
            came.set()

    holder, other = threading.Thread(target=hold), threading.Thread(target=come)
    holder.start()
    assert inside.wait(60)
    other.start()
    assert came.wait(60)
    other.join()
    leave.set()
    holder.join()
    with turn(file, 60):  # the queue is as it was
        pass


def test_a_folder_that_can_not_be_written_is_no_reason_to_stop_here(tmp_path: Path) -> None:
    with turn(tmp_path / "gone" / "clinic.db", 1):
        pass
