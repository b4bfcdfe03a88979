"""The address at which devices reach the service: what a QR code has to begin with.

A phone cannot follow `127.0.0.1`, and a service cannot know by which name a shop's network calls
it, so the asker may say it, the operator may set it, and else the request's own host is taken.
"""

from collections.abc import Mapping
from typing import Annotated

from msgspec import Meta, ValidationError, convert

from coatledger_api.problems import ProblemError
from coatledger_api.settings import PUBLIC_URL_PATTERN, Settings

BaseAddress = Annotated[
    str,
    Meta(
        pattern=PUBLIC_URL_PATTERN,
        description="Where devices reach the service, such as http://192.168.1.20:8700; without "
        "it that of the setting COATLEDGER_PUBLIC_URL, else the host this request was sent to.",
    ),
]


def base_address(asked: str | None, settings: Settings, headers: Mapping[str, str]) -> str:
    """Return the address to write into codes, without a slash at its end."""
    if asked is not None:
        return asked
    if settings.public_url is not None:
        return settings.public_url
    scheme = "https" if headers.get("x-forwarded-proto", "").lower() == "https" else "http"
    try:
        return convert(f"{scheme}://{headers.get('host', '')}", BaseAddress)
    except ValidationError:
        raise ProblemError("bad_request", "the Host header names no host") from None
