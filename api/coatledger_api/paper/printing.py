"""What printed things share: which form is asked for, the letters they are set in, and refusals."""

import importlib.util
from collections.abc import Mapping
from typing import Annotated, Literal

from msgspec import Meta

from coatledger_api.negotiate import JSON
from coatledger_api.problems import ProblemError

PDF, SVG, HTML = "application/pdf", "image/svg+xml", "text/html"
Units = Annotated[
    Literal["metric", "us"] | None,
    Meta(description="In which units; without it, those of the shop."),
]
# Marks and text only: opened by itself, a picture may load and run nothing.
PICTURE: Mapping[str, str] = {
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'"
}
FORMS: Mapping[str, str] = {"pdf": PDF, "svg": SVG, "html": HTML, "json": JSON}


def form_of(asked: str | None, media_type: str) -> str:
    """Return the media type to answer in: `format` where it was given, else by Accept."""
    return media_type if asked is None else FORMS[asked]


def headers_of(form: str, name: str, position: int) -> dict[str, str]:
    """Return the fields that go with a printed thing; a browser shows it rather than saving it."""
    ending = next(short for short, media in FORMS.items() if media == form)
    found = {
        "Coatledger-Position": str(position),
        "Content-Disposition": f'inline; filename="{name}.{ending}"',
    }
    return {**found, **PICTURE} if form == SVG else found


def require_printer() -> None:
    """Refuse where the package that sets type is not installed."""
    if importlib.util.find_spec("reportlab") is None:
        raise ProblemError(
            "not_acceptable",
            "this service sets no type: install coatledger[labels], or ask for application/json",
        )
