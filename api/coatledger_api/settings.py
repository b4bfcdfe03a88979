"""What whoever runs a service may set; everything has a default that suits a small shop."""

import difflib
from collections.abc import Mapping
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct

PREFIX = "COATLEDGER_"
# Read elsewhere: by the command line's own options, and by the scripts.
OTHERS = ("HOME", "DATABASE", "SHOP", "SHOP_KEY", "URL", "KEY", "PYTHON")
# A host and perhaps a port; the service stands at the root of its address.
PUBLIC_URL_PATTERN = (
    r"^https?://([A-Za-z0-9.-]{1,100}|\[[0-9A-Fa-f:.]{2,45}\])(:[0-9]{1,5})?(?!\n)$"
)

# Where the pages of a web shop stand: `https://shop.example https://www.shop.example`, or `*`.
ORIGINS_PATTERN = (
    r"^(\*|https?://[A-Za-z0-9.:\[\]-]{1,120}( https?://[A-Za-z0-9.:\[\]-]{1,120})*)?(?!\n)$"
)
HOSTS_PATTERN = r"^(\S+:[1-9][0-9]{0,4}( \S+:[1-9][0-9]{0,4})*)?$"


class SettingsError(Exception):
    """Settings cannot be used; `faults` names each."""

    def __init__(self, faults: tuple[str, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(faults))


class Settings(Struct, frozen=True, kw_only=True):
    """Limits and rhythms of one service.

    `waiting_max` bounds the facts waiting for the writer: beyond it a client is told to come back.
    So it is with dates: `simulations_max` are computed at once, `simulations_waiting_max` wait.
    The head is signed every `sign_every_s` seconds when there is news; 0 leaves it to who asks.
    `public_url` is what devices call the service: it is written into codes. `print_font` is the
    path of a TrueType font for what is printed.
    An answer about a piece is given again to who asks within `answers_kept_s`, while nothing was
    recorded; 0 works out each. A client has `…_wait_s` for each part of a request, and to take what
    is written to it; then its connection is closed. A key or an address may ask `…_burst` times at
    once and `…_requests_per_s` for long. `webhook_hosts` are hosts with ports (`nas.lan:8080
    10.0.0.7:443`) that webhooks may also reach by http and in private networks; a try ends after
    `webhook_timeout_s`, and every `webhook_poll_s` it is looked for what another process left.
    Pages of `storefront_origins` may ask for ship promises; who would wait longer than
    `storefront_wait_s` is told the stated lead: the shop's own, else `fallback_lead_days`. An
    answer may be kept for `storefront_kept_s`, and never beyond the cut-off.
    Open promises are priced anew when facts arrive and `watch_quiet_s` brought no more, at most
    every `watch_every_s` (0 watches nothing); one is in danger below a chance of `danger_pct`, and
    out of it when that is `danger_margin_pct` higher.
    """

    port: Annotated[int, Meta(ge=0, le=65535)] | None = None
    public_url: Annotated[str, Meta(pattern=PUBLIC_URL_PATTERN)] | None = None
    print_font: Annotated[str, Meta(min_length=1)] | None = None
    body_bytes_max: Annotated[int, Meta(ge=1024)] = 1024 * 1024
    waiting_max: Annotated[int, Meta(ge=1000)] = 20_000
    commit_facts_max: Annotated[int, Meta(ge=1000)] = 5_000
    retry_after_s: Annotated[int, Meta(ge=1)] = 1
    reader_threads: Annotated[int, Meta(ge=1, le=16)] = 4
    simulations_max: Annotated[int, Meta(ge=1, le=16)] = 2
    simulations_waiting_max: Annotated[int, Meta(ge=0, le=1000)] = 16
    stream_ping_s: Annotated[float, Meta(gt=0)] = 15.0
    stream_poll_s: Annotated[float, Meta(gt=0)] = 2.0
    stream_retry_ms: Annotated[int, Meta(ge=0)] = 2_000
    streams_max: Annotated[int, Meta(ge=1)] = 200
    answers_kept_s: Annotated[float, Meta(ge=0, le=60)] = 1.0
    key_cache_s: Annotated[float, Meta(ge=0)] = 5.0
    key_requests_per_s: Annotated[float, Meta(gt=0, le=1e6)] = 200.0
    key_burst: Annotated[int, Meta(ge=1, le=10**7)] = 4_000
    address_requests_per_s: Annotated[float, Meta(gt=0, le=1e6)] = 400.0
    address_burst: Annotated[int, Meta(ge=1, le=10**7)] = 8_000
    sign_every_s: Annotated[float, Meta(ge=0)] = 6 * 3600.0
    storefront_origins: Annotated[str, Meta(pattern=ORIGINS_PATTERN)] = ""
    storefront_wait_s: Annotated[float, Meta(gt=0, le=30)] = 2.5
    storefront_kept_s: Annotated[int, Meta(ge=0, le=3600)] = 60
    fallback_lead_days: Annotated[int, Meta(ge=0, le=1000)] | None = None
    webhook_hosts: Annotated[str, Meta(pattern=HOSTS_PATTERN)] = ""
    webhook_timeout_s: Annotated[float, Meta(gt=0, le=60)] = 15.0
    webhook_poll_s: Annotated[float, Meta(gt=0, le=600)] = 5.0
    watch_every_s: Annotated[float, Meta(ge=0, le=3600)] = 10.0
    watch_quiet_s: Annotated[float, Meta(ge=0, le=3600)] = 2.0
    danger_pct: Annotated[float, Meta(gt=0, le=99)] = 60.0
    danger_margin_pct: Annotated[float, Meta(ge=0, le=50)] = 10.0
    head_wait_s: Annotated[float, Meta(gt=0)] = 10.0
    body_wait_s: Annotated[float, Meta(gt=0)] = 30.0
    write_wait_s: Annotated[float, Meta(gt=0)] = 30.0
    connections_max: Annotated[int, Meta(ge=1)] = 1_000
    shutdown_s: Annotated[int, Meta(ge=1)] = 3
    log: Literal["text", "json"] = "text"
    log_requests: bool = False
    traces: bool = False


def settings_from(environment: Mapping[str, str]) -> Settings:
    """Read COATLEDGER_… variables; every wrong value is named in the one refusal."""
    given: dict[str, Any] = {}
    faults: list[str] = []
    for field in msgspec.structs.fields(Settings):
        name = variable(field.name)
        if name not in environment:
            continue
        try:
            given[field.name] = msgspec.convert(environment[name], field.type, strict=False)
        except msgspec.ValidationError as error:
            faults.append(f"{name}={environment[name][:100]}: {error}")
    if faults:
        raise SettingsError(tuple(faults))
    return Settings(**given)


def variable(field: str) -> str:
    """Name the variable that sets a field."""
    return PREFIX + field.upper()


def strangers(environment: Mapping[str, str]) -> tuple[str, ...]:
    """Name variables that look like ours and are read by nobody: most often one is mistyped."""
    known = {variable(name) for name in (*Settings.__struct_fields__, *OTHERS)}
    found = []
    for name in sorted(environment):
        if name.startswith(PREFIX) and name not in known:
            near = difflib.get_close_matches(name, known, 1)
            found.append(f"{name} is no setting" + (f"; {near[0]} is one" if near else ""))
    return tuple(found)
