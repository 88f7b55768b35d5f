"""A slice of the fuzz run: every operation of the API called with made-up data. The whole run: `tests.trust.fuzz`."""

from __future__ import annotations

import warnings

import pytest

from tests.actors import Cast
from tests.trust.fuzz import fuzz


@pytest.mark.slow
def test_no_made_up_call_brings_a_server_error_and_every_answer_is_as_described(cast: Cast) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own
        tally = fuzz(cast, 2, lambda: cast.clock.forward(seconds=1))
    assert tally.faults == []
    assert tally.calls > 120
    assert tally.statuses[200] + tally.statuses[201] > tally.calls / 5  # it gets past the doors
    assert sum(tally.statuses[status] for status in (400, 404, 409, 422)) > tally.calls / 5


def test_an_answer_not_described_would_be_found(cast: Cast) -> None:
    described = cast.nobody.get("/api/openapi.json").get_json()
    for methods in described["paths"].values():
        for said in methods.values():
            said["responses"].pop("404")
    cast.app.config["OPENAPI"] = described
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        tally = fuzz(cast, 8, lambda: cast.clock.forward(seconds=1), only="/api/clinic/limbs/{limb_id}/notes")
    assert tally.faults
