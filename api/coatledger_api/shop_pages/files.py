"""The files of the pages, read once from the installed package.

They hold nothing of any shop: what a page shows it asks of the public addresses, with the key of
the device it runs on.
"""

import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from coatledger_api.shop_pages.act_forms import act_forms

PAGES = ("gun-side", "wall", "life", "set-up", "pair")
FORMS = "act-forms.json"
NAME = r"^[a-z][a-z0-9-]{0,40}(\.[a-z]{2})?\.(css|js|json|svg)$"
TYPES: Mapping[str, str] = {
    "css": "text/css",
    "js": "text/javascript",
    "json": "application/json",
    "svg": "image/svg+xml",
    "html": "text/html",
}
# A label may be read where there is no signal: the browser then opens what it has. A page asks for
# its files again after it stands, so an older program is shown once more at most.
_KEPT_S = 7 * 86_400
# Scripts, styles, pictures and answers from this service alone; nothing written into the markup
# runs, nobody frames a page, no form leaves it.
HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": "default-src 'self'; img-src 'self' data:; object-src 'none'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Cache-Control": f"private, max-age={_KEPT_S}",
}


class StaticFile(NamedTuple):
    """One file: what it is and its bytes."""

    media_type: str
    body: bytes


def static_file(name: str) -> StaticFile | None:
    """Return a style, script, picture or catalogue of texts; None when there is none so called.

    `act-forms.json` is written from the events and lies in no folder.
    """
    if name == FORMS:
        return StaticFile(TYPES["json"], act_forms())
    return _all().get(name) if re.match(NAME, name) else None


def page_file(page: str) -> StaticFile:
    """Return the document of a page."""
    assert page in PAGES, page
    return _all()[f"{page}.html"]


@cache
def _all() -> Mapping[str, StaticFile]:
    """Read every file there is: what strangers ask for by other names is not kept."""
    folder = files("coatledger_api.shop_pages").joinpath("static")
    return {
        place.name: StaticFile(TYPES[place.name.rpartition(".")[2]], place.read_bytes())
        for place in folder.iterdir()
    }
