"""What the commands share: kinds of values, the data folder, the password, and how what is wrong is said."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import Any

import click

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


def password() -> str:
    """From PLYTIDE_PASSWORD or the prompt."""
    from plytide.work.setup import SHORTEST_PASSWORD

    asked = f"Password (at least {SHORTEST_PASSWORD} characters)"
    chosen: str = os.environ.get("PLYTIDE_PASSWORD") or click.prompt(asked, hide_input=True, err=True)
    if len(chosen) < SHORTEST_PASSWORD:
        raise Wrong(f"the password must have at least {SHORTEST_PASSWORD} characters.")
    return chosen
