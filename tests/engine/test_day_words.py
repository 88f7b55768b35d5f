"""A change of sock is said in ply by the server as by the pages."""

from __future__ import annotations

import json
import subprocess

import pytest

from plytide.engine.day_words import in_ply
from plytide.settings import WEB_ROOT
from tests.node import node


@pytest.mark.parametrize(
    ("mm", "words"),
    [
        (0.0, "no more and no less sock"),
        (0.14, "no more and no less sock"),
        (0.3, "less than a 1-ply more"),
        (-0.3, "less than a 1-ply less"),
        (0.7, "about a 1-ply more"),
        (1.3, "about a 3-ply more"),
        (2.4, "about 5+1-ply more"),
        (-5.2, "more than 5+5+5-ply less"),
    ],
)
def test_millimetres_are_said_in_ply(mm: float, words: str) -> None:
    assert in_ply(mm) == words


def test_pages_and_server_say_it_alike() -> None:
    """At tenths, as the figure beside it is rounded."""
    sizes = [n / 10 for n in range(-60, 61)]
    ask = f"import {{ inPly }} from './clinic/words.js'; console.log(JSON.stringify({json.dumps(sizes)}.map(inPly)))"
    done = subprocess.run(
        [node(), "--input-type=module", "-e", ask], cwd=WEB_ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    assert json.loads(done.stdout) == [in_ply(size) for size in sizes]
