"""The whole API from its own description, with data made up by schemathesis: no server error, every answer as
described.

`python -m tests.trust.fuzz` makes 10,000 calls, `python -m tests.trust.fuzz 300` fewer. A slice runs in the suite.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from flask import Flask
from hypothesis import HealthCheck, Phase, given, settings

from tests.actors import Cast

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the library's own imports
    import schemathesis
    from schemathesis.checks import load_all_checks, not_a_server_error
    from schemathesis.specs.openapi.checks import (
        content_type_conformance,
        response_headers_conformance,
        response_schema_conformance,
        status_code_conformance,
    )

load_all_checks()
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
# These would end the session that all calls are made with, or take their caller away.
NOT_FUZZED = {("DELETE", "/api/clinic/session")}


@dataclass
class Tally:
    calls: int = 0
    statuses: Counter[int] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


def callers(cast: Cast) -> dict[str, dict[str, str]]:
    return {"phone": dict(cast.anouk.phone.headers), "staff": dict(cast.nora.headers)}


def real_ids(cast: Cast) -> dict[str, str]:
    """So that half of all calls get past the door: an invented id is only ever not found."""
    story = cast.nora.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    sent = {"id": "l1", "kind": "payer", "subject": "Anouk", "text": "Of Anouk."}
    letter_id = cast.nora.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/letters", sent)["id"]
    ids = {"person_id": cast.anouk.id, "limb_id": cast.anouk.limb_id, "socket_id": story["sockets"][0]["id"]}
    return ids | {"letter_id": letter_id, "kind": "payer"}


def fuzz(cast: Cast, per_operation: int, tick: Callable[[], None], seed: int = 1, only: str = "") -> Tally:
    """Call every operation (whose path holds `only`) `per_operation` times. `tick` moves the server's clock on."""
    app: Flask = cast.app
    schema = schemathesis.openapi.from_wsgi("/api/openapi.json", app)
    tally, heads, ids, chance = Tally(), callers(cast), real_ids(cast), random.Random(seed)
    for result in schema.get_all_operations():
        operation: Any = result.ok()
        if (operation.method.upper(), operation.path) in NOT_FUZZED or only not in operation.path:
            continue
        door = "staff" if operation.path.startswith("/api/clinic") else "phone"
        one_call = caller(tally, heads[door], ids, chance, tick)
        quiet = settings(
            max_examples=per_operation,
            database=None,
            deadline=None,
            derandomize=True,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        try:
            quiet(given(case=operation.as_strategy())(one_call))()
        except Exception as error:  # the library found no data for it: said, not passed over
            tally.faults.append(
                f"{operation.method.upper()} {operation.path}: not fuzzed: {type(error).__name__}: {error}"
            )
    return tally


def caller(
    tally: Tally, headers: dict[str, str], ids: dict[str, str], chance: random.Random, tick: Callable[[], None]
) -> Callable[[Any], None]:
    def one_call(case: Any) -> None:
        tick()
        if chance.random() < 0.5:
            named = case.path_parameters or {}
            case.path_parameters = {**named, **{name: ids[name] for name in named if name in ids}}
        case.headers = {**(case.headers or {}), **headers, "Accept-Encoding": "identity"}
        name, _, value = headers.get("Cookie", "").partition("=")
        case.cookies = {name: value} if name else {}
        response = case.call()
        tally.calls += 1
        tally.statuses[response.status_code] += 1
        try:
            case.validate_response(response, checks=CHECKS)
        except BaseExceptionGroup as group:
            said = "; ".join(str(one).split("\n")[0] for one in group.exceptions)
            tally.faults.append(f"{case.method} {case.path}: {response.status_code}: {said}")

    return one_call


def main() -> int:
    from tests.conftest import NOON
    from tests.trust.cast_alone import cast_in

    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        cast = cast_in(Path(folder) / "0", NOON)
        operations = sum(len(methods) for methods in cast.nobody.get("/api/openapi.json").get_json()["paths"].values())
        began = time.monotonic()
        tally = Tally()
        while tally.calls < wanted:  # an operation with little to make up gives fewer calls than it is asked for
            each = -(-(wanted - tally.calls) // (operations - len(NOT_FUZZED)))
            clock = cast.clock
            later = partial(clock.forward, seconds=1)
            one = fuzz(cast, each, later, seed=tally.calls + 1)
            tally.calls += one.calls
            tally.statuses += one.statuses
            tally.faults += one.faults
            cast = cast_in(Path(folder) / str(tally.calls), NOON)  # by now who was signed in is not any more
    print(f"{tally.calls} calls of {operations} operations in {time.monotonic() - began:.0f} s")
    print("answers:", ", ".join(f"{status}: {count}" for status, count in sorted(tally.statuses.items())))
    for fault in sorted(set(tally.faults))[:50]:
        print("FAULT", fault)
    print(f"{len(tally.faults)} faults")
    return 1 if tally.faults or tally.calls < wanted else 0


if __name__ == "__main__":
    sys.exit(main())
