"""The breaks of `python -m tests.mutate` still meet the lines they break."""

from __future__ import annotations

import pytest

from tests import mutate


def test_each_break_meets_one_place_and_its_tests_are_there() -> None:
    assert mutate.stale_breaks() == []


def test_no_break_leaves_its_line_as_it_was() -> None:
    assert [each.old for each in mutate.BREAKS if each.old == each.new] == []


def test_the_quick_form_says_so_when_a_line_is_gone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert mutate.main(["--check"]) == 0
    gone = mutate.Break("server/plytide/model.py", "a line that nobody wrote", "")
    monkeypatch.setattr(mutate, "BREAKS", (*mutate.BREAKS, gone))
    assert mutate.main(["--check"]) == 1
    assert "'a line that nobody wrote' occurs 0 times" in capsys.readouterr().out
