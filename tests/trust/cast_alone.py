"""The cast outside pytest, for what is run by hand."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from tests.actors import PASSWORD, Actor, Cast, Clock
from tests.conftest import LEFT, joined, signed_in


def cast_in(data: Path, now: datetime) -> Cast:
    """Two clinics with a few people, as the fixtures make them."""
    from plytide.cli import main
    from plytide.http.app import create_app
    from plytide.settings import Settings

    with pytest.MonkeyPatch.context() as environment:
        environment.setenv("PLYTIDE_PASSWORD", PASSWORD)
        for clinic, login in (("Marram Yard Clinic", "nora"), ("Sallow Bridge Clinic", "teodor")):
            assert main(["init", "--data", str(data), "--clinic", clinic, "--login", login]) == 0
        for login, role in (("ida", "prosthetist"), ("juno", "assistant")):
            assert main(["staff", "--data", str(data), "--clinic-of", "nora", "--login", login, "--role", role]) == 0
    clock = Clock(now)
    app = create_app(Settings(data_dir=data, now=clock, sweep_seconds=0))
    ida, teodor = signed_in(app, "ida"), signed_in(app, "teodor")
    people = [joined(app, ida, name, "1968-04-02", [LEFT], "wearer") for name in ("Anouk", "Bram", "Dov")]
    return Cast(
        app=app, clock=clock, nora=signed_in(app, "nora"), ida=ida, juno=signed_in(app, "juno"), anouk=people[0],
        bram=people[1], dov=people[2], teodor=teodor, esme=joined(app, teodor, "Esme", "1990-07-14", [LEFT], "wearer"),
        nobody=Actor(app),
    )  # fmt: skip
