"""One request as it is known while it is served: its number, and what is told and logged of it."""

from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any


@dataclass(slots=True)
class Visit:
    """A request under way. `headers` go with its answer, whatever that is; `guessed` says that it
    brought a secret nobody knows."""

    request_id: str
    operation: str | None = None
    key_id: str | None = None
    guessed: bool = False
    headers: dict[str, str] = field(default_factory=dict)
    span: Any = None


VISIT: ContextVar[Visit | None] = ContextVar("visit", default=None)
