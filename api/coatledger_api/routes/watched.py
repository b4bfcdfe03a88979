"""What watches the service from outside: its metrics."""

from coatledger_api.metrics import OPEN_METRICS
from coatledger_api.operations import NEVER_CACHED, Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import ProblemError

WITH_VERSION = f"{OPEN_METRICS}; version=1.0.0; charset=utf-8"


@running("GET", "/metrics", tag="Health", scope="audit", answers={OPEN_METRICS: str},
         problems=("not_found",))  # fmt: skip
async def read_metrics(call: Call[Nothing]) -> Reply:
    """Read counts of the service in the text of OpenMetrics.

    Requests by operation and class of status, how long they took, transactions of the writer, and
    how things stand now. Nothing in it tells of a person or a piece. Where its library is not
    installed there is nothing here: `pip install "coatledger[observe]"`.
    """
    metrics = call.service.metrics
    if metrics is None:
        raise ProblemError("not_found", "metrics need coatledger[observe] to be installed")
    text = await call.service.in_thread(metrics.text)
    return Reply(text, media_type=WITH_VERSION, headers=NEVER_CACHED)


OPERATIONS: tuple[Operation, ...] = (read_metrics,)
