"""A printer, a dusty bench and a camera: what becomes of a label before it is read again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pypdfium2
import zxingcpp
from PIL import Image, ImageFilter

DPI = 203
SHRUNK = 0.8
Box = tuple[int, int, int, int]


def printed(document: bytes, page: int = 0, dpi: int = DPI) -> Any:
    """Print a page of a PDF to a grey picture."""
    opened = pypdfium2.PdfDocument(document)
    try:
        return opened[page].render(scale=dpi / 72, grayscale=True).to_pil()
    finally:
        opened.close()


def text_of(document: bytes, page: int = 0) -> str:
    """Read the words of a page of a PDF."""
    opened = pypdfium2.PdfDocument(document)
    try:
        return str(opened[page].get_textpage().get_text_bounded())
    finally:
        opened.close()


def page_count(document: bytes) -> int:
    """Count the pages of a PDF."""
    opened = pypdfium2.PdfDocument(document)
    try:
        return len(opened)
    finally:
        opened.close()


def dusted(picture: Any, box: Box, share: float, speck_px: float, seed: int) -> Any:
    """Let opaque light dust fall on a part of a picture until a share of it is covered."""
    draw = np.random.default_rng(seed)
    pixels = np.array(picture)
    left, top, right, bottom = box
    covered = np.zeros(pixels.shape, bool)
    inside = covered[top:bottom, left:right]
    reach = int(speck_px) + 1
    rows, columns = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    while inside.mean() < share:
        for _ in range(8):
            x, y = draw.integers(left, right), draw.integers(top, bottom)
            off_x, off_y = draw.uniform(-0.5, 0.5, 2)
            radius = draw.uniform(0.5, 1.0) * speck_px / 2
            speck = (columns - off_x) ** 2 + (rows - off_y) ** 2 <= radius**2
            place = (slice(y - reach, y + reach + 1), slice(x - reach, x + reach + 1))
            here = covered[place]
            here |= speck[: here.shape[0], : here.shape[1]]
    pixels[covered] = draw.integers(190, 250, covered.sum())
    return Image.fromarray(pixels)


def shrunk(picture: Any, by: float = SHRUNK) -> Any:
    """Take a picture of it from further away."""
    size = (int(picture.width * by), int(picture.height * by))
    return picture.resize(size, Image.Resampling.LANCZOS)


def read(picture: Any) -> str | None:
    """Read a code as a phone does: it looks again, a little blurred, until it can."""
    for look in _looks(picture):
        for binarizer in (zxingcpp.Binarizer.LocalAverage, zxingcpp.Binarizer.GlobalHistogram):
            found = zxingcpp.read_barcodes(look, binarizer=binarizer)
            if found:
                return str(found[0].text)
    return None


def _looks(picture: Any) -> Iterator[Any]:
    yield picture
    for size in (3, 5):
        yield picture.filter(ImageFilter.MedianFilter(size))
    for radius in (1.0, 1.5, 2.0):
        yield picture.filter(ImageFilter.GaussianBlur(radius))
    larger = picture.resize((picture.width * 2, picture.height * 2), Image.Resampling.BICUBIC)
    for size in (3, 5):
        yield larger.filter(ImageFilter.MinFilter(size))
        yield larger.filter(ImageFilter.MedianFilter(size))
