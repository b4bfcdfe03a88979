"""Sets up what watches a service: metrics where their library is there, traces when asked for."""

import importlib.util
from collections.abc import Callable, Mapping
from typing import Any

from coatledger_api.metrics import Metrics
from coatledger_api.routes.health import behind_s, parked_subjects, room_of
from coatledger_api.service import Service
from coatledger_api.traces import traces_to_collector
from coatledger_api.watching import Watcher


def watch(service: Service) -> None:
    """Let everything that is installed and wanted watch a service."""
    watchers: list[Watcher] = []
    if importlib.util.find_spec("prometheus_client") is not None:
        service.metrics = Metrics(gauges_of(service))
        watchers.append(service.metrics)
    if service.settings.traces:
        traces = traces_to_collector()
        watchers.append(traces)
        service.at_end.append(traces.close)
    service.watchers = tuple(watchers)


def gauges_of(service: Service) -> Mapping[str, tuple[str, Callable[[], float]]]:
    """Say what is read off a service when somebody asks for its metrics."""

    def read(question: Callable[[Any], float]) -> float:
        with service.store.reading() as reader:
            return question(reader)

    return {
        "position": ("The last position recorded.", lambda: read(lambda r: r.head().size)),
        "parked_subjects": (
            "Subjects set apart because their facts cannot be folded, a few of each kind.",
            lambda: read(lambda reader: len(parked_subjects(reader))),
        ),
        "waiting_facts": ("Facts that wait for the writer.", lambda: service.writer.waiting),
        "streams": ("Open streams of the feed.", lambda: service.streams),
        "kept_bytes": ("Answers kept to be given again.", lambda: service.kept.size_bytes),
        "writable": (
            "Whether the ledger's database can be written, as far as one sees from outside.",
            lambda: float(room_of(service).writable),
        ),
        "free_bytes": (
            "Room on the ledger's disk where that is this machine's, else 0.",
            lambda: float(room_of(service).free_bytes or 0),
        ),
        "webhooks_behind_seconds": (
            "How long the oldest message that is due has waited.",
            lambda: behind_s(service),
        ),
    }
