"""A document before it is PDF or HTML: a head with a code, and what stands below it in order."""

from typing import NamedTuple, TypeAlias


class Code(NamedTuple):
    """A QR code, and in words what it opens."""

    content: str
    says: str


class Heading(NamedTuple):
    """What the next part is about."""

    text: str


class Paragraph(NamedTuple):
    """Some sentences; `large` ones are what the reader came for, `quiet` ones what stands behind
    them, `typed` ones keep their letters in columns."""

    text: str
    large: bool = False
    quiet: bool = False
    typed: bool = False


class Listed(NamedTuple):
    """Sentences one below the other."""

    items: tuple[str, ...]


class Table(NamedTuple):
    """Rows of cells. `shares` are the columns' widths against each other; `ticks` gives each row a
    box to tick, ticked where `ticked` says that it was done before."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    ticks: bool = False
    ticked: tuple[bool, ...] = ()


Block: TypeAlias = Heading | Paragraph | Listed | Table


class Document(NamedTuple):
    """One thing to print. It begins on a page of its own and fits on one where it can."""

    title: str
    lead: tuple[str, ...]
    blocks: tuple[Block, ...]
    code: Code | None = None
    foot: str = ""
