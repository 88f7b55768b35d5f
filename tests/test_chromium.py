"""Where the journeys get their browser, on machines that have none."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests import chromium


@pytest.fixture
def bare(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine with an empty path, and a test library that can fetch nothing."""
    folder = tmp_path / "bin"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    monkeypatch.setattr(chromium.sys, "executable", "/bin/false")
    return folder


def program(folder: Path, name: str, script: str) -> None:
    (folder / name).write_text(f"#!/bin/sh\n{script}\n")
    (folder / name).chmod(0o755)


def test_the_browser_on_the_path_comes_first(bare, tmp_path):
    program(bare, "chromium-browser", "true")
    assert chromium.executable(str(tmp_path / "none")) == str(bare / "chromium-browser")


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may install Debian's package")
def test_root_gets_debians_package_after_fresh_lists(bare, tmp_path):
    asked = tmp_path / "asked"
    install = f'echo "$@" >> {asked}; case "$1" in install) /bin/cp {bare}/apt-get {bare}/chromium;; esac'
    program(bare, "apt-get", install)
    assert chromium.executable(str(tmp_path / "none")) == str(bare / "chromium")
    assert asked.read_text() == "update\ninstall -y chromium\n"


def test_the_test_librarys_own_browser_serves_where_there_is_no_other(bare, tmp_path):
    program(tmp_path, "own", "true")
    assert chromium.executable(str(tmp_path / "own")) == str(tmp_path / "own")


def test_without_any_there_is_one_line_that_says_how_to_get_it(bare, tmp_path):
    assert chromium.executable(str(tmp_path / "none")) is None
    assert "\n" not in chromium.HOW and "playwright install chromium" in chromium.HOW
