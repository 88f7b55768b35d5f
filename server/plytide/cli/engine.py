"""The engine by itself: limbs assessed, and how well that is done."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from datetime import date
from pathlib import Path

import click

from plytide.cli.options import Day, Wrong


@click.command()
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


@click.command()
@click.option("--limbs", type=int, default=500, show_default=True)
@click.option("--days", type=int, default=120, show_default=True)
@click.option("--seeds", type=int, default=3, show_default=True)
@click.option("--quick", is_flag=True, help="without the moved-parameter tables")
def evaluate(limbs: int, days: int, seeds: int, quick: bool) -> int:
    """Score the engine on simulated limbs with known truth."""
    from seed_demo.evaluate import run

    status: int = run(limbs=limbs, days=days, seeds=seeds, quick=quick)
    return status
