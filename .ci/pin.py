"""Write .ci/constraints.txt: the exact versions of all that pyproject.toml asks for, directly or not.

Run it with the Python of an environment in which everything is installed and the tests pass:

    .venv/bin/python .ci/pin.py

Versions only, no addresses, so that any registry serves them.
"""

from __future__ import annotations

import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

HERE = Path(__file__).resolve().parent
project = tomllib.loads((HERE.parent / "pyproject.toml").read_text())["project"]


def applies(need: Requirement, extras: set[str]) -> bool:
    return need.marker is None or any(need.marker.evaluate({"extra": extra}) for extra in {"", *extras})


def closure(wanted: list[str]) -> dict[str, str]:
    """Name to version of every distribution that `wanted` brings, as installed here."""
    found: dict[str, str] = {}
    seen: set[tuple[str, frozenset[str]]] = set()
    queue = [Requirement(text) for text in wanted]
    while queue:
        need = queue.pop()
        name = canonicalize_name(need.name)
        if (name, frozenset(need.extras)) in seen or not applies(need, set()):
            continue
        seen.add((name, frozenset(need.extras)))
        try:
            installed = distribution(name)
        except PackageNotFoundError:
            raise SystemExit(f"{name} is asked for but not installed here") from None
        found[name] = installed.version
        inner = [Requirement(text) for text in installed.requires or []]
        queue += [Requirement(f"{sub.name}{extras_of(sub)}") for sub in inner if applies(sub, set(need.extras))]
    return found


def extras_of(need: Requirement) -> str:
    return f"[{','.join(sorted(need.extras))}]" if need.extras else ""


def main() -> None:
    extras = [need for group in project["optional-dependencies"].values() for need in group]
    pins = closure([*project["dependencies"], *extras])
    pins.pop("pip", None)  # the new environment brings its own, and need not replace it
    lines = [f"{name}=={version}\n" for name, version in sorted(pins.items())]
    (HERE / "constraints.txt").write_text("".join(lines))
    print(f"{len(lines)} versions written")


if __name__ == "__main__":
    main()
