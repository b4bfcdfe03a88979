"""What whoever runs a service may set; everything has a default that suits a small shop."""

from collections.abc import Mapping
from typing import Annotated, Any

import msgspec
from msgspec import Meta, Struct

PREFIX = "COATLEDGER_"


class SettingsError(Exception):
    """A setting cannot be used; the message names it."""


class Settings(Struct, frozen=True, kw_only=True):
    """Limits and rhythms of one service.

    `waiting_max` bounds the facts waiting for the writer: beyond it a client is told to come back.
    """

    body_bytes_max: Annotated[int, Meta(ge=1024)] = 1024 * 1024
    waiting_max: Annotated[int, Meta(ge=1000)] = 20_000
    commit_facts_max: Annotated[int, Meta(ge=1000)] = 5_000
    retry_after_s: Annotated[int, Meta(ge=1)] = 1
    reader_threads: Annotated[int, Meta(ge=1, le=16)] = 4
    stream_ping_s: Annotated[float, Meta(gt=0)] = 15.0
    stream_poll_s: Annotated[float, Meta(gt=0)] = 2.0
    stream_retry_ms: Annotated[int, Meta(ge=0)] = 2_000
    streams_max: Annotated[int, Meta(ge=1)] = 200
    key_cache_s: Annotated[float, Meta(ge=0)] = 5.0
    shutdown_s: Annotated[int, Meta(ge=1)] = 3


def settings_from(environment: Mapping[str, str]) -> Settings:
    """Read COATLEDGER_… variables; one that is not ours is left alone, a wrong value is refused."""
    given: dict[str, Any] = {}
    for field in msgspec.structs.fields(Settings):
        name = PREFIX + field.name.upper()
        if name not in environment:
            continue
        try:
            given[field.name] = msgspec.convert(environment[name], field.type, strict=False)
        except msgspec.ValidationError as error:
            raise SettingsError(f"{name}={environment[name]}: {error}") from error
    return Settings(**given)
