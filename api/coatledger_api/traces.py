"""Spans of requests and commits for OpenTelemetry: off unless asked for, and free of words.

A request's span continues the one its caller names (W3C Trace Context); a commit's span links those
of the requests it held. Where spans go is said by OpenTelemetry's own variables, OTEL_….
"""

from collections.abc import Mapping
from typing import Any

from coatledger_api.visit import Visit
from coatledger_api.watching import Commit

LINKS_MAX = 64
SERVER_ERROR = 500


class Traces:
    """Makes spans with a provider of tracers, and ends with it."""

    def __init__(self, provider: Any) -> None:
        from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator

        self._provider = provider
        self._tracer = provider.get_tracer("coatledger")
        self._propagator = TraceContextTextMapPropagator()

    def begun(self, visit: Visit, method: str, headers: Mapping[str, str]) -> None:
        """Begin a request's span, under the caller's when it names one."""
        from opentelemetry.trace import SpanKind

        carried = {"traceparent": headers["traceparent"]} if "traceparent" in headers else {}
        visit.span = self._tracer.start_span(
            method,
            context=self._propagator.extract(carried),
            kind=SpanKind.SERVER,
            attributes={"http.request.method": method, "coatledger.request": visit.request_id},
        )

    def asked(self, visit: Visit, method: str, status: int, took_s: float) -> None:
        """End it, under the name of its operation."""
        from opentelemetry.trace import StatusCode

        span = visit.span
        if span is None:
            return
        span.update_name(visit.operation or method)
        span.set_attribute("http.response.status_code", status)
        if status >= SERVER_ERROR:
            span.set_status(StatusCode.ERROR)
        span.end()

    def committed(self, commit: Commit) -> None:
        """Write down one commit, when it is over."""
        from opentelemetry.context import Context
        from opentelemetry.trace import Link, StatusCode

        span = self._tracer.start_span(
            "commit",
            context=Context(),
            links=[Link(one.get_span_context()) for one in commit.spans[:LINKS_MAX]],
            attributes={"coatledger.requests": commit.requests, "coatledger.facts": commit.facts},
            start_time=commit.began_ns,
        )
        if commit.failed:
            span.set_status(StatusCode.ERROR)
        span.end(commit.began_ns + round(commit.took_s * 1e9))

    def close(self) -> None:
        """Send what is left."""
        self._provider.shutdown()


def traces_to_collector() -> Traces:
    """Make traces that are sent to a collector by OTLP over HTTP, as OTEL_… says."""
    from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    from opentelemetry.sdk.resources import Resource
    from opentelemetry.sdk.trace import TracerProvider
    from opentelemetry.sdk.trace.export import BatchSpanProcessor

    provider = TracerProvider(resource=Resource.create({"service.name": "coatledger"}))
    provider.add_span_processor(BatchSpanProcessor(OTLPSpanExporter()))
    return Traces(provider)
