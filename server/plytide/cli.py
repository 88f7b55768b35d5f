"""The `plytide` command. Each command stands with its options; what a command needs is loaded when it runs."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from datetime import date
from pathlib import Path
from typing import Any

import click

from plytide.settings import from_environment, utc_now

FOLDER = click.Path(path_type=Path, file_okay=False)
FILE = click.Path(path_type=Path)


class Wrong(click.ClickException):
    """What the operator can mend: said in a line, without a trace."""

    exit_code = 2

    def show(self, file: Any = None) -> None:
        click.echo(f"plytide: {self.message}", err=True)


class Day(click.ParamType[date]):
    """A calendar date of a plausible year, as 2026-05-31."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        if isinstance(value, date):
            return value
        try:
            day = date.fromisoformat(value)
            if not 1900 <= day.year < 2200:
                raise ValueError
        except ValueError:
            self.fail(f"{value!r} is not a date such as 2026-05-31", param, ctx)
        return day


def _whole(_ctx: click.Context, _param: click.Parameter, folder: Path) -> Path:
    """No command works on a folder that has some files of one state and some of another."""
    from plytide.storage.files.backup import refuse_half_restored

    refuse_half_restored(folder)
    return folder


data_option = click.option("--data", type=FOLDER, required=True, help="the data folder", callback=_whole)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
def plytide() -> None:
    """From sock counts to a prosthetist's worklist."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code. Never ends the process itself."""
    before = os.umask(0o077)  # what any command writes, copies and logs of databases too, is its owner's alone
    try:
        return plytide.main(list(argv) if argv is not None else None, "plytide", standalone_mode=False) or 0
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort:
        return 1
    except Exception as error:
        if not is_for_the_operator(error):
            raise
        Wrong(str(error)).show()
        return Wrong.exit_code
    finally:
        os.umask(before)


def is_for_the_operator(error: Exception) -> bool:
    """Whether its words say what was wrong and what to do: then nobody needs a trace."""
    from plytide.storage.clinics import Unavailable
    from plytide.storage.files.backup import BackupFault
    from plytide.storage.files.encryption import ConversionFault
    from plytide.storage.files.keys import KeyFault
    from plytide.storage.files.lock import InUse
    from plytide.storage.registry.lost import RegistryLost
    from plytide.storage.registry.rebuild import StillThere
    from plytide.storage.sqlite import NoRoom, Unreadable

    told = (
        ConversionFault | BackupFault | InUse | KeyFault | NoRoom | Unavailable | RegistryLost | StillThere | Unreadable
    )
    return isinstance(error, told)


def password() -> str:
    """From PLYTIDE_PASSWORD or the prompt."""
    from plytide.work.setup import SHORTEST_PASSWORD

    asked = f"Password (at least {SHORTEST_PASSWORD} characters)"
    chosen: str = os.environ.get("PLYTIDE_PASSWORD") or click.prompt(asked, hide_input=True, err=True)
    if len(chosen) < SHORTEST_PASSWORD:
        raise Wrong(f"the password must have at least {SHORTEST_PASSWORD} characters.")
    return chosen


# A clinic


@plytide.command()
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


@plytide.command()
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


@plytide.command()
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


# Staff


@plytide.command()
@data_option
@click.option("--clinic-of", required=True, metavar="LOGIN", help="somebody who is there already")
@click.option("--login", required=True)
@click.option("--name")
@click.option("--role", type=click.Choice(["prosthetist", "assistant", "manager"]), default="prosthetist")
def staff(data: Path, clinic_of: str, login: str, name: str | None, role: str) -> int:
    """Add a member of staff to a clinic."""
    from plytide.auth.passwords import Refused
    from plytide.storage.registry.registry import LoginTaken
    from plytide.work.setup import Newcomer, NoSuchLogin, add_member

    chosen = password()
    try:
        add_member(data, clinic_of, Newcomer(login, name or login, role, chosen), utc_now())
    except Refused as refused:
        raise Wrong(str(refused)) from refused
    except LoginTaken:
        raise Wrong(f"the sign-in name {login} is taken. Choose another.") from None
    except NoSuchLogin:
        raise Wrong(f"nobody signs in as {clinic_of}.") from None
    print(f"{login} can sign in as {role}.")
    return 0


@plytide.command("password")
@data_option
@click.option("--login", required=True)
def password_link(data: Path, login: str) -> int:
    """A one-time link to choose a new password, for whoever forgot it."""
    from plytide.work.setup import NoSuchLogin, password_code

    try:
        secret = password_code(data, login, utc_now())
    except NoSuchLogin:
        raise Wrong(f"nobody signs in as {login}.") from None
    address = (os.environ.get("PLYTIDE_PUBLIC_URL") or "http://ADDRESS").rstrip("/")
    print(f"{address}/clinic/#/new-password?code={secret}")
    print("It works once, for 30 minutes. The second factor stays: see plytide unlock.")
    return 0


@plytide.command()
@data_option
@click.option("--login", required=True)
def unlock(data: Path, login: str) -> int:
    """Take away the second factors of somebody who lost them all."""
    from plytide.work.setup import NoSuchLogin
    from plytide.work.setup import unlock as run

    try:
        run(data, login, utc_now())
    except NoSuchLogin:
        raise Wrong(f"nobody signs in as {login}.") from None
    print(f"{login} signs in with the password alone until a second factor is set up again.")
    return 0


# The engine


@plytide.command()
@click.argument("file", default="-")
@click.option("--as-of", type=Day(), metavar="DATE")
@click.option("--scheduler", metavar="ADDRESS", help="a Dask scheduler, such as tcp://host:8786; without it, processes")
def assess(file: str, as_of: date | None, scheduler: str | None) -> int:
    """Limb histories in, assessments out, one JSON object a line."""
    from plytide.work.assess_lines import run
    from plytide.work.elsewhere import NotThere

    if file != "-" and not Path(file).is_file():
        raise Wrong(f"there is no file {file}.")
    # Bytes: a line that is not UTF-8 is one bad line, not the end of the file.
    with nullcontext(sys.stdin.buffer) if file == "-" else open(file, "rb") as lines:
        try:
            return run(lines, sys.stdout, as_of, scheduler=scheduler)
        except NotThere as why:
            raise Wrong(str(why)) from None


@plytide.command()
@click.option("--limbs", type=int, default=500, show_default=True)
@click.option("--days", type=int, default=120, show_default=True)
@click.option("--seeds", type=int, default=3, show_default=True)
@click.option("--quick", is_flag=True, help="without the moved-parameter tables")
def evaluate(limbs: int, days: int, seeds: int, quick: bool) -> int:
    """Score the engine on simulated limbs with known truth."""
    from seed_demo.evaluate import run

    status: int = run(limbs=limbs, days=days, seeds=seeds, quick=quick)
    return status


# Copies and keys


@plytide.command()
@click.argument("target", type=FILE)
@data_option
@click.option("--key-file", type=FILE, help="seal the copy with this key (made if the file is not there)")
def backup(target: Path, data: Path, key_file: Path | None) -> int:
    """A consistent copy while the server runs."""
    from plytide.storage.files.backup import backup as run
    from plytide.storage.files.keys import new_key, read_key

    if key_file and not key_file.exists():
        new_key(key_file)
        print(f"A new key is in {key_file}. Keep it apart from the backups: without it they can't be opened.")
    count = run(data, target, utc_now(), read_key(key_file) if key_file else None)
    print(f"{count} databases copied to {target}.")
    return 0


@plytide.command()
@click.argument("target", type=FILE)
@click.option("--data", type=FOLDER, required=True, help="the data folder")
@click.option("--key-file", type=FILE, help="the key it was sealed with")
@click.option("--force", is_flag=True, help="replace data that is there")
def restore(target: Path, data: Path, key_file: Path | None, force: bool) -> int:
    """Put a backup back, after checking it."""
    from plytide.storage.files.backup import restore as run
    from plytide.storage.files.keys import read_key

    count = run(target, data, force=force, key=read_key(key_file) if key_file else None)
    print(f"{count} databases restored to {data}. Phones will offer again what they hold.")
    print("Staff must sign in again. A phone shut out since this backup was made is let in again: shut it out anew.")
    return 0


@plytide.command()
@click.argument("file", type=FILE)
def key(file: Path) -> int:
    """Write a new key to a file."""
    from plytide.storage.files.keys import new_key

    new_key(file)
    print(f"A new key is in {file}. Keep a copy in another place: what it locks opens with nothing else.")
    return 0


def the_database_key(data: Path) -> bytes:
    """The key that PLYTIDE_DATABASE_KEY_FILE names. Raises KeyFault without one, or when it lies beside its data."""
    from plytide.storage.files.keys import KeyFault
    from plytide.storage.sqlite import KEY_FILE, database_key

    found = database_key()
    if KEY_FILE is None or found is None:
        raise KeyFault(
            "PLYTIDE_DATABASE_KEY_FILE names no key. Make one with: plytide key FILE, and set the variable to FILE."
        )
    refuse_beside(KEY_FILE, data)
    return found


def refuse_beside(key_file: Path, data: Path) -> None:
    from plytide.storage.files.keys import KeyFault

    if key_file.resolve().is_relative_to(data.resolve()):
        raise KeyFault(f"{key_file} lies in the data folder: whoever takes the one has the other. Move it elsewhere.")


REMAINS = (
    "The former files were deleted, not overwritten: on the disk their bytes remain until the disk uses them again."
)


@plytide.command()
@data_option
def encrypt(data: Path) -> int:
    """Bring a data folder under the key in PLYTIDE_DATABASE_KEY_FILE."""
    from plytide.storage.files.encryption import convert

    changed = convert(data, None, the_database_key(data))
    print(f"{changed} databases encrypted, each compared row for row. {REMAINS}")
    return 0


@plytide.command()
@data_option
def decrypt(data: Path) -> int:
    """Make an encrypted data folder plain again."""
    from plytide.storage.files.encryption import convert

    changed = convert(data, the_database_key(data), None)
    print(f"{changed} databases are plain, each compared row for row. Now unset PLYTIDE_DATABASE_KEY_FILE.")
    return 0


@plytide.command()
@data_option
@click.option("--new-key-file", type=FILE, required=True)
def rekey(data: Path, new_key_file: Path) -> int:
    """Bring an encrypted data folder under another key."""
    from plytide.storage.files.encryption import convert
    from plytide.storage.files.keys import KeyFault, is_private, read_key

    refuse_beside(new_key_file, data)
    new = read_key(new_key_file)
    if not is_private(new_key_file):
        raise KeyFault(f"{new_key_file} can be read by others than its owner: chmod 600 {new_key_file}.")
    changed = convert(data, the_database_key(data), new)
    print(f"{changed} databases have the new key. Now set PLYTIDE_DATABASE_KEY_FILE to {new_key_file}.")
    print("Keep the former key as long as backups that were made under it.")
    return 0


@plytide.command()
@data_option
def rebuild(data: Path) -> int:
    """Make a lost registry anew from the clinics' files."""
    from plytide.storage.registry.rebuild import rebuild as run

    for line in run(data, utc_now()):
        print(line)
    print("Staff sign in with their passwords and set up a second factor again; each phone needs a new code.")
    print("Where there is a backup of the registry, plytide restore brings back more.")
    return 0


@plytide.command()
@data_option
def check(data: Path) -> int:
    """Integrity of databases and audit chain."""
    from plytide.storage.files.backup import check as run

    faults = run(data)
    for fault in faults:
        print(fault)
    if not faults:
        print("All databases and audit chains are whole.")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
