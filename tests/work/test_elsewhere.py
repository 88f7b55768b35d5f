"""Lines assessed by the workers of a real Dask scheduler: the same answers, in order, whoever dies on the way."""

from __future__ import annotations

import io
import json
import os
import signal
import socket
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from distributed import Client, LocalCluster

from plytide.work import assess_lines, elsewhere
from seed_demo.cohort import Knobs, cohort, contract_lines
from tests.actors import free_port


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """Two workers, each a process of its own."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
    ) as made:
        yield made


@pytest.fixture(scope="module")
def lines() -> list[bytes]:
    histories = [json.dumps(one).encode() for one in contract_lines(cohort(40, 5, Knobs(days=60)))]
    return [*histories[:13], b"{", *histories[13:], b'{"schema": 9}']


def assessed(lines: list[bytes], **how: Any) -> tuple[int, str]:
    out = io.StringIO()
    return assess_lines.run(lines, out, **how), out.getvalue()


def test_the_answers_are_those_of_one_process_in_the_same_order(
    cluster: LocalCluster, lines: list[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assess_lines, "BATCH", 3)
    here = assessed(lines, workers=1)
    assert here[0] == 1
    assert len(here[1].splitlines()) == len(lines)
    assert assessed(lines, scheduler=cluster.scheduler_address) == here


def test_a_worker_killed_on_the_way_loses_nothing(
    cluster: LocalCluster, lines: list[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assess_lines, "BATCH", 3)
    here = assessed(lines, workers=1)
    with Client(cluster.scheduler_address, set_as_default=False) as client:
        victim = next(iter(client.run(os.getpid).values()))

    class Killing(io.StringIO):
        """Kills a worker once the first answers are there."""

        def write(self, text: str) -> int:
            if not self.getvalue():
                os.kill(victim, signal.SIGKILL)
            return super().write(text)

    out = Killing()
    assert (assess_lines.run(lines, out, scheduler=cluster.scheduler_address), out.getvalue()) == here


def test_what_is_not_there_is_said_in_a_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "limbs.jsonl"
    file.write_bytes(b"{}\n")
    monkeypatch.setattr(elsewhere, "ANSWERS_WITHIN", 1)

    def why(address: str) -> str:
        with pytest.raises(elsewhere.NotThere) as told:
            assessed([b"{}"], scheduler=address)
        return str(told.value)

    assert "no scheduler answers at" in why(f"tcp://127.0.0.1:{free_port()}")
    assert "no scheduler answers at" in why("nothing such")
    with socket.create_server(("127.0.0.1", 0)) as silent:  # takes the call, and is no scheduler
        assert "no scheduler answers at" in why(f"tcp://127.0.0.1:{silent.getsockname()[1]}")
    with LocalCluster(n_workers=0, dashboard_address=":0", silence_logs=50) as empty:
        assert "has no workers yet" in why(empty.scheduler_address)
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert "install plytide[hosts]" in why("tcp://127.0.0.1:1")


def test_a_worker_without_plytide_is_named() -> None:
    class Future:
        def result(self) -> None:
            raise ModuleNotFoundError("No module named 'plytide'", name="plytide")

    with pytest.raises(elsewhere.NotThere, match="a worker lacks plytide"):
        elsewhere._answer(Future())
