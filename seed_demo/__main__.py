"""`python -m seed_demo fill FOLDER PEOPLE DAYS SEED` makes a demo clinic; `say URL FOLDER [--json]` says where to go.

`plytide demo` runs the first, serves the folder, and runs the second once the server listens.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from seed_demo.door import door_to, sign_in
from seed_demo.load import Clock, Loaded, load
from seed_demo.people import CLINIC, STAFF
from seed_demo.practice import OFFICE, Practice
from seed_demo.stories import cast

ABOUT = "demo.json"
LOGIN = CLINIC["login"]
PASSWORD = "low tide, long rope"  # no secret: the data are invented, and the server listens on this machine only


def found(folder: Path) -> None:
    """Make the demo clinic in an empty folder; leave one that is there as it is."""
    from plytide.work.setup import Newcomer, add_member, found_clinic

    if (folder / "registry.db").exists():
        return
    now = datetime.now(UTC)
    words = {"phone": CLINIC["phone"], "emergency_number": CLINIC.get("emergency_number", "112")}
    found_clinic(folder, CLINIC["name"], OFFICE, "Clinic office", PASSWORD, words, now)
    for member in STAFF:
        add_member(folder, "office", Newcomer(member["login"], member["name"], member["role"], PASSWORD), now)


def about(loaded: Loaded) -> dict[str, object]:
    """What the first line of `plytide demo --json` says, apart from the address."""
    return {
        "clinic": {"login": LOGIN, "password": PASSWORD},
        "phones": [
            {
                "person_id": phone.person_id,
                "limb_ids": list(phone.limb_ids),
                "token": phone.token,
                "role": phone.role,
            }
            for phone in loaded.phones
        ],
    }


def say(url: str, known: dict[str, object], as_json: bool) -> None:
    staff = sign_in(door_to(url), LOGIN, PASSWORD)
    if as_json:
        line = {"url": url, **known, "staff_session": {"cookie": staff.cookie, "csrf": staff.csrf}}
        print(json.dumps(line), flush=True)
        return
    print(f"Plytide demo: {CLINIC['name']}, invented people only")
    print(f"  Clinic page  {url}/clinic/   sign in as {LOGIN}, password: {PASSWORD}")
    print("               its manager, who also sees staff and the audit record: office, same password")
    phone = known["phones"][0]  # type: ignore[index]
    code = staff.call("POST", f"/api/clinic/people/{phone['person_id']}/enrolment-codes", {"role": phone["role"]})[
        "code"
    ]
    print(f"  Phone app    {url}/phone/#enrol={code}")
    print("               opens once, as one of the wearers; more codes on the clinic page: People, New code")
    print("  Stop with Ctrl-C.", flush=True)


def fill(folder: Path, people: int, days: int, seed: int) -> None:
    """Found the clinic and let the cast in by the front door, each check-in received when it was written."""
    from plytide.http.app import create_app
    from plytide.settings import from_environment

    if (folder / ABOUT).exists():
        return
    found(folder)
    now = datetime.now(UTC)
    clock = Clock(now)
    app = create_app(replace(from_environment(folder), now=clock, sweep_seconds=0))
    practice = Practice(app, seed, [member["login"] for member in STAFF])
    loaded = load(app, LOGIN, PASSWORD, cast(people, days, seed, now.date()), now, clock, practice)
    practice.close()
    loaded.staff.call("GET", "/api/clinic/worklist?limit=1")  # the first round of the day is made here
    (folder / ABOUT).write_text(json.dumps(about(loaded)))


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["fill", path, people_wanted, days_wanted, drawn]:
            fill(Path(path), int(people_wanted), int(days_wanted), int(drawn))
        case ["say", address, path, *more]:
            say(address, json.loads((Path(path) / ABOUT).read_text()), "--json" in more)
        case _:
            sys.exit(__doc__)
