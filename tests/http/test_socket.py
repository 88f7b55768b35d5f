"""A socket over HTTP."""

from __future__ import annotations

from tests.actors import Cast
from tests.http.anouk import path


def test_a_suspension_switched_on_the_same_socket_keeps_its_history(cast: Cast) -> None:
    socket = cast.ida.get(path(cast)).get_json()["sockets"][0]["id"]
    cast.ida.made(f"/api/clinic/sockets/{socket}/suspensions", {"on": "2025-07-01", "suspension": "suction"})
    told = cast.ida.get(path(cast)).get_json()["sockets"][0]
    assert told["suspension"] == "suction"
    assert [(one["on"], one["suspension"]) for one in told["suspensions"]] == [("2025-07-01", "suction")]
    early = cast.ida.post(f"/api/clinic/sockets/{socket}/suspensions", {"on": "2025-01-01", "suspension": "suction"})
    assert early.status_code == 422
