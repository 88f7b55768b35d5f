"""A built wheel, installed where no checkout is: it holds the pages and the demo, and serves them."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import sysconfig
import urllib.request
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
BUILT_FROM = ("server", "web", "seed_demo", "pyproject.toml", "README.md", "LICENSE")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The Python of an environment that has the wheel, and its dependencies from this one; no checkout is on its path.

    A `.pth` file names this environment's packages: what they name in turn, an editable install among it, is not read.
    """
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    source.mkdir()
    for name in BUILT_FROM:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"))
        else:
            shutil.copy(ROOT / name, source / name)
    build = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(folder)]
    done = subprocess.run([*build, str(source)], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr[-2000:]
    (wheel,) = folder.glob("plytide-*.whl")
    home = folder / "env"
    venv.create(home)
    python = home / "bin" / "python"
    into = [sys.executable, "-m", "pip", "--python", str(python), "install", "-q", "--no-deps", "--no-index"]
    subprocess.run([*into, str(wheel)], check=True, timeout=300)
    packages = Path(sysconfig.get_path("purelib", vars={"base": str(home), "platbase": str(home)}))
    (packages / "dependencies.pth").write_text(
        "\n".join(path for path in sys.path if path.endswith("site-packages")) + "\n"
    )
    shutil.rmtree(source)
    return python


@pytest.mark.slow
def test_the_demo_of_a_wheel_serves_pages_whatever_lies_in_the_folder(installed: Path, tmp_path: Path) -> None:
    for name in ("code.py", "plytide.py", "seed_demo.py", "flask.py"):
        (tmp_path / name).write_text("raise SystemExit('this file is none of the demo')\n")
    away = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "PYTHONSAFEPATH")}
    command = [installed.parent / "plytide", "demo", "--port", "0", "--people", "2", "--days", "3", "--json"]
    running = subprocess.Popen(command, cwd=tmp_path, env=away, stdout=subprocess.PIPE, text=True)
    try:
        assert running.stdout is not None
        line = next((line for line in running.stdout if line.startswith("{")), None)
        assert line is not None, "the demo ended before it said where to go"
        url = json.loads(line)["url"]
        for path, mark in (
            ("/phone/", b"phone.js"),
            ("/clinic/", b"clinic.js"),
            ("/shared/safety-rules.json", b"rules"),
        ):
            with urllib.request.urlopen(url + path, timeout=120) as page:
                assert mark in page.read(), path
    finally:
        running.terminate()
        running.communicate(timeout=300)


def test_the_wheel_has_every_package_and_every_page(installed: Path) -> None:
    where = "import plytide, pathlib; print(pathlib.Path(plytide.__file__).parent)"
    found = subprocess.run([installed, "-c", where], capture_output=True, text=True, check=True, cwd=installed.parent)
    home = Path(found.stdout.strip())
    assert installed.parents[1] in home.parents

    def files(folder: Path) -> set[str]:
        return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file() and path.suffix != ".pyc"}

    code = {name for name in files(ROOT / "server" / "plytide") if not name.endswith(".md")}
    pages = {f"web/{name}" for name in files(ROOT / "web")}
    assert files(home) - {"py.typed"} == (code | pages) - {"py.typed"}
