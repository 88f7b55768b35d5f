"""The apps' own files, and the service worker with the shell's hash in front. No health data here."""

from __future__ import annotations

import gzip
import hashlib
import json
import mimetypes
from functools import lru_cache
from pathlib import Path

from flask import Blueprint, Response, redirect, request, send_from_directory
from werkzeug.wrappers import Response as AnyResponse

from plytide.access import not_found, settings

bp = Blueprint("shell", __name__)

mimetypes.add_type("text/javascript", ".js")
mimetypes.add_type("application/manifest+json", ".webmanifest")

PHONE_FOLDERS = ("phone", "shared")
NOT_IN_SHELL = ("sw.js", ".md")
PACKED = {"text/javascript", "text/css", "text/html", "application/json", "application/manifest+json", "image/svg+xml"}


def shell_files(web: Path) -> list[str]:
    """Every file the phone app may load, as paths from the server's root."""
    return sorted(
        path.relative_to(web).as_posix()
        for folder in PHONE_FOLDERS
        for path in (web / folder).rglob("*")
        if path.is_file() and not path.name.endswith(NOT_IN_SHELL) and not path.name.startswith(".")
    )


def shell_version(web: Path, files: list[str]) -> str:
    """A hash over the names and bytes of the shell: a new byte is a new version."""
    content = hashlib.sha256()
    for name in [*files, "phone/sw.js"]:
        content.update(name.encode() + b"\0" + (web / name).read_bytes() + b"\0")
    return content.hexdigest()[:16]


@bp.get("/phone/sw.js")
def service_worker() -> Response:
    """The worker, with the list of files and their hash in front: the precache can't be incomplete or stale."""
    web = settings().web_root
    files = shell_files(web)
    shell = {"version": shell_version(web, files), "files": ["/" + name for name in files]}
    text = f"const SHELL = {json.dumps(shell)};\n" + (web / "phone/sw.js").read_text()
    response = Response(text, mimetype="text/javascript")
    response.headers["Cache-Control"] = "no-cache"
    response.headers["Service-Worker-Allowed"] = "/"
    return response


@bp.get("/")
def landing() -> AnyResponse:
    return send_from_directory(settings().web_root, "index.html")


@bp.get("/phone")
@bp.get("/clinic")
def with_slash() -> AnyResponse:
    return redirect(request.path + "/", 308)


@bp.get("/<any(phone, clinic, shared, vendor):folder>/", defaults={"name": "index.html"})
@bp.get("/<any(phone, clinic, shared, vendor):folder>/<path:name>")
def file(folder: str, name: str) -> AnyResponse:
    if "\0" in name or any(part.startswith(".") for part in name.split("/")):
        raise not_found()
    response = send_from_directory(settings().web_root / folder, name, conditional=True)
    response.headers["Cache-Control"] = "no-cache"
    if response.mimetype in PACKED:
        response.headers["Vary"] = "Accept-Encoding"
        if response.status_code == 200 and "gzip" in request.headers.get("Accept-Encoding", "").lower():
            return in_gzip(response, settings().web_root / folder / name)
    return response


@lru_cache(maxsize=512)
def packed(path: Path, changed_ns: int) -> bytes:
    """A file of the shell as gzip, made once for each state of it."""
    return gzip.compress(path.read_bytes(), 6, mtime=0)


def in_gzip(plain: AnyResponse, path: Path) -> AnyResponse:
    """The same answer, packed: a phone on a slow network waits a third of the time."""
    plain.close()
    response = Response(packed(path, path.stat().st_mtime_ns), headers=plain.headers)
    response.headers["Content-Encoding"] = "gzip"
    response.headers.pop("Accept-Ranges", None)
    if etag := plain.get_etag()[0]:
        response.set_etag(etag, weak=True)  # other bytes, the same content
    return response
