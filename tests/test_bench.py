"""The measurements by hand can be asked for shortly, and say what they do."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import pytest

NAMES = sorted(path.stem for path in (Path(__file__).parent / "bench").glob("[a-z]*.py"))


@pytest.mark.parametrize("name", NAMES)
def test_each_measurement_has_a_quick_form(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        import_module(f"tests.bench.{name}").main(["--help"])
    assert ended.value.code == 0
    assert "--quick" in capsys.readouterr().out


def test_there_are_measurements() -> None:
    assert {"capacity", "sync", "engine"} <= set(NAMES)
