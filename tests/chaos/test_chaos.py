"""A real server is killed twenty times under a bad network; the count at the end is exact."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.chaos.run import run


@pytest.mark.slow
def test_twenty_kills_lose_double_and_disorder_nothing() -> None:
    # In a thread of its own: a browser that another test left open keeps an event loop in this one.
    with ThreadPoolExecutor(1) as apart:
        # It takes half a minute on an idle machine; the bound only keeps a broken one from hanging for ever.
        count = apart.submit(run, kills=20, checkins=4_000, seconds=1_200, phones=20, whole=0.2).result()
    print(count.words())
    assert count.good, count.words()
    assert count.whole_kills + count.worker_kills == 20
    # The network was bad, and the kills hit calls: a run in which nothing happened would prove nothing.
    assert count.unanswered > 50 and len(count.network) == 8
