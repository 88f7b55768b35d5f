"""All that a clinic's language has to say: code → its English. `python -m plytide.work.sentences` prints it.

The words of a code stand in the file that says it, under the name WORDS; this only gathers them.
"""

from __future__ import annotations

import importlib
import json
import pkgutil
from types import ModuleType

from plytide import engine, work


def english() -> dict[str, str]:
    """Raises ValueError where one code has two wordings."""
    found: dict[str, str] = {}
    for module in (*_files(engine), *_files(work)):
        for code, words in getattr(module, "WORDS", {}).items():
            if found.setdefault(code, words) != words:
                raise ValueError(f"{module.__name__} says {code} in other words")
    return found


def _files(package: ModuleType) -> list[ModuleType]:
    inside = pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
    return [importlib.import_module(one.name) for one in inside if one.name != __name__]


if __name__ == "__main__":
    print(json.dumps(english(), indent=2, ensure_ascii=False))
