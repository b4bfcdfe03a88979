"""What the service says of itself: a line a record, for eyes or as JSON, with the request's number.

No record holds a token: whatever looks like one is blotted out before it is written.
"""

import logging
import re
import sys
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, TextIO

import msgspec

from coatledger_api.settings import Settings
from coatledger_api.visit import VISIT

# The id after clk_ may be seen, it stands in every event the key recorded; what follows may not.
TOKEN = re.compile(r"(clk_[0-9A-Za-z]{1,8})[0-9A-Za-z]+")


class _Lines(logging.Formatter):
    """A record as a line of text."""

    def format(self, record: logging.LogRecord) -> str:
        visit = VISIT.get()
        asked = "" if visit is None else f" [{visit.request_id}]"
        text = f"{_time(record)} {record.levelname.lower()}{asked} {record.getMessage()}"
        fields: Mapping[str, Any] = getattr(record, "fields", {})
        if fields:
            text += f" in {fields['took_ms']} ms, key {fields['key'] or 'none'}"
        if record.exc_info:
            text += "\n" + self.formatException(record.exc_info)
        return _without_tokens(text)


class _Json(logging.Formatter):
    """A record as a line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        visit = VISIT.get()
        told: dict[str, Any] = {
            "time": _time(record),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if visit is not None:
            told["request"] = visit.request_id
        told |= getattr(record, "fields", {})
        if record.exc_info:
            told["exception"] = self.formatException(record.exc_info)
        return _without_tokens(msgspec.json.encode(told).decode())


def handler_of(settings: Settings, out: TextIO) -> logging.Handler:
    """Make the handler that writes records as the settings say."""
    handler = logging.StreamHandler(out)
    handler.setFormatter(_Json() if settings.log == "json" else _Lines())
    return handler


def set_up(settings: Settings) -> None:
    """Let everything this process logs go to the error stream, in one form."""
    logging.basicConfig(handlers=[handler_of(settings, sys.stderr)], level=logging.WARNING)
    logging.getLogger("coatledger").setLevel(logging.INFO)


def _time(record: logging.LogRecord) -> str:
    at = datetime.fromtimestamp(record.created, UTC)
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _without_tokens(text: str) -> str:
    return TOKEN.sub(r"\1…", text)
