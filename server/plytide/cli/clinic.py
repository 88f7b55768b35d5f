"""A clinic: one made up, one served, one begun."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from plytide.cli.options import FOLDER, Wrong, data_option, password
from plytide.settings import from_environment, utc_now


@click.command()
@click.option("--port", type=int, default=8700, show_default=True, help="0 takes a free port")
@click.option("--data", type=FOLDER, help="keep the demo in this folder (default: a temporary one)")
@click.option("--people", type=click.IntRange(1, 5000), default=30, show_default=True)
@click.option("--days", type=click.IntRange(1, 1000), default=120, show_default=True)
@click.option("--seed", type=int, default=1, show_default=True)
@click.option("--json", "as_json", is_flag=True, help="say where to go as one line of JSON")
def demo(port: int, data: Path | None, people: int, days: int, seed: int, as_json: bool) -> int:
    """Make a demo clinic and serve it."""
    from plytide.http.server import serve as run

    folder = data or Path(tempfile.mkdtemp(prefix="plytide-demo-"))
    # -P: a file that lies in the folder one happens to stand in is none of the demo's.
    seeding = [sys.executable, "-P", "-m", "seed_demo"]
    # In a process of its own: no open database may be carried over the server's fork.
    if subprocess.run([*seeding, "fill", str(folder), str(people), str(days), str(seed)]).returncode:
        raise Wrong("the demo clinic could not be filled.")

    def ready(url: str) -> None:
        subprocess.Popen([*seeding, "say", url, str(folder), *(["--json"] if as_json else [])])

    try:
        run(from_environment(folder), "127.0.0.1", port, 2, ready)
    finally:
        if data is None:
            shutil.rmtree(folder, ignore_errors=True)
    return 0


@click.command()
@data_option
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", type=int, default=8700, show_default=True)
@click.option("--workers", type=int, default=2, show_default=True)
def serve(data: Path, host: str, port: int, workers: int) -> int:
    """The real server."""
    with shared_counters():
        return _serve(data, host, port, workers)


def _serve(data: Path, host: str, port: int, workers: int) -> int:
    from plytide.http.server import serve as run
    from plytide.storage.registry.lost import refuse_lost
    from plytide.storage.registry.registry import registry_path

    refuse_lost(data)
    if not registry_path(data).exists():
        raise Wrong(f"{data} holds no clinic yet. Make one with: plytide init --data {data} ...")
    run(from_environment(data), host, port, workers, ready=lambda url: print(url, flush=True))
    return 0


@contextmanager
def shared_counters() -> Iterator[None]:
    """Where the workers of one server add up their figures. Named before the figures' library is loaded."""
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        yield
        return
    with tempfile.TemporaryDirectory(prefix="plytide-figures-", ignore_cleanup_errors=True) as folder:
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = folder
        try:
            yield
        finally:  # whatever this process starts next must not write into a folder that is gone
            os.environ.pop("PROMETHEUS_MULTIPROC_DIR", None)


@click.command()
@data_option
@click.option("--clinic", required=True, help="the clinic's name")
@click.option("--login", required=True, help="the sign-in name of its first member of staff")
@click.option("--name", help="that person's name (default: the sign-in name)")
@click.option("--phone", help="the number wearers call")
@click.option("--emergency-number", default="112", show_default=True)
def init(data: Path, clinic: str, login: str, name: str | None, phone: str | None, emergency_number: str) -> int:
    """A new clinic with its first member of staff."""
    from plytide.auth.passwords import Refused
    from plytide.storage.registry.lost import refuse_lost
    from plytide.storage.registry.registry import LoginTaken
    from plytide.work.setup import NotANumber, found_clinic

    refuse_lost(data)  # before a password is asked for
    chosen = password()
    words = {"phone": phone, "emergency_number": emergency_number}
    try:
        found_clinic(data, clinic, login, name or login, chosen, words, utc_now())
    except Refused as refused:
        raise Wrong(str(refused)) from refused
    except LoginTaken:
        raise Wrong(f"the sign-in name {login} is taken. Choose another.") from None
    except NotANumber as wrong:
        setting, why = wrong.args
        raise Wrong(f"--{setting.replace('_', '-')}: {why}") from None
    print(f"{clinic} is ready. Start it with: plytide serve --data {data}")
    return 0
