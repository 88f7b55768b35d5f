"""The apps' own files, and the service worker with the shell's hash in front. No health data here."""

from __future__ import annotations

import gzip
import hashlib
import json
import logging
import mimetypes
import os
import re
from base64 import b64encode
from functools import lru_cache
from pathlib import Path

from flask import Response, redirect, request, send_from_directory
from werkzeug.wrappers import Response as AnyResponse

from plytide.auth.call import settings
from plytide.auth.denied import Denied, not_found
from plytide.auth.guards import ANYBODY
from plytide.http.route import Routes

log = logging.getLogger("plytide")

route = Routes("shell")

mimetypes.add_type("text/javascript", ".js")
mimetypes.add_type("application/manifest+json", ".webmanifest")

PHONE_FOLDERS = ("phone", "shared")
# Large icons are fetched by the browser itself when the app is installed; nothing shows them without a network.
NOT_IN_SHELL = ("sw.js", ".md", "-sources.json", "-192.png", "-512.png", "apple-touch-icon.png")
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


NAMED = {
    ".html": re.compile(r"""(?:src|href)=["']/([^"'#?]+\.[a-z]+)["']"""),
    ".js": re.compile(r"""(?:\bfrom|\bimport)\s*\(?\s*["'](\.[^"']+)["']"""),
}


LANGUAGES = re.compile(r"LANGUAGES = \{(.*?)\}")  # of words.js, which loads a language's words by its code


def _named(name: str, text: str) -> list[str]:
    """What a file of the shell names, as paths from the server's root."""
    pattern = NAMED.get(Path(name).suffix)
    found: list[str] = pattern.findall(text) if pattern else []
    if name == "phone/words.js" and (spoken := LANGUAGES.search(text)):
        found += [f"./words/{code}.js" for code in re.findall(r"(\w+):", spoken.group(1))]
    here = os.path.dirname(name)
    return [os.path.normpath(os.path.join(here, one)) if one.startswith(".") else one for one in found]


def lacking(web: Path, files: list[str]) -> list[str]:
    """What a page or a module of the shell names and the shell has not: a version that would stay blank."""
    there, missing = set(files), set()
    for name in files:
        if Path(name).suffix not in NAMED:
            continue
        for path in _named(name, (web / name).read_text()):
            if path not in there and path.startswith(PHONE_FOLDERS) and not path.endswith(NOT_IN_SHELL):
                missing.add(path)
    return sorted(missing)


@route("GET", "/phone/sw.js", ANYBODY, cost="file")
def service_worker() -> Response:
    """The worker, with the list of files and their hashes in front: the precache can't be incomplete, stale or mixed.

    While a file is missing no worker is given: phones stay with the version they have.
    """
    web = settings().web_root
    files = shell_files(web)
    if missing := lacking(web, files):
        log.error("the phone's files are incomplete: %s", ", ".join(missing))
        raise Denied(503, "incomplete", "A new version is being put in place. Try again soon.", retry_after=60)
    digests = [b64encode(hashlib.sha256((web / name).read_bytes()).digest()).decode() for name in files]
    shell = {"version": shell_version(web, files), "files": ["/" + name for name in files], "digests": digests}
    text = f"const SHELL = {json.dumps(shell)};\n" + (web / "phone/sw.js").read_text()
    response = Response(text, mimetype="text/javascript")
    response.headers["Cache-Control"] = "no-cache"
    response.headers["Service-Worker-Allowed"] = "/"
    return response


@route("GET", "/", ANYBODY, cost="file")
def landing() -> AnyResponse:
    return send_from_directory(settings().web_root, "index.html")


@route("GET", "/phone", ANYBODY, cost="file")
@route("GET", "/clinic", ANYBODY, cost="file")
def with_slash() -> AnyResponse:
    return redirect(request.path + "/", 308)


@route("GET", "/<any(phone, clinic, shared, vendor):folder>/", ANYBODY, cost="file", defaults={"name": "index.html"})
@route("GET", "/<any(phone, clinic, shared, vendor):folder>/<path:name>", ANYBODY, cost="file")
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
