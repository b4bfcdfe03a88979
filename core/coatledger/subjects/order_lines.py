"""Where each line of an order stands: shipped, packed, under way, and what nobody has begun."""

from collections.abc import Callable

from msgspec import Struct

from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece

GONE = ("shipped", "scrapped", "unborn")


class LineStands(Struct, frozen=True, kw_only=True):
    """One line: how many were ordered, have left, are packed, are worked on, and have no piece."""

    line: str
    quantity: int
    shipped: tuple[str, ...] = ()
    packed: tuple[str, ...] = ()
    under_way: tuple[str, ...] = ()

    @property
    def not_begun(self) -> int:
        """How many of it no piece stands for."""
        there = len(self.shipped) + len(self.packed) + len(self.under_way)
        return max(self.quantity - there, 0)

    @property
    def rest(self) -> int:
        """How many of it have not left."""
        return max(self.quantity - len(self.shipped), 0)


def lines_of(order: Order, piece_of: Callable[[str], Piece]) -> tuple[LineStands, ...]:
    """Lay an order's pieces along its lines; one that was given to no line fills them in order."""
    stands = {line.line: _Filling(line.line, line.quantity) for line in order.lines}
    if not stands:
        return ()
    allotted = {one.piece: one.line for one in order.pieces}
    loose: list[tuple[str, str]] = []
    for word in dict.fromkeys((*allotted, *order.shipped)):
        where, line = "shipped", allotted.get(word)
        if word not in order.shipped:
            piece = piece_of(word)
            if piece.order != order.order or piece.stage in GONE:
                continue
            where, line = ("packed" if piece.stage == "packed" else "under_way"), piece.line or line
        if line in stands:
            stands[line].take(word, where)
        else:
            loose.append((word, where))
    for word, where in loose:
        room = next((one for one in stands.values() if one.room), None)
        (room or next(iter(stands.values()))).take(word, where)
    return tuple(one.told() for one in stands.values())


class _Filling:
    """One line while its pieces are counted."""

    def __init__(self, line: str, quantity: int) -> None:
        self._line, self._quantity = line, quantity
        self._words: dict[str, list[str]] = {"shipped": [], "packed": [], "under_way": []}

    @property
    def room(self) -> bool:
        return sum(map(len, self._words.values())) < self._quantity

    def take(self, word: str, where: str) -> None:
        self._words[where].append(word)

    def told(self) -> LineStands:
        words = {where: tuple(found) for where, found in self._words.items()}
        return LineStands(line=self._line, quantity=self._quantity, **words)
