"""`python -m tests.bench NAME [args]` runs `main(argv)` of tests/bench/NAME.py; no name lists them."""

from __future__ import annotations

import sys
from importlib import import_module
from pkgutil import iter_modules

import tests.bench


def main(argv: list[str]) -> int:
    found = {module.name for module in iter_modules(tests.bench.__path__)}
    names = sorted(name for name in found if not name.startswith("_"))
    if not argv or argv[0] not in names:
        for name in names:
            summary = (import_module(f"tests.bench.{name}").__doc__ or "").strip().split("\n")[0]
            print(f"{name:16} {summary}")
        return 2 if argv else 0
    return int(import_module(f"tests.bench.{argv[0]}").main(argv[1:]) or 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
