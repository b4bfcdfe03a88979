"""What the counts of a piece rest on before anything has become of it.

Most facts change nothing that is counted. A piece that nobody inspected for the last time, found
fault with, reworked, gave up or shipped adds its start and its stage and nothing else.
"""

from coatledger.subjects.piece import Piece


def counted(piece: Piece) -> object:
    """Return what the piece's counts depend on; states that are equal in it are counted alike."""
    if (
        piece.reworks
        or piece.defects
        or piece.shipped_us
        or piece.scrapped_us is not None
        or (piece.inspections and piece.first_final is not None)
    ):
        return piece
    return piece.species, piece.started_us, piece.stage
