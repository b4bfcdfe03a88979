"""Who is calling: from the Authorization header to a key of this shop and its scopes."""

from base64 import b64decode
from collections.abc import Callable
from datetime import datetime
from typing import NamedTuple

from coatledger.ledger.record import micros
from coatledger_adapters.keys import ApiKey, KeyBook, is_token_of, key_id_of

from coatledger_api.problems import ProblemError

SECOND_US = 1_000_000
USED_EVERY_US = 60 * SECOND_US
CACHED_MAX = 1_000
_NOBODY = ApiKey("", "", frozenset(), bytes(32), 0)


class _Seen(NamedTuple):
    key: ApiKey
    read_us: int


class Keyring:
    """Recognises tokens. A key is read again after a few seconds, so that what another process
    revoked ends here too; what this process revokes ends at once."""

    def __init__(
        self, book: KeyBook, secret: bytes, clock: Callable[[], datetime], cache_s: float
    ) -> None:
        self.book = book
        self.secret = secret
        self._clock = clock
        self._cache_us = int(cache_s * SECOND_US)
        self._seen: dict[str, _Seen] = {}
        self._noted: dict[str, int] = {}

    def recognise(
        self, authorization: str | None, scope: str, method: str = "GET", *, basic: bool = False
    ) -> ApiKey:
        """Return the caller's key, or refuse: 401 when there is none, 403 when it may not.

        A publishable word only asks: strangers hold it as well. Where `basic` is so, the token may
        also be the password of HTTP Basic, and is held to the same.
        """
        try:
            key = self._key_of(_bearer_of(authorization) if basic else authorization)
        except ProblemError as error:
            if basic:
                _offer_basic(error)
            raise
        if key.kind == "publishable" and method not in ("GET", "HEAD"):
            raise ProblemError("forbidden", "a publishable word may only ask, with GET")
        if scope not in key.scopes:
            raise ProblemError(
                "forbidden",
                f"this needs the scope `{scope}`",
                headers={"WWW-Authenticate": f'Bearer error="insufficient_scope", scope="{scope}"'},
            )
        return key

    def forget(self, key_id: str) -> None:
        """Read this key anew when it is next used."""
        self._seen.pop(key_id, None)

    def to_note(self, key: ApiKey) -> int | None:
        """Return the time to note as the key's last use; None when it was noted a moment ago."""
        now_us = micros(self._clock())
        noted = self._noted.get(key.key_id, key.used_us or 0)
        if now_us - noted < USED_EVERY_US:
            return None
        self._noted[key.key_id] = now_us
        return now_us

    def _key_of(self, authorization: str | None) -> ApiKey:
        if authorization is None:
            raise _unauthorized("no Authorization header")
        scheme, _, token = authorization.partition(" ")
        token = token.strip()
        if scheme.lower() != "bearer":
            raise _unauthorized("the Authorization header is not of the Bearer scheme")
        key_id = key_id_of(token)
        if key_id is None:
            raise _unauthorized("this is not a whole token; was it cut or mistyped?", token)
        now_us = micros(self._clock())
        key = self._find(key_id, now_us)
        if key is None:
            # The same work as for a key that exists, so that time does not tell which ids do.
            is_token_of(_NOBODY, self.secret, token)
            raise _unauthorized("no such key", token)
        if not is_token_of(key, self.secret, token):
            raise _unauthorized("no such key", token)
        if not key.is_valid(now_us):
            raise _unauthorized("the key is expired or revoked", token)
        return key

    def _find(self, key_id: str, now_us: int) -> ApiKey | None:
        seen = self._seen.get(key_id)
        if seen is not None and 0 <= now_us - seen.read_us < self._cache_us:
            return seen.key
        key = self.book.find(key_id)
        if key is None:
            self._seen.pop(key_id, None)
            return None
        if len(self._seen) >= CACHED_MAX:
            self._seen.clear()
        self._seen[key_id] = _Seen(key, now_us)
        return key


def _bearer_of(authorization: str | None) -> str | None:
    """Read the password of HTTP Basic as a bearer's token; any other scheme stays as it is.

    *Reference:* RFC 7617: base64 of user, a colon and the password, in UTF-8. The user is anything.
    """
    scheme, _, given = (authorization or "").partition(" ")
    if scheme.lower() != "basic":
        return authorization
    try:
        pair = b64decode(given.strip(), validate=True).decode("utf-8")
    except ValueError:
        pair = ""
    return f"Bearer {pair.partition(':')[2]}"


def _offer_basic(error: ProblemError) -> None:
    """Let a refusal name both schemes, Basic first: some programs read only the first."""
    bearer = error.headers.get("WWW-Authenticate", "")
    both = f'Basic realm="coatledger", charset="UTF-8", {bearer}'
    error.headers = {**error.headers, "WWW-Authenticate": both}


def _unauthorized(detail: str, token: str | None = None) -> ProblemError:
    challenge = 'Bearer realm="coatledger"'
    if token is not None:
        challenge += ', error="invalid_token"'
    return ProblemError("unauthorized", detail, headers={"WWW-Authenticate": challenge})
