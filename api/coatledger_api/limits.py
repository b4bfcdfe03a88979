"""How often one key and one address may ask: a bucket each, refilled steadily, kept in memory.

A bucket that is full again is the same as none, so only the time at which it will be full is kept;
the one not used for longest gives way to a new one, and memory stays bounded whoever calls.

*Reference:* the fields are those of draft-ietf-httpapi-ratelimit-headers-10 (a draft, no standard
yet); Retry-After is RFC 9110, section 10.2.3. The bucket is the virtual scheduling form of the
generic cell rate algorithm, ITU-T I.371 (from memory).
"""

import math
from collections import OrderedDict
from collections.abc import Callable, Mapping
from ipaddress import IPv6Address, IPv6Network
from typing import NamedTuple

from coatledger_api.problems import ProblemError
from coatledger_api.settings import Settings

KEPT_MAX = 10_000
# A token that is not known costs its address this much more than a request: each makes the service
# look into its key book.
UNKNOWN_COSTS = 9


class Share(NamedTuple):
    """What is left in a bucket; `wait_s` is 0 when the request may pass."""

    name: str
    burst: int
    per_s: float
    left: int
    full_s: float
    wait_s: float

    def headers(self) -> dict[str, str]:
        """Tell it in the fields of HTTP."""
        window_s = math.ceil(self.burst / self.per_s)
        told = {
            "RateLimit-Policy": f'"{self.name}";q={self.burst};w={window_s}',
            "RateLimit": f'"{self.name}";r={self.left};t={math.ceil(self.full_s)}',
        }
        if self.wait_s > 0:
            told["Retry-After"] = str(math.ceil(self.wait_s))
        return told


class Buckets:
    """The buckets of one kind of caller."""

    def __init__(
        self, name: str, per_s: float, burst: int, clock: Callable[[], float],
        kept_max: int = KEPT_MAX,
    ) -> None:  # fmt: skip
        self._name = name
        self._per_s = per_s
        self._burst = burst
        self._clock = clock
        self._kept_max = kept_max
        self._full_at: OrderedDict[str, float] = OrderedDict()

    def __len__(self) -> int:
        return len(self._full_at)

    def take(self, who: str, cost: int = 1) -> Share:
        """Take from a caller's bucket; when too little is in it nothing is taken."""
        now = self._clock()
        missing = self._missing(who, now)
        wait_s = max(0.0, (missing + cost - self._burst) / self._per_s)
        if wait_s == 0:
            missing += cost
        if missing > 0:
            self._keep(who, now + missing / self._per_s)
        left = max(0, math.floor(self._burst - missing))
        return Share(self._name, self._burst, self._per_s, left, missing / self._per_s, wait_s)

    def spill(self, who: str, cost: int) -> None:
        """Take more afterwards, for a request that turned out dear; a bucket is never below
        empty."""
        now = self._clock()
        missing = min(self._burst, self._missing(who, now) + cost)
        self._keep(who, now + missing / self._per_s)

    def _missing(self, who: str, now: float) -> float:
        return max(0.0, self._full_at.get(who, now) - now) * self._per_s

    def _keep(self, who: str, full_at: float) -> None:
        self._full_at[who] = full_at
        self._full_at.move_to_end(who)
        if len(self._full_at) > self._kept_max:
            self._full_at.popitem(last=False)


class Limits:
    """The limits of one service, by key and by address."""

    def __init__(self, settings: Settings, clock: Callable[[], float]) -> None:
        self.keys = Buckets("key", settings.key_requests_per_s, settings.key_burst, clock)
        self.addresses = Buckets(
            "address", settings.address_requests_per_s, settings.address_burst, clock
        )

    def of_key(self, key_id: str) -> Mapping[str, str]:
        """Let a key's request pass and return the fields to tell, or refuse it."""
        share = self.keys.take(key_id)
        _let_pass(share, "this key asks")
        return share.headers()

    def of_address(self, host: str) -> None:
        """Let an address's request pass, or refuse it."""
        _let_pass(self.addresses.take(host), "this address asks")


def neighbourhood(host: str) -> str:
    """Return what is counted as one address: of IPv6 the first 64 bits, which one house holds."""
    if ":" not in host:
        return host
    try:
        address = IPv6Address(host.partition("%")[0])
    except ValueError:
        return host[:45]
    if address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return str(IPv6Network((address, 64), strict=False).network_address)


def _let_pass(share: Share, who: str) -> None:
    if share.wait_s > 0:
        often = f"{who} more than {share.per_s:g} times a second, after {share.burst} at once"
        raise ProblemError("too_many_requests", often, headers=share.headers())
