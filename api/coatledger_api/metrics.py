"""Counts of the service for whoever watches it, in the text of OpenMetrics 1.0.

Labels are names of operations and classes of statuses, so there are a few hundred series whatever
comes; none holds a key, an address or a word of the shop's.
"""

from collections.abc import Callable, Mapping
from typing import Any

from coatledger_api.visit import Visit
from coatledger_api.watching import Commit

OPEN_METRICS = "application/openmetrics-text"
SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0)
FACTS = (1, 2, 5, 10, 25, 50, 100, 500, 1_000, 5_000)
NO_OPERATION = "none"


class Metrics:
    """The counters of one service. `gauges` are read when somebody asks."""

    def __init__(self, gauges: Mapping[str, tuple[str, Callable[[], float]]]) -> None:
        from prometheus_client import CollectorRegistry, ProcessCollector

        registry = CollectorRegistry()
        self._registry = registry
        self._requests = _made("Counter", registry, "requests", "Requests answered.",
                               labels=("operation", "status"))  # fmt: skip
        self._seconds = _made("Histogram", registry, "request_seconds", "How long an answer took.",
                              labels=("operation",), buckets=SECONDS)  # fmt: skip
        self._commits = _made("Counter", registry, "commits", "Transactions of the writer.",
                              labels=("outcome",))  # fmt: skip
        self._commit_seconds = _made("Histogram", registry, "commit_seconds",
                                     "How long a transaction took.", buckets=SECONDS)  # fmt: skip
        self._facts = _made("Histogram", registry, "commit_facts",
                            "Facts that a transaction held.", buckets=FACTS)  # fmt: skip
        for name, (says, value) in gauges.items():
            _made("Gauge", registry, name, says).set_function(value)
        ProcessCollector(registry=registry)

    def begun(self, visit: Visit, method: str, headers: Mapping[str, str]) -> None:
        """Nothing is counted before there is an answer."""

    def asked(self, visit: Visit, method: str, status: int, took_s: float) -> None:
        """Count a request."""
        operation = visit.operation or NO_OPERATION
        self._requests.labels(operation, f"{status // 100}xx" if status else "gone").inc()
        self._seconds.labels(operation).observe(took_s)

    def committed(self, commit: Commit) -> None:
        """Count a transaction."""
        self._commits.labels("failed" if commit.failed else "done").inc()
        self._commit_seconds.observe(commit.took_s)
        self._facts.observe(commit.facts)

    def text(self) -> bytes:
        """Write everything down."""
        from prometheus_client.openmetrics import exposition

        told: bytes = exposition.generate_latest(self._registry)  # type: ignore[no-untyped-call]
        return told


def _made(
    kind: str, registry: Any, name: str, says: str, *, labels: tuple[str, ...] = (), **more: Any
) -> Any:  # fmt: skip
    import prometheus_client

    make = getattr(prometheus_client, kind)
    return make(name, says, labels, namespace="coatledger", registry=registry, **more)
