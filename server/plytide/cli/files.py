"""The files of a data folder: copies, keys, and whether they are whole."""

from __future__ import annotations

from pathlib import Path

import click

from plytide.cli.options import FILE, FOLDER, data_option
from plytide.settings import utc_now


@click.command()
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


@click.command()
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


@click.command()
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


@click.command()
@data_option
def encrypt(data: Path) -> int:
    """Bring a data folder under the key in PLYTIDE_DATABASE_KEY_FILE."""
    from plytide.storage.files.encryption import convert

    changed = convert(data, None, the_database_key(data))
    print(f"{changed} databases encrypted, each compared row for row. {REMAINS}")
    return 0


@click.command()
@data_option
def decrypt(data: Path) -> int:
    """Make an encrypted data folder plain again."""
    from plytide.storage.files.encryption import convert

    changed = convert(data, the_database_key(data), None)
    print(f"{changed} databases are plain, each compared row for row. Now unset PLYTIDE_DATABASE_KEY_FILE.")
    return 0


@click.command()
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


@click.command()
@data_option
def rebuild(data: Path) -> int:
    """Make a lost registry anew from the clinics' files."""
    from plytide.storage.registry.rebuild import rebuild as run

    for line in run(data, utc_now()):
        print(line)
    print("Staff sign in with their passwords and set up a second factor again; each phone needs a new code.")
    print("Where there is a backup of the registry, plytide restore brings back more.")
    return 0


@click.command()
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
