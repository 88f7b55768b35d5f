"""What a third attack found, that began with the README and the API's description alone."""

from __future__ import annotations

import pytest

from tests.actors import Cast


@pytest.mark.parametrize(
    "path", ["/api//me", "/phone//sw.js", "//api/me", "/phone//etc/passwd", "/clinic//%5cevil.example"]
)
def test_a_slash_too_many_is_nothing_here_and_leads_nowhere(cast: Cast, path: str) -> None:
    """It was led on, with a page instead of JSON and to whatever host the caller named."""
    answer = cast.nobody.get(path, headers={"Host": "evil.example"}, base_url="http://evil.example")
    assert answer.status_code == 404 and answer.get_json()["error"]["code"] == "not-found"
    assert "Location" not in answer.headers and b"evil" not in answer.data
