"""Draws pictures, in a process of its own: the renderer stops every thread while it works.

The renderer is an optional package. Numbers stand inside the specification and nothing may be
fetched, so a picture can never reach into the network.
"""

import importlib.util
import threading
from collections import OrderedDict
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from html import escape
from multiprocessing import get_context
from typing import Any, Literal

import msgspec

from coatledger_api.problems import ProblemError

VEGA_LITE = "5.20"
KEPT = 64
PATIENCE_S = 30.0
PNG_SCALE = 2.0
As = Literal["svg", "png"]


class Painter:
    """One process that draws, begun at the first picture, and the last few pictures."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None
        self._kept: OrderedDict[tuple[str, bytes], bytes] = OrderedDict()

    def draw(self, spec: dict[str, Any], form: As) -> bytes:
        """Draw a specification, or refuse where no renderer is installed."""
        if importlib.util.find_spec("vl_convert") is None:
            raise ProblemError(
                "not_acceptable",
                "this service has no renderer: install coatledger[charts], or ask for "
                "application/vnd.vegalite.v5+json and draw it where it is read",
            )
        key = (form, msgspec.json.encode(spec))
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        picture = self._drawn(key[1], form)
        with self._lock:
            self._kept[key] = picture
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return picture

    def close(self) -> None:
        """Let the process end."""
        with self._lock:
            if self._pool is not None:
                self._pool.shutdown(wait=True, cancel_futures=True)
                self._pool = None

    def _drawn(self, spec: bytes, form: As) -> bytes:
        with self._lock:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
            pool = self._pool
        try:
            return pool.submit(drawn, spec, form).result(PATIENCE_S)
        except BrokenProcessPool:
            with self._lock:
                self._pool = None
            raise


def drawn(spec: bytes, form: As) -> bytes:
    """Draw one picture; runs in the process that draws."""
    import vl_convert

    said = msgspec.json.decode(spec)
    if form == "png":
        png: bytes = vl_convert.vegalite_to_png(
            said, vl_version=VEGA_LITE, scale=PNG_SCALE, allowed_base_urls=[]
        )
        return png
    svg: str = vl_convert.vegalite_to_svg(said, vl_version=VEGA_LITE, allowed_base_urls=[])
    return described(svg, " ".join(said["title"]["text"]), said["description"]).encode()


def described(svg: str, title: str, description: str) -> str:
    """Give a picture a name and a description that a screen reader says."""
    opening, _, rest = svg.partition(">")
    return (
        f'{opening} role="img"><title>{escape(title)}</title>'
        f"<desc>{escape(description)}</desc>{rest}"
    )
