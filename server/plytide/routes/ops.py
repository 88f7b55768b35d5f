"""For whoever runs the server: is it alive, can it work, how busy is it. Nothing about any person."""

from __future__ import annotations

import time

from flask import Blueprint, Response, g, request
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    generate_latest,
    multiprocess,
)

from plytide import access
from plytide.access import Denied, settings
from plytide.routes.body import answer
from plytide.store import health

bp = Blueprint("ops", __name__)

BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10)
# By the route's own pattern, never the address: an address holds ids.
answered = Counter("plytide_requests", "Answers, by route and status", ["method", "route", "status"])
took = Histogram("plytide_request_seconds", "Seconds until the answer, by route", ["method", "route"], buckets=BUCKETS)


@bp.before_app_request
def begin() -> None:
    g.began = time.perf_counter()


@bp.after_app_request
def count(response: Response) -> Response:
    route = str(request.url_rule) if request.url_rule else "none"
    method = request.method if request.method in ("GET", "POST", "PUT", "PATCH", "DELETE", "HEAD") else "other"
    answered.labels(method, route, response.status_code).inc()
    if "began" in g:
        took.labels(method, route).observe(time.perf_counter() - g.began)
    return response


@bp.get("/healthz")
def alive() -> Response:
    """The process answers. Asks nothing of the disk."""
    return answer({"alive": True})


@bp.get("/readyz")
def ready() -> Response:
    """Every database can be read and the disk has room: this server can take calls."""
    wrong = health.faults(settings().data_dir, settings().least_free_bytes)
    if wrong:
        raise Denied(503, "not-ready", "; ".join(wrong), retry_after=10)
    return answer({"ready": True})


@bp.get("/metrics")
def metrics() -> Response:
    """Counters for Prometheus: for callers on the machine itself, or with the token of PLYTIDE_METRICS_TOKEN."""
    access.may_measure()
    registry = CollectorRegistry()
    if settings().metrics_dir:
        multiprocess.MultiProcessCollector(registry, str(settings().metrics_dir))  # type: ignore[no-untyped-call]
    else:
        registry.register(answered)
        registry.register(took)
    gauges = CollectorRegistry()
    for name, words, value in health.figures(settings().data_dir):
        Gauge(name, words, registry=gauges).set(value)
    return Response(generate_latest(registry) + generate_latest(gauges), content_type=CONTENT_TYPE_LATEST)
