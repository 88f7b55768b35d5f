"""The `plytide` command."""

from __future__ import annotations

import argparse
import getpass
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from datetime import date
from pathlib import Path

from plytide.settings import from_environment, utc_now

SHORTEST_PASSWORD = 12


def fail(message: str) -> int:
    print(f"plytide: {message}", file=sys.stderr)
    return 2


def a_date(text: str) -> date:
    try:
        day = date.fromisoformat(text)
        if not 1900 <= day.year < 2200:
            raise ValueError
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date such as 2026-05-31") from None
    return day


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(prog="plytide", description="From sock counts to a prosthetist's worklist.")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    demo = commands.add_parser("demo", help="make a demo clinic and serve it")
    demo.add_argument("--port", type=int, default=8700, help="0 takes a free port")
    demo.add_argument("--data", type=Path, help="keep the demo in this folder (default: a temporary one)")
    demo.add_argument("--people", type=int, default=30)
    demo.add_argument("--days", type=int, default=120)
    demo.add_argument("--seed", type=int, default=1)
    demo.add_argument("--json", action="store_true", help="say where to go as one line of JSON")

    serve = commands.add_parser("serve", help="the real server")
    serve.add_argument("--data", type=Path, required=True)
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=int, default=8700)
    serve.add_argument("--workers", type=int, default=2)

    init = commands.add_parser("init", help="a new clinic with its first member of staff")
    init.add_argument("--data", type=Path, required=True)
    init.add_argument("--clinic", required=True, help="the clinic's name")
    init.add_argument("--login", required=True, help="the sign-in name of its first member of staff")
    init.add_argument("--name", help="that person's name (default: the sign-in name)")
    init.add_argument("--phone", help="the number wearers call")
    init.add_argument("--emergency-number", default="112")

    staff = commands.add_parser("staff", help="add a member of staff to a clinic")
    staff.add_argument("--data", type=Path, required=True)
    staff.add_argument("--clinic-of", required=True, metavar="LOGIN", help="somebody who is there already")
    staff.add_argument("--login", required=True)
    staff.add_argument("--name")
    staff.add_argument("--role", choices=("prosthetist", "assistant", "manager"), default="prosthetist")

    assess = commands.add_parser("assess", help="limb histories in, assessments out, one JSON object a line")
    assess.add_argument("file", nargs="?", default="-")
    assess.add_argument("--as-of", type=a_date, metavar="DATE")

    evaluate = commands.add_parser("evaluate", help="score the engine on simulated limbs with known truth")
    evaluate.add_argument("--limbs", type=int, default=500)
    evaluate.add_argument("--days", type=int, default=120)
    evaluate.add_argument("--seeds", type=int, default=3)
    evaluate.add_argument("--quick", action="store_true", help="without the moved-parameter tables")

    backup = commands.add_parser("backup", help="a consistent copy while the server runs")
    backup.add_argument("target", type=Path)
    backup.add_argument("--data", type=Path, required=True)
    backup.add_argument("--key-file", type=Path, help="seal the copy with this key (made if the file is not there)")

    restore = commands.add_parser("restore", help="put a backup back, after checking it")
    restore.add_argument("target", type=Path)
    restore.add_argument("--data", type=Path, required=True)
    restore.add_argument("--key-file", type=Path, help="the key it was sealed with")
    restore.add_argument("--force", action="store_true", help="replace data that is there")

    forgotten = commands.add_parser("password", help="a one-time link to choose a new password, for whoever forgot it")
    forgotten.add_argument("--data", type=Path, required=True)
    forgotten.add_argument("--login", required=True)
    unlock = commands.add_parser("unlock", help="take away the second factors of somebody who lost them all")
    unlock.add_argument("--data", type=Path, required=True)
    unlock.add_argument("--login", required=True)

    key = commands.add_parser("key", help="write a new key to a file")
    key.add_argument("file", type=Path)

    encrypt = commands.add_parser("encrypt", help="bring a data folder under the key in PLYTIDE_DATABASE_KEY_FILE")
    encrypt.add_argument("--data", type=Path, required=True)

    decrypt = commands.add_parser("decrypt", help="make an encrypted data folder plain again")
    decrypt.add_argument("--data", type=Path, required=True)

    rekey = commands.add_parser("rekey", help="bring an encrypted data folder under another key")
    rekey.add_argument("--data", type=Path, required=True)
    rekey.add_argument("--new-key-file", type=Path, required=True)

    check = commands.add_parser("check", help="integrity of databases and audit chain")
    check.add_argument("--data", type=Path, required=True)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    given = parser().parse_args(argv)
    before = os.umask(0o077)  # what any command writes, copies and logs of databases too, is its owner's alone
    try:
        return COMMANDS[given.command](given)
    except Exception as error:
        if not is_for_the_operator(error):
            raise
        return fail(str(error))
    finally:
        os.umask(before)


def is_for_the_operator(error: Exception) -> bool:
    """Whether its words say what was wrong and what to do: then nobody needs a trace."""
    from plytide.store.at_rest import ConversionFault
    from plytide.store.backup import BackupFault
    from plytide.store.lock import InUse
    from plytide.store.sealed import KeyFault
    from plytide.store.sqlite import Unreadable

    return isinstance(error, ConversionFault | BackupFault | InUse | KeyFault | Unreadable)


def password() -> str | None:
    """From PLYTIDE_PASSWORD or the prompt; None when it is too short."""
    said = os.environ.get("PLYTIDE_PASSWORD") or getpass.getpass(
        f"Password (at least {SHORTEST_PASSWORD} characters): "
    )
    return said if len(said) >= SHORTEST_PASSWORD else None


def run_init(given: argparse.Namespace) -> int:
    from plytide.founding import found_clinic
    from plytide.passphrases import Refused
    from plytide.store.backup import refuse_half_restored
    from plytide.store.registry import LoginTaken

    refuse_half_restored(given.data)
    said = password()
    if said is None:
        return fail(f"the password must have at least {SHORTEST_PASSWORD} characters.")
    words = {"phone": given.phone, "emergency_number": given.emergency_number}
    try:
        found_clinic(given.data, given.clinic, given.login, given.name or given.login, said, words, utc_now())
    except Refused as refused:
        return fail(str(refused))
    except LoginTaken:
        return fail(f"the sign-in name {given.login} is taken. Choose another.")
    print(f"{given.clinic} is ready. Start it with: plytide serve --data {given.data}")
    return 0


def run_staff(given: argparse.Namespace) -> int:
    from plytide.founding import NoSuchLogin, add_member
    from plytide.passphrases import Refused
    from plytide.store.registry import LoginTaken

    said = password()
    if said is None:
        return fail(f"the password must have at least {SHORTEST_PASSWORD} characters.")
    try:
        add_member(
            given.data, given.clinic_of, given.login, given.name or given.login, given.role, said, utc_now()
        )
    except Refused as refused:
        return fail(str(refused))
    except LoginTaken:
        return fail(f"the sign-in name {given.login} is taken. Choose another.")
    except NoSuchLogin:
        return fail(f"nobody signs in as {given.clinic_of}.")
    print(f"{given.login} can sign in as {given.role}.")
    return 0


@contextmanager
def shared_counters() -> Iterator[None]:
    """Where the workers of one server add up their figures. Named before the figures' library is loaded."""
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        yield
        return
    with tempfile.TemporaryDirectory(prefix="plytide-figures-", ignore_cleanup_errors=True) as folder:
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = folder
        yield


def run_serve(given: argparse.Namespace) -> int:
    with shared_counters():
        return _serve(given)


def _serve(given: argparse.Namespace) -> int:
    from plytide.serving import serve
    from plytide.store.backup import refuse_half_restored
    from plytide.store.registry import registry_path

    refuse_half_restored(given.data)
    if not registry_path(given.data).exists():
        return fail(f"{given.data} holds no clinic yet. Make one with: plytide init --data {given.data} ...")
    serve(
        from_environment(given.data),
        given.host,
        given.port,
        given.workers,
        ready=lambda url: print(url, flush=True),
    )
    return 0


def run_demo(given: argparse.Namespace) -> int:
    from plytide.serving import serve

    for name, low, high in (("people", 1, 5000), ("days", 1, 1000)):
        if not low <= getattr(given, name) <= high:
            return fail(f"--{name} must be from {low} to {high}.")
    folder = given.data or Path(tempfile.mkdtemp(prefix="plytide-demo-"))

    seed = [sys.executable, "-m", "seed_demo"]
    numbers = [str(given.people), str(given.days), str(given.seed)]
    # In a process of its own: no open database may be carried over the server's fork.
    if subprocess.run([*seed, "fill", str(folder), *numbers]).returncode:
        return fail("the demo clinic could not be filled.")

    def ready(url: str) -> None:
        subprocess.Popen([*seed, "say", url, str(folder), *(["--json"] if given.json else [])])

    try:
        serve(from_environment(folder), "127.0.0.1", given.port, 2, ready)
    finally:
        if given.data is None:
            shutil.rmtree(folder, ignore_errors=True)
    return 0


def run_assess(given: argparse.Namespace) -> int:
    from plytide.assess_lines import run

    if given.file != "-" and not Path(given.file).is_file():
        return fail(f"there is no file {given.file}.")
    # Bytes: a line that is not UTF-8 is one bad line, not the end of the file.
    with nullcontext(sys.stdin.buffer) if given.file == "-" else open(given.file, "rb") as lines:
        return run(lines, sys.stdout, given.as_of)


def run_evaluate(given: argparse.Namespace) -> int:
    from seed_demo.evaluate import run

    status: int = run(limbs=given.limbs, days=given.days, seeds=given.seeds, quick=given.quick)
    return status


def run_backup(given: argparse.Namespace) -> int:
    from plytide.store.backup import backup
    from plytide.store.sealed import new_key, read_key

    if given.key_file and not given.key_file.exists():
        new_key(given.key_file)
        print(f"A new key is in {given.key_file}. Keep it apart from the backups: without it they can't be opened.")
    key = read_key(given.key_file) if given.key_file else None
    count = backup(given.data, given.target, utc_now(), key)
    print(f"{count} databases copied to {given.target}.")
    return 0


def run_restore(given: argparse.Namespace) -> int:
    from plytide.store.backup import restore
    from plytide.store.sealed import read_key

    key = read_key(given.key_file) if given.key_file else None
    count = restore(given.target, given.data, force=given.force, key=key)
    print(f"{count} databases restored to {given.data}. Phones will offer again what they hold.")
    print("Staff must sign in again. A phone shut out since this backup was made is let in again: shut it out anew.")
    return 0


def run_password_link(given: argparse.Namespace) -> int:
    from plytide.founding import NoSuchLogin, password_code

    try:
        secret = password_code(given.data, given.login, utc_now())
    except NoSuchLogin:
        return fail(f"nobody signs in as {given.login}.")
    address = (os.environ.get("PLYTIDE_PUBLIC_URL") or "http://ADDRESS").rstrip("/")
    print(f"{address}/clinic/#/new-password?code={secret}")
    print("It works once, for 30 minutes. The second factor stays: see plytide unlock.")
    return 0


def run_unlock(given: argparse.Namespace) -> int:
    from plytide.founding import NoSuchLogin, unlock

    try:
        unlock(given.data, given.login, utc_now())
    except NoSuchLogin:
        return fail(f"nobody signs in as {given.login}.")
    print(f"{given.login} signs in with the password alone until a second factor is set up again.")
    return 0


def run_key(given: argparse.Namespace) -> int:
    from plytide.store.sealed import new_key

    new_key(given.file)
    print(f"A new key is in {given.file}. Keep a copy in another place: what it locks opens with nothing else.")
    return 0


def the_database_key(data: Path) -> bytes:
    """The key that PLYTIDE_DATABASE_KEY_FILE names. Raises KeyFault without one, or when it lies beside its data."""
    from plytide.store.sealed import KeyFault
    from plytide.store.sqlite import KEY_FILE, database_key

    key = database_key()
    if KEY_FILE is None or key is None:
        raise KeyFault(
            "PLYTIDE_DATABASE_KEY_FILE names no key. Make one with: plytide key FILE, and set the variable to FILE."
        )
    refuse_beside(KEY_FILE, data)
    return key


def refuse_beside(key_file: Path, data: Path) -> None:
    from plytide.store.sealed import KeyFault

    if key_file.resolve().is_relative_to(data.resolve()):
        raise KeyFault(f"{key_file} lies in the data folder: whoever takes the one has the other. Move it elsewhere.")


REMAINS = "The former files were deleted, not overwritten: on the disk their bytes remain until the disk uses them again."


def run_encrypt(given: argparse.Namespace) -> int:
    from plytide.store.at_rest import convert

    changed = convert(given.data, None, the_database_key(given.data))
    print(f"{changed} databases encrypted, each compared row for row. {REMAINS}")
    return 0


def run_decrypt(given: argparse.Namespace) -> int:
    from plytide.store.at_rest import convert

    changed = convert(given.data, the_database_key(given.data), None)
    print(f"{changed} databases are plain, each compared row for row. Now unset PLYTIDE_DATABASE_KEY_FILE.")
    return 0


def run_rekey(given: argparse.Namespace) -> int:
    from plytide.store.at_rest import convert
    from plytide.store.sealed import KeyFault, is_private, read_key

    refuse_beside(given.new_key_file, given.data)
    key = read_key(given.new_key_file)
    if not is_private(given.new_key_file):
        raise KeyFault(f"{given.new_key_file} can be read by others than its owner: chmod 600 {given.new_key_file}.")
    changed = convert(given.data, the_database_key(given.data), key)
    print(f"{changed} databases have the new key. Now set PLYTIDE_DATABASE_KEY_FILE to {given.new_key_file}.")
    print("Keep the former key as long as backups that were made under it.")
    return 0


def run_check(given: argparse.Namespace) -> int:
    from plytide.store.backup import check

    faults = check(given.data)
    for said in faults:
        print(said)
    if not faults:
        print("All databases and audit chains are whole.")
    return 1 if faults else 0


COMMANDS = {
    "demo": run_demo,
    "serve": run_serve,
    "init": run_init,
    "staff": run_staff,
    "assess": run_assess,
    "evaluate": run_evaluate,
    "backup": run_backup,
    "restore": run_restore,
    "password": run_password_link,
    "unlock": run_unlock,
    "key": run_key,
    "encrypt": run_encrypt,
    "decrypt": run_decrypt,
    "rekey": run_rekey,
    "check": run_check,
}

if __name__ == "__main__":
    sys.exit(main())
