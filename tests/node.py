"""A JavaScript runtime for the modules that phone and clinic share with no page: the machine's Node, else the one the
browser library brings. So no test that holds phone and server against each other is ever skipped."""

from __future__ import annotations

import shutil

from playwright._impl._driver import compute_driver_executable


def node() -> str:
    return shutil.which("node") or str(compute_driver_executable()[0])
