"""What stands finished on the shelf and belongs to nobody: it can leave with the next pick-up."""

from collections.abc import Iterable, Mapping, Sequence

from coatledger.events.orders import HoldBefore
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import open_orders, pieces
from coatledger.subjects.order_lines import lines_of
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

Made = tuple[str, tuple[tuple[str, str], ...]]


def made_as(sku: str, options: Mapping[str, str]) -> Made:
    """Name what a piece was made as, or what a line asks for: both are the same or they are not."""
    return sku, tuple(sorted(options.items()))


def on_shelf(
    reader: Reader, asked: Asked, holds: Iterable[HoldBefore], wanted: Iterable[Made]
) -> Mapping[Made, int]:
    """Count, for each thing that is asked for, how many can be sold off the shelf.

    *Reference:* a piece counts that is packed, is not held, was started with this SKU and these
    options and is no open order's; what open orders and holds in force still lack of the same is
    taken off first. *Valid:* any place.
    """
    words = words_on_shelf(reader, asked, wanted)
    view = asked.view(reader)
    free = {made: len(found) for made, found in words.items()}
    if any(free.values()):
        for made, lacking in _lacking(reader, asked, view, holds):
            if made in free:
                free[made] = max(free[made] - lacking, 0)
    return free


def held_on_shelf(
    reader: Reader, asked: Asked, holds: Sequence[HoldBefore]
) -> Mapping[tuple[str, str], int]:
    """Count, for each hold and each line of it, how many of its pieces stand on the shelf: they
    need not be made.

    *Reference:* as `on_shelf`; of several holds the one placed first takes first. *Valid:* holds in
    the order they were placed.
    """
    lines = [(hold.hold, line) for hold in holds for line in hold.lines if line.sku is not None]
    made = [made_as(line.sku or "", line.options) for _, line in lines]
    free = dict(on_shelf(reader, asked, (), made))
    taken: dict[tuple[str, str], int] = {}
    for (hold, line), what in zip(lines, made, strict=True):
        taken[hold, line.line] = min(free[what], line.quantity)
        free[what] -= taken[hold, line.line]
    return taken


def words_on_shelf(
    reader: Reader, asked: Asked, wanted: Iterable[Made]
) -> Mapping[Made, Sequence[str]]:
    """Name the pieces that stand packed and are no open order's, in order of their words.

    *Reference:* as `on_shelf`, before anything is taken off. *Valid:* any place.
    """
    found: dict[Made, list[str]] = {made: [] for made in wanted}
    if found:
        view = asked.view(reader)
        for piece in pieces(reader, asked, ("packed",)):
            made = made_as(piece.sku or "", piece.options)
            if made in found and _is_free(piece, view):
                found[made].append(piece.piece)
    return found


def _is_free(piece: Piece, view: View) -> bool:
    if piece.held or piece.open_defects:
        return False
    return piece.order is None or view.order(piece.order).stage == "cancelled"


def _lacking(
    reader: Reader, asked: Asked, view: View, holds: Iterable[HoldBefore]
) -> Iterable[tuple[Made, int]]:
    for order in open_orders(reader, asked):
        for line, stands in zip(order.lines, lines_of(order, view.piece), strict=True):
            if line.sku is not None and stands.not_begun:
                yield made_as(line.sku, line.options), stands.not_begun
    for hold in holds:
        for line in hold.lines:
            if line.sku is not None:
                yield made_as(line.sku, line.options), line.quantity
