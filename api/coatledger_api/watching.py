"""What may watch a service at work: each request as it begins and ends, and each commit."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple, Protocol

from coatledger_api.visit import Visit


class Commit(NamedTuple):
    """One transaction of the writer. `spans` are what watchers hung on the requests it held."""

    requests: int
    facts: int
    began_ns: int
    took_s: float
    failed: bool
    spans: Sequence[Any] = ()


class Watcher(Protocol):
    """One that watches. What it raises would be a request's, so it raises nothing."""

    def begun(self, visit: Visit, method: str, headers: Mapping[str, str]) -> None:
        """A request begins."""

    def asked(self, visit: Visit, method: str, status: int, took_s: float) -> None:
        """It was answered; 0 when nobody was there any more."""

    def committed(self, commit: Commit) -> None:
        """The writer committed, or failed to; told from its thread."""
