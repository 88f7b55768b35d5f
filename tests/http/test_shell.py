"""A phone takes a version whole: while a file of it is missing no worker is given."""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from plytide import WEB_ROOT
from plytide.http.app import create_app
from plytide.http.web_files import lacking, shell_files
from plytide.settings import Settings
from tests.actors import Actor, Cast


@pytest.fixture
def web(tmp_path: Path) -> Path:
    shutil.copytree(WEB_ROOT, tmp_path / "web")
    return tmp_path / "web"


@pytest.mark.parametrize("gone", ["phone/api.js", "phone/words/ar.js", "phone/css/base.css", "shared/html.js"])
def test_a_deploy_with_a_file_missing_gives_no_worker(settings: Settings, web: Path, gone: str) -> None:
    app = Actor(create_app(replace(settings, web_root=web)))
    assert app.get("/phone/sw.js").status_code == 200
    (web / gone).unlink()
    answer = app.get("/phone/sw.js")
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (503, "incomplete")
    assert lacking(web, shell_files(web)) == [gone]


def test_the_worker_knows_each_file_of_its_version(settings: Settings, web: Path) -> None:
    text = Actor(create_app(replace(settings, web_root=web))).get("/phone/sw.js").get_data(as_text=True)
    shell = json.loads(text.split("\n")[0].removeprefix("const SHELL = ").removesuffix(";"))
    for name, digest in zip(shell["files"], shell["digests"], strict=True):
        assert base64.b64decode(digest) == hashlib.sha256((web / name[1:]).read_bytes()).digest()


@pytest.mark.parametrize("path", ["/api/nothing", "/nothing", "/phone/../../etc/passwd", "/shared/%00"])
def test_an_unknown_address_is_a_404_in_our_shape_without_html(cast: Cast, path: str) -> None:
    answer = cast.nobody.get(path)
    assert answer.status_code == 404
    assert answer.get_json()["error"]["message"]
    assert b"<" not in answer.data


def test_every_answer_carries_the_security_headers(cast: Cast) -> None:
    for path in ("/api/me", "/nothing", "/phone/sw.js"):
        headers = cast.nobody.get(path).headers
        assert "script-src 'self'" in headers["Content-Security-Policy"]
        assert "unsafe" not in headers["Content-Security-Policy"]
        assert headers["X-Content-Type-Options"] == "nosniff"
