"""A request's body → JSON, with every limit kept: size, compression, depth, encoding."""

from __future__ import annotations

import zlib
from typing import Any

import orjson
from flask import Response, request

from plytide.auth.call import settings
from plytide.auth.denied import Denied
from plytide.auth.room import weigh
from plytide.wire import loose
from plytide.wire.loose import Broken


def raw_body() -> bytes:
    """The body's bytes, unpacked if the phone sent gzip. Raises Denied 413 or 400."""
    limit = settings().body_limit
    if request.content_length is not None and request.content_length > limit:
        raise too_large(limit)
    data = request.get_data(cache=False)
    encoding = request.headers.get("Content-Encoding", "identity").lower()
    if encoding == "gzip":
        unpack = zlib.decompressobj(wbits=31)
        try:
            data = unpack.decompress(data, limit + 1)
        except zlib.error as error:
            raise Denied(400, "not-gzip", "The body is marked as gzip and is not gzip.") from error
        if len(data) <= limit and not unpack.eof:
            raise Denied(400, "not-gzip", "The gzip body is cut short.")
    elif encoding != "identity":
        raise Denied(415, "encoding", "Send the body as it is or as gzip.")
    if len(data) > limit:
        raise too_large(limit)
    weigh(len(data))
    return data


def too_large(limit: int) -> Denied:
    return Denied(413, "too-large", f"This is too much at once: at most {limit // 1000} kB.")


def json_body() -> Any:
    """The body as JSON. Raises Denied 400 for what is not JSON."""
    try:
        return orjson.loads(raw_body())
    except orjson.JSONDecodeError as error:
        raise Denied(400, "not-json", "The body is not JSON.") from error


def json_loosely() -> tuple[dict[str, Any], Broken]:
    """As `json_object`, and where a part of it holds what JSON can't (half a character, a number that is none), the
    rest all the same, with what was broken in each item of its lists. Raises Denied."""
    data = raw_body()
    try:
        return _object(orjson.loads(data)), {}
    except orjson.JSONDecodeError as error:
        try:
            body, broken = loose.read(data)
        except (ValueError, RecursionError):
            raise Denied(400, "not-json", "The body is not JSON.") from error
        return _object(body), broken


def json_object() -> dict[str, Any]:
    return _object(json_body())


def _object(body: Any) -> dict[str, Any]:
    if not isinstance(body, dict):
        raise Denied(
            422,
            "not-an-object",
            "The body must be an object with named fields.",
            fields={"body": ["This must be an object with named fields."]},
        )
    return body


def answer(value: Any, status: int = 200) -> Response:
    """JSON out; packed when the caller takes gzip and it pays."""
    data = orjson.dumps(value)
    response = Response(data, status=status, mimetype="application/json")
    if len(data) > 1400 and "gzip" in request.headers.get("Accept-Encoding", "").lower():
        pack = zlib.compressobj(level=5, wbits=31)
        response.set_data(pack.compress(data) + pack.flush())
        response.headers["Content-Encoding"] = "gzip"
        response.headers["Vary"] = "Accept-Encoding"
    return response
