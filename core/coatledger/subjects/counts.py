"""The shop's counts at any place: kept tallies for the present, folded again for the past."""

from collections.abc import Iterable, Iterator, Mapping

from coatledger.ledger.correct import history
from coatledger.ledger.store import Reader, StoredFold
from coatledger.subjects.asked import Asked
from coatledger.subjects.lot import Lot
from coatledger.subjects.order import Order
from coatledger.subjects.parked import ParkedError
from coatledger.subjects.piece import Piece
from coatledger.subjects.registry import state_of, word_of
from coatledger.subjects.tallies import of_piece
from coatledger.subjects.view import fold

PAGE = 500
Counts = Mapping[tuple[str, str], float]


def counts(
    reader: Reader, asked: Asked, names: Iterable[str], first: str = "", last: str = "\uffff"
) -> Counts:
    """Return the tallies of these names with keys between two, ends included.

    The present costs what lies between; a past place costs its history.
    """
    wanted = tuple(names)
    if asked.present:
        return {
            (t.name, t.key): t.value for name in wanted for t in reader.tallies(name, first, last)
        }
    total: dict[tuple[str, str], float] = {}
    for piece in pieces(reader, asked):
        for key, value in of_piece(piece).items():
            if key[0] in wanted and first <= key[1] <= last:
                total[key] = total.get(key, 0) + value
    return total


def pieces(
    reader: Reader, asked: Asked, stages: tuple[str, ...] | None = None, after: str = ""
) -> Iterator[Piece]:
    """Yield pieces in order of their words, as they were at the place asked for."""
    # A piece's stage of now says nothing of its stage then, so the past looks at all of them.
    shelves = stages if asked.present else None
    for stored in _all("piece", reader, shelves, f"piece:{after}" if after else ""):
        piece = known_piece(reader, asked, stored)
        if piece is None or piece.stage == "unborn":
            continue
        if stages is None or piece.stage in stages:
            yield piece


def known_piece(reader: Reader, asked: Asked, stored: StoredFold) -> Piece | None:
    """Return a piece as it was at the place asked for; None when it is parked."""
    try:
        if asked.present:
            piece: Piece = state_of("piece", stored.state)
            return piece
        return past(reader, asked, stored)
    except ParkedError:
        return None


def lots(reader: Reader, asked: Asked, stages: tuple[str, ...]) -> Iterator[Lot]:
    """Yield cans and mixes at these stages, in order of their words, as they were then."""
    for stored in _all("lot", reader, stages if asked.present else None):
        try:
            if asked.present:
                lot = state_of("lot", stored.state)
            else:
                facts = history(reader, stored.subject, known=asked.known, until_us=asked.as_of_us)
                lot = fold(stored.subject, facts)
        except ParkedError:
            continue
        if lot.stage in stages:
            yield lot


def open_orders(reader: Reader, asked: Asked) -> Iterator[Order]:
    """Yield orders of which something has not left yet, in order of their words."""
    view = asked.view(reader)
    for stored in _all("order", reader, ("open",) if asked.present else None):
        try:
            order = view.order(word_of(stored.subject))
        except ParkedError:
            continue
        if order.shelf == "open":
            yield order


def past(reader: Reader, asked: Asked, stored: StoredFold) -> Piece:
    """Fold one piece again as it was at the place asked for."""
    facts = history(reader, stored.subject, known=asked.known, until_us=asked.as_of_us)
    piece = fold(stored.subject, facts)
    assert isinstance(piece, Piece)
    return piece


def _all(
    kind: str, reader: Reader, shelves: tuple[str, ...] | None, after: str = ""
) -> Iterator[StoredFold]:
    while page := reader.shelf(kind, shelves, after, PAGE):
        yield from page
        after = page[-1].subject
        if len(page) < PAGE:
            return


def words(kind: str, reader: Reader) -> tuple[str, ...]:
    """List the words of all subjects of one kind."""
    return tuple(word_of(stored.subject) for stored in _all(kind, reader, None))


def shares(key: str) -> tuple[str, ...]:
    """Return the parts of a tally's key after its time."""
    return tuple(key.split("|")[1:])
