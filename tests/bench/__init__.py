"""Measurements by hand: speed, load, calibration. `python -m tests.bench` lists them; each takes `--quick`."""

from __future__ import annotations

import sys
import time

_START = time.monotonic()


def step(words: str) -> None:
    """Say on the standard error what is measured now: somebody waits for it."""
    print(f"[{time.monotonic() - _START:5.0f} s] {words}", file=sys.stderr, flush=True)
