"""What HTTP says around a body: media types, entity tags, conditions (RFC 9110)."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence

from coatledger_api.problems import ProblemError

JSON = "application/json"


def choose(accept: str | None, offered: Sequence[str]) -> str:
    """Choose the offered media type that the client likes best, or refuse.

    Of equally liked ones the first offered is taken (RFC 9110, section 12.5.1).
    """
    if not accept or accept == "*/*" or not offered:
        return offered[0] if offered else ""
    ranges = tuple(_ranges(accept))
    liked = [(_quality(media, ranges), -i, media) for i, media in enumerate(offered)]
    quality, _, media = max(liked)
    if quality <= 0:
        raise ProblemError(
            "not_acceptable", f"this address offers {', '.join(offered)}", headers=_VARY
        )
    return media


_VARY: Mapping[str, str] = {"Vary": "Accept"}


def _ranges(accept: str) -> Iterable[tuple[str, float]]:
    for part in accept.split(","):
        media, *parameters = (word.strip().lower() for word in part.split(";"))
        quality = 1.0
        for parameter in parameters:
            name, _, value = parameter.partition("=")
            if name.strip() == "q":
                try:
                    quality = min(1.0, max(0.0, float(value)))
                except ValueError:
                    quality = 0.0
        if media:
            yield media, quality


def _quality(media: str, ranges: Iterable[tuple[str, float]]) -> float:
    """The most specific range that covers a media type decides."""
    main = media.partition("/")[0]
    best = (0, 0.0)
    for wanted, quality in ranges:
        specific = {media: 3, f"{main}/*": 2, "*/*": 1}.get(wanted, 0)
        if specific:
            best = max(best, (specific, quality))
    return best[1]


def require_json(content_type: str | None, content_encoding: str | None) -> None:
    """Refuse a body that is not said to be plain JSON in UTF-8."""
    media, *parameters = (word.strip().lower() for word in (content_type or "").split(";"))
    charsets = [p.partition("=")[2].strip('"') for p in parameters if p.startswith("charset=")]
    if media != JSON or any(charset not in ("utf-8", "utf8") for charset in charsets):
        said = content_type or "nothing"
        raise ProblemError("unsupported_media_type", f"Content-Type says {said[:100]}", headers=_AS)
    if content_encoding not in (None, "", "identity"):
        said = content_encoding or ""
        raise ProblemError("unsupported_media_type", f"Content-Encoding says {said[:100]}")


# RFC 9110, section 15.5.16: say what would have been taken.
_AS: Mapping[str, str] = {"Accept": JSON}


def etag_of(body: bytes) -> str:
    """Make a strong entity tag of a representation's bytes."""
    return f'"{hashlib.sha256(body).hexdigest()[:32]}"'


def is_known(if_none_match: str | None, etag: str) -> bool:
    """Whether the client says it holds this representation already (weak comparison)."""
    if if_none_match is None:
        return False
    tags = [tag.strip().removeprefix("W/") for tag in if_none_match.split(",")]
    return "*" in tags or etag in tags
