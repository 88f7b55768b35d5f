"""Pain: which change is more than noise. Source: Farrar et al. 2001 (Pain 94:149-158, confirmed)."""

from __future__ import annotations

import pytest

from plytide.engine.core.score_change import hurts_more


@pytest.mark.parametrize(("after", "more"), [(4.9, False), (5, True), (1, False)])
def test_more_pain(after: float, more: bool) -> None:
    assert hurts_more(3, after) is more
