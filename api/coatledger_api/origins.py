"""Pages of other origins that may ask, with a publishable word: CORS for the few addresses of it.

A word comes as `Authorization: Bearer clw_…`, which a browser asks leave for first, or as the
parameter `word`, for which it need not. A secret key never stands in an address, and one that comes
from a page is refused: whoever reads the page has it.

*Reference:* the Fetch standard of the WHATWG, section 3.3 (CORS protocol).
"""

from urllib.parse import parse_qsl

from coatledger_adapters.keys import PREFIXES, ApiKey

from coatledger_api.problems import ProblemError

ANY = "*"
_SHOWN = "ETag, Coatledger-Position, Retry-After, RateLimit, RateLimit-Policy, X-Request-Id"
_ASK_AGAIN_S = 7_200


def answer_headers(allowed: str, origin: str | None) -> dict[str, str]:
    """Let a page of an allowed origin read the answer, a refusal too."""
    if origin is None or not _is_allowed(allowed, origin):
        return {}
    named = ANY if ANY in allowed.split() else origin
    return {"Access-Control-Allow-Origin": named, "Access-Control-Expose-Headers": _SHOWN}


def leave_headers(allowed: str, origin: str | None) -> dict[str, str]:
    """Answer a browser that asks leave to ask: only with GET, only with these headers."""
    found = {"Vary": "Origin, Access-Control-Request-Method, Access-Control-Request-Headers"}
    if origin is None or not _is_allowed(allowed, origin):
        return found
    return {
        **found,
        "Access-Control-Allow-Origin": ANY if ANY in allowed.split() else origin,
        "Access-Control-Allow-Methods": "GET, HEAD",
        "Access-Control-Allow-Headers": "Authorization, If-None-Match",
        "Access-Control-Max-Age": str(_ASK_AGAIN_S),
    }


def authorization_of(authorization: str | None, query: bytes) -> str | None:
    """Return the header, or what stands in for it: the word of the address."""
    if authorization is not None:
        return authorization
    words = [value for name, value in parse_qsl(query.decode("latin-1")) if name == "word"]
    if not words:
        return None
    if words[0].startswith(PREFIXES["secret"]):
        raise ProblemError(
            "unauthorized",
            "a secret key never stands in an address: revoke it, and use a publishable word",
            headers={"WWW-Authenticate": 'Bearer realm="coatledger", error="invalid_request"'},
        )
    return f"Bearer {words[0]}"


def require_no_secret(key: ApiKey, origin: str | None) -> None:
    """Refuse a secret key that a browser sends for a page."""
    if origin is not None and key.kind == "secret":
        raise ProblemError(
            "forbidden",
            "a secret key came from a page, where anybody can read it: revoke it, and use a "
            "publishable word (clw_…)",
        )


def _is_allowed(allowed: str, origin: str) -> bool:
    found = allowed.split()
    return ANY in found or origin.rstrip("/").lower() in (one.lower() for one in found)
