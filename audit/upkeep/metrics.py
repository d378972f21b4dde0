"""Numbers for Prometheus: requests of this process, and what `health` finds. Each process answers for itself."""

from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest

from records.models import Entry

from . import health

REQUESTS = CollectorRegistry()
_answered = Counter(
    "standing_requests", "Requests answered, by page and status", ["page", "method", "status"], registry=REQUESTS
)
_seconds = Histogram(
    "standing_request_seconds", "How long an answer took, by page", ["page"], registry=REQUESTS,
    buckets=(0.05, 0.1, 0.25, 0.5, 1, 2, 5, 10, 30, 60),
)  # fmt: skip
TYPE = "text/plain; version=0.0.4; charset=utf-8"


def answered(page: str, method: str, status: int, seconds: float) -> None:
    """Count a request. `page` is the name of its address, never the address: that may hold a secret."""
    _answered.labels(page, method, str(status)).inc()
    _seconds.labels(page).observe(seconds)


def text() -> bytes:
    """All of it as Prometheus reads it."""
    return generate_latest(REQUESTS) + generate_latest(_now())


def _now() -> CollectorRegistry:
    found, registry = health.look(), CollectorRegistry()
    Gauge("standing_ready", "1 when pages can be served", registry=registry).set(health.ready(found))
    state = Gauge("standing_check", "0 well, 1 somebody should look, 2 it cannot work", ["check"], registry=registry)
    value = Gauge("standing_check_value", "The number behind a check: bytes, seconds", ["check"], registry=registry)
    for check in found:
        state.labels(check.name).set(list(health.HealthState).index(check.state))
        if check.value is not None:
            value.labels(check.name).set(check.value)
    if all(check.state is not health.HealthState.STOP for check in found if check.name == "database"):
        Gauge("standing_entries", "Entries of all ledgers", registry=registry).set(Entry.objects.count())
    return registry
