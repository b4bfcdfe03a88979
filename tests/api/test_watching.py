"""What watches a service: counts and spans of each request and commit, with no word of the shop."""

from collections.abc import Iterator
from typing import Any

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.room import CannotWriteError
from coatledger_api import observing
from coatledger_api.settings import Settings
from coatledger_api.traces import Traces
from opentelemetry.sdk.trace import ReadableSpan, TracerProvider
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from served import Served, refusal, serving

WORDS = ("T-1", "bedside", "can-7", "clk_", "testclient", "127.0.0.1")


def metrics(served: Served) -> dict[str, float]:
    """Every sample, by its name and labels."""
    answer = served.get("/metrics", token=served.key("audit"))
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    found = {}
    for family in text_string_to_metric_families(answer.text):  # type: ignore[no-untyped-call]
        for sample in family.samples:
            labels = ",".join(sample.labels.values())
            found[f"{sample.name}({labels})"] = sample.value
    return found


def test_requests_commits_and_the_present_are_counted(served: Served) -> None:
    served.record("lot_opened", lot="can-7")
    served.record("lot_stirred", lot="can-7")
    refusal(served.get("/v1/pieces/T-1"), 404, "not_found")
    refusal(served.get("/nowhere"), 404, "not_found")
    found = metrics(served)
    assert found["coatledger_requests_total(record_events,2xx)"] == 2
    assert found["coatledger_requests_total(read_piece,4xx)"] == 1
    assert found["coatledger_requests_total(none,4xx)"] == 1
    assert found["coatledger_request_seconds_count(record_events)"] == 2
    assert found["coatledger_commits_total(done)"] == 2
    assert found["coatledger_commit_facts_sum()"] == 2
    assert found["coatledger_position()"] == 2
    assert found["coatledger_waiting_facts()"] == 0
    assert found["coatledger_writable()"] == 1
    assert found["coatledger_parked_subjects()"] == 0


def test_a_commit_that_failed_is_counted_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    store = MemoryStore("trial")

    def full(changes: Any) -> None:
        raise CannotWriteError("the disk is full")

    with serving(store) as served:
        monkeypatch.setattr(store, "write", full)
        refusal(served.post(served.fact("lot_opened", lot="can-7")), 507, "no_room")
        assert metrics(served)["coatledger_commits_total(failed)"] == 1


def test_there_is_only_a_bounded_number_of_series_and_no_word_of_the_shop(served: Served) -> None:
    for number in range(50):
        served.get(f"/v1/pieces/T-{number}")
        served.get(f"/nowhere/{number}")
        served.ask("BREW", f"/v1/pieces/{number}")
    before = len(metrics(served))
    for number in range(50, 100):
        served.get(f"/v1/pieces/T-{number}")
        served.get(f"/nowhere/{number}")
    served.record("lot_opened", lot="can-7")
    metrics(served)
    text = served.get("/metrics").text
    assert len(metrics(served)) < before + 40
    assert not [word for word in WORDS if word in text]


def test_metrics_are_for_keys_of_their_scope(served: Served) -> None:
    refusal(served.get("/metrics", token=None), 401, "unauthorized")
    refusal(served.get("/metrics", token=served.key("read")), 403, "forbidden")


def test_without_the_library_there_is_nothing_and_the_service_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    with serving(MemoryStore("trial")) as served:
        refusal(served.get("/metrics"), 404, "not_found")
        served.record("lot_opened", lot="can-7")


@pytest.fixture
def traced(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Served, InMemorySpanExporter]]:
    """A service whose spans are kept for the test."""
    kept = InMemorySpanExporter()
    provider = TracerProvider()
    provider.add_span_processor(SimpleSpanProcessor(kept))
    monkeypatch.setattr(observing, "traces_to_collector", lambda: Traces(provider))
    with serving(MemoryStore("trial"), Settings(traces=True)) as served:
        yield served, kept


def test_a_request_is_a_span_that_goes_on_from_its_callers_and_a_commit_links_it(
    traced: tuple[Served, InMemorySpanExporter],
) -> None:
    served, kept = traced
    callers = "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01"
    answer = served.post(served.fact("lot_opened", lot="can-7"), headers={"traceparent": callers})
    spans = {span.name: span for span in kept.get_finished_spans()}
    asked, commit = spans["record_events"], spans["commit"]
    assert f"{asked.context.trace_id:032x}" == "0af7651916cd43dd8448eb211c80319c"
    assert asked.parent is not None
    assert f"{asked.parent.span_id:016x}" == "b7ad6b7169203331"
    assert attributes(asked)["http.response.status_code"] == 201
    assert attributes(asked)["coatledger.request"] == answer.headers["x-request-id"]
    assert [link.context.span_id for link in commit.links] == [asked.context.span_id]
    assert attributes(commit) == {"coatledger.requests": 1, "coatledger.facts": 1}


def test_spans_hold_no_word_of_the_shop_and_a_failure_is_told(
    traced: tuple[Served, InMemorySpanExporter], monkeypatch: pytest.MonkeyPatch
) -> None:
    served, kept = traced
    served.record("lot_opened", lot="can-7")
    served.get("/v1/pieces/T-1")
    monkeypatch.setattr(served.store, "reading", None)
    assert served.get("/v1/clocks").status_code == 500
    spans = kept.get_finished_spans()
    assert [span.name for span in spans if not span.status.is_unset] == ["list_clocks"]
    told = "".join(span.to_json() for span in spans)
    assert not [word for word in WORDS if word in told]


def test_traces_are_off_unless_asked_for(served: Served) -> None:
    app: Any = served.client.app  # type: ignore[attr-defined]
    service = app.state.service
    assert [type(one).__name__ for one in service.watchers] == ["Metrics"]


def attributes(span: ReadableSpan) -> dict[str, Any]:
    return dict(span.attributes or {})
