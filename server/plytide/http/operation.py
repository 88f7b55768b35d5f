"""For whoever runs the server: is it alive, can it work, how busy is it. Nothing about any person."""

from __future__ import annotations

import time

from flask import Response, g, request
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    generate_latest,
    multiprocess,
)

from plytide.auth.call import settings
from plytide.auth.denied import Denied
from plytide.auth.guards import ANYBODY, OPERATOR
from plytide.http.body import answer
from plytide.http.route import Routes
from plytide.storage.files import health

route = Routes("operation", called="ops")

BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10)
# By the route's own pattern, never the address: an address holds ids.
answered = Counter("plytide_requests", "Answers, by route and status", ["method", "route", "status"])
took = Histogram("plytide_request_seconds", "Seconds until the answer, by route", ["method", "route"], buckets=BUCKETS)


@route.blueprint.before_app_request
def begin() -> None:
    g.began = time.perf_counter()


@route.blueprint.after_app_request
def count(response: Response) -> Response:
    pattern = str(request.url_rule) if request.url_rule else "none"
    method = request.method if request.method in ("GET", "POST", "PUT", "PATCH", "DELETE", "HEAD") else "other"
    answered.labels(method, pattern, response.status_code).inc()
    if "began" in g:
        took.labels(method, pattern).observe(time.perf_counter() - g.began)
    return response


@route("GET", "/healthz", ANYBODY, cost="free")
def alive() -> Response:
    """The process answers. Asks nothing of the disk."""
    return answer({"alive": True})


@route("GET", "/readyz", ANYBODY, cost="free")
def ready() -> Response:
    """Every database can be read and the disk has room: this server can take calls."""
    wrong = health.faults(settings().data_dir, settings().least_free_bytes)
    if wrong:
        raise Denied(503, "not-ready", "; ".join(wrong), retry_after=10)
    return answer({"ready": True, "warnings": health.warnings(settings().data_dir, settings())})


@route("GET", "/metrics", OPERATOR)
def metrics() -> Response:
    """Counters for Prometheus: for callers on the machine itself, or with the token of PLYTIDE_METRICS_TOKEN."""
    registry = CollectorRegistry()
    if settings().metrics_dir:
        multiprocess.MultiProcessCollector(registry, str(settings().metrics_dir))  # type: ignore[no-untyped-call]
    else:
        registry.register(answered)
        registry.register(took)
    gauges = CollectorRegistry()
    for name, words, value in health.figures(settings().data_dir, settings()):
        Gauge(name, words, registry=gauges).set(value)
    return Response(generate_latest(registry) + generate_latest(gauges), content_type=CONTENT_TYPE_LATEST)
