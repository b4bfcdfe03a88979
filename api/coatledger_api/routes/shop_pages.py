"""The shop's pages and their files: open to all, because they hold nothing of the shop."""

from typing import Annotated

from msgspec import Meta, Struct

from coatledger_api.negotiate import choose
from coatledger_api.operations import Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import ProblemError
from coatledger_api.shop_pages.files import (
    HEADERS,
    NAME,
    TYPES,
    StaticFile,
    page_file,
    static_file,
)

HTML = TYPES["html"]


class OneFile(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which file."""

    file: Annotated[str, Meta(pattern=NAME, description="A style, script, picture or catalogue.")]


@running("GET", "/gun-side", tag="Pages", scope=None, answers={HTML: str})
async def open_gun_side(call: Call[Nothing]) -> Reply:
    """Open the page for the bench and the booth: choose pieces, tap what was done.

    It holds nothing of the shop. A paired device reads and records with its own key; what it was
    opened for stands behind the `#`, which no browser sends.
    """
    return _page("gun-side")


@running("GET", "/wall", tag="Pages", scope=None, answers={HTML: str})
async def open_wall(call: Call[Nothing]) -> Reply:
    """Open the page for the wall: the rack, the clocks and the day, read from across the room."""
    return _page("wall")


@running("GET", "/life", tag="Pages", scope=None, answers={HTML: str})
async def open_life(call: Call[Nothing]) -> Reply:
    """Open the page that draws one piece's life; the piece stands behind the `#`."""
    return _page("life")


@running("GET", "/set-up", tag="Pages", scope=None, answers={HTML: str})
async def open_set_up(call: Call[Nothing]) -> Reply:
    """Open the page for the first hour of a shop, and for what changes later."""
    return _page("set-up")


@running("GET", "/pair", tag="Pages", scope=None, answers={HTML: str})
async def open_pair(call: Call[Nothing]) -> Reply:
    """Open the page that pairs this device with the shop by a one-time code behind the `#`."""
    return _page("pair")


@running(
    "GET", "/pages/{file}", tag="Pages", scope=None, problems=("not_found",),
    answers={TYPES[kind]: str for kind in ("css", "js", "json", "svg")},
)  # fmt: skip
async def read_page_file(call: Call[OneFile]) -> Reply:
    """Read a style, script, picture or catalogue of texts of the pages."""
    found = static_file(call.query.file)
    if found is None:
        raise ProblemError("not_found", f"no file of the pages is called {call.query.file}")
    choose(call.headers.get("accept"), (found.media_type,))
    return _reply(found)


OPERATIONS: tuple[Operation, ...] = (
    open_gun_side, open_wall, open_life, open_set_up, open_pair, read_page_file,
)  # fmt: skip


def _page(page: str) -> Reply:
    return _reply(page_file(page))


def _reply(file: StaticFile) -> Reply:
    text = file.media_type.startswith("text/")
    media_type = f"{file.media_type}; charset=utf-8" if text else file.media_type
    return Reply(file.body, media_type=media_type, headers=HEADERS)
