"""Staff: somebody new, somebody who forgot a password or lost a second factor."""

from __future__ import annotations

import os
from pathlib import Path

import click

from plytide.cli.options import Wrong, data_option, password
from plytide.settings import utc_now


@click.command()
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


@click.command("password")
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


@click.command()
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
