"""`python -m seed_demo URL FOLDER PEOPLE DAYS SEED [--json]`: fill a running demo clinic and say where to go.

`plytide demo` founds the clinic, starts the server, and runs this beside it.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from datetime import UTC, datetime
from pathlib import Path

from seed_demo.load import Loaded, door_to, load, sign_in
from seed_demo.people import CLINIC, STAFF
from seed_demo.stories import cast

ABOUT = "demo.json"
LOGIN = CLINIC["login"]
PASSWORD = (
    "low tide, long rope"  # no secret: the data are invented, and the server listens on this machine only
)


def found(folder: Path) -> None:
    """Make the demo clinic in an empty folder; leave one that is there as it is."""
    from plytide.founding import add_member, found_clinic

    if (folder / "registry.db").exists():
        return
    now = datetime.now(UTC)
    words = {"phone": CLINIC["phone"], "emergency_number": CLINIC.get("emergency_number", "112")}
    found_clinic(folder, CLINIC["name"], "office", "Clinic office", PASSWORD, words, now)
    for member in STAFF:
        add_member(folder, "office", member["login"], member["name"], member["role"], PASSWORD, now)


def about(loaded: Loaded) -> dict[str, object]:
    """What the contract's first line says, apart from the address."""
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
    phone = known["phones"][0]  # type: ignore[index]
    code = staff.call("POST", f"/api/clinic/people/{phone['person_id']}/enrolment-codes", {"role": phone["role"]})["code"]
    print(f"  Phone app    {url}/phone/#enrol={code}")
    print("               opens once, as one of the wearers; more codes on the clinic page: People, New code")
    print("  Stop with Ctrl-C.", flush=True)


def main(url: str, folder: Path, people: int, days: int, seed: int, as_json: bool) -> None:
    kept = folder / ABOUT
    if kept.exists():
        say(url, json.loads(kept.read_text()), as_json)
        return
    now = datetime.now(UTC)
    loaded = load(url, LOGIN, PASSWORD, cast(people, days, seed, now.date()), now)
    loaded.staff.call(
        "GET", "/api/clinic/worklist?limit=1"
    )  # the first round of the day is made before we say so
    known = about(loaded)
    kept.write_text(json.dumps(known))
    say(url, known, as_json)


if __name__ == "__main__":
    address, path, people_wanted, days_wanted, drawn = sys.argv[1:6]
    try:
        main(address, Path(path), int(people_wanted), int(days_wanted), int(drawn), "--json" in sys.argv[6:])
    except BaseException as fault:  # the server beside us must not go on without its people
        print(f"plytide demo: the clinic could not be filled: {fault}", file=sys.stderr)
        os.kill(os.getppid(), signal.SIGTERM)
        raise
