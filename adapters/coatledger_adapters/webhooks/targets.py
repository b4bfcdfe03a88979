"""Where a message may go: what an address must look like, and which machines are never asked.

A name says nothing about where it leads, so each address a name resolves to is judged, at every
delivery anew. Only the public internet is open; what whoever runs the service allows by name may
also lie in the shop's own network.
"""

import re
from collections.abc import Mapping
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from typing import Final, NamedTuple

from coatledger.events.base import whole

_LABEL = "[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
_HOST = rf"({_LABEL}\.){{0,9}}{_LABEL}|\[[0-9A-Fa-f:.]{{2,45}}\]"
# No user or password, no fragment; one reading only, so that nobody else reads it differently.
URL_PATTERN: Final = whole(
    rf"https?://({_HOST})(:[1-9][0-9]{{0,4}})?(/[A-Za-z0-9._~!$&'()*+,;=:@%/-]{{0,400}})?"
    r"(\?[A-Za-z0-9._~!$&'()*+,;=:@%/?-]{0,200})?"
)
_PARTS = re.compile(
    rf"(?P<scheme>https?)://(?P<host>{_HOST})(:(?P<port>[1-9][0-9]{{0,4}}))?(?P<rest>[/?].*)?"
)
HTTPS_PORT: Final = 443
PORT_MAX: Final = 65_535

# *Reference:* IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890, RFC 8190); 6to4
# RFC 3056, Teredo RFC 4380, NAT64 RFC 6052 and 8215, documentation RFC 5737, 3849 and 9637,
# multicast RFC 5771. 168.63.129.16 is the published address of one cloud's own services.
_CLOSED: Mapping[IPv4Network | IPv6Network, str] = {
    ip_network(network): why
    for network, why in (
        ("0.0.0.0/8", "this network"),
        ("10.0.0.0/8", "private"),
        ("100.64.0.0/10", "shared by a provider"),
        ("127.0.0.0/8", "this machine"),
        ("169.254.0.0/16", "link-local, where clouds keep their metadata"),
        ("172.16.0.0/12", "private"),
        ("192.0.0.0/24", "kept for protocols"),
        ("192.0.2.0/24", "documentation"),
        ("192.31.196.0/24", "kept for protocols"),
        ("192.52.193.0/24", "kept for protocols"),
        ("192.88.99.0/24", "a relay of 6to4"),
        ("192.168.0.0/16", "private"),
        ("192.175.48.0/24", "kept for protocols"),
        ("198.18.0.0/15", "for measuring networks"),
        ("198.51.100.0/24", "documentation"),
        ("203.0.113.0/24", "documentation"),
        ("224.0.0.0/4", "multicast"),
        ("240.0.0.0/4", "kept for the future, or broadcast"),
        ("168.63.129.16/32", "a cloud's own services"),
        ("2001::/23", "kept for protocols, Teredo among them"),
        ("2001:db8::/32", "documentation"),
        ("2002::/16", "6to4: an IPv4 address inside"),
        ("2620:4f:8000::/48", "kept for protocols"),
        ("3fff::/20", "documentation"),
    )
}
_PUBLIC_V6 = IPv6Network("2000::/3")
# An interface's id that holds an IPv4 address. *Reference:* RFC 5214, section 6.1 (ISATAP).
_ISATAP: Final = (0x0000_5EFE, 0x0200_5EFE)
# What may be allowed by name: this machine, and private networks. Never a cloud's metadata.
_OWN: tuple[IPv4Network | IPv6Network, ...] = tuple(
    ip_network(network)
    for network in (
        "127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "::1/128",
        "fc00::/7",
    )
)  # fmt: skip
_METADATA_V6 = IPv6Address("fd00:ec2::254")


class Target(NamedTuple):
    """Where a message goes. `is_allowed`: whoever runs the service named this host and port."""

    url: str
    host: str
    port: int
    path: str
    is_encrypted: bool
    is_allowed: bool

    @property
    def authority(self) -> str:
        """The host as the Host header names it."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        usual = HTTPS_PORT if self.is_encrypted else 80
        return host if self.port == usual else f"{host}:{self.port}"


class TargetError(Exception):
    """Nothing is sent there; the message says why."""


def allowed_hosts(setting: str) -> frozenset[str]:
    """Read the setting that names allowed hosts: `nas.lan:8080 127.0.0.1:9000`."""
    return frozenset(setting.lower().split())


def target_of(url: str, allowed: frozenset[str] = frozenset()) -> Target:
    """Take an address apart, or refuse it. Names are judged when they are resolved."""
    found = _PARTS.fullmatch(url)
    if found is None or not re.fullmatch(URL_PATTERN, url):
        raise TargetError("this is no address of the form https://host/path")
    is_encrypted = found["scheme"] == "https"
    host = found["host"].lower().strip("[]")
    port = int(found["port"] or (HTTPS_PORT if is_encrypted else 80))
    rest = found["rest"] or "/"
    path = f"/{rest}" if rest.startswith("?") else rest
    is_allowed = f"{found['host'].lower()}:{port}" in allowed
    target = Target(url, host, port, path, is_encrypted, is_allowed)
    why = _closed_name(target)
    if why is not None:
        raise TargetError(why)
    return target


def why_closed(address: str, *, is_allowed: bool = False) -> str | None:
    """Say why this IP address is never asked, or None when it may be."""
    try:
        ip = ip_address(address)
    except ValueError:
        return f"{address} is no address"
    if isinstance(ip, IPv6Address) and ip.ipv4_mapped is not None:
        return f"{address} hides an IPv4 address"
    if is_allowed and _is_own(ip):
        return None
    if isinstance(ip, IPv6Address) and ip not in _PUBLIC_V6:
        return f"{address} is not of the public internet"
    for network, why in _CLOSED.items():
        if ip.version == network.version and ip in network:
            return f"{address} is not of the public internet: {why}"
    if isinstance(ip, IPv6Address) and (int(ip) >> 32) & 0xFFFF_FFFF in _ISATAP:
        return f"{address} hides an IPv4 address"
    return None


def _is_own(ip: IPv4Address | IPv6Address) -> bool:
    own = any(ip.version == network.version and ip in network for network in _OWN)
    return own and ip != _METADATA_V6


def _closed_name(target: Target) -> str | None:
    if target.port > PORT_MAX:
        return f"there is no port {target.port}"
    if not target.is_encrypted and not target.is_allowed:
        return "only https is spoken, but to hosts this service was allowed by name"
    if target.port != HTTPS_PORT and not target.is_allowed:
        return f"port {target.port} is not open: use 443, or have host and port allowed by name"
    last = target.host.rpartition(".")[2]
    if ":" in target.host or last.isdigit() or last.startswith("0x"):
        return why_closed(target.host, is_allowed=target.is_allowed)
    if (last == "localhost" or "." not in target.host) and not target.is_allowed:
        return f"{target.host} is a name within a network: have host and port allowed by name"
    return None
