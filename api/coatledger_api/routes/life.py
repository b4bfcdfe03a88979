"""The life of a piece as a drawing: its film as layers over time, the acts, the air it dried in."""

from typing import Any

from coatledger.ledger.record import micros
from coatledger.ledger.store import Reader
from coatledger.subjects.dossier import Evidence, told_of
from coatledger.subjects.dossier_leaves import leaves_of

from coatledger_api.forms import SVG
from coatledger_api.operations import Call, Operation, Reply, asked, running
from coatledger_api.paper.proof_drawing import drawing
from coatledger_api.paper.proof_page import air_by_room
from coatledger_api.problems import ProblemError
from coatledger_api.routes.pieces import OnePiece

_BARE = '<svg viewBox="0 0 960 8" role="img" class="life"><title>No film yet</title></svg>'
_NAMESPACE = 'xmlns="http://www.w3.org/2000/svg" '


@running("GET", "/v1/pieces/{piece}/drawing", tag="Pieces", scope="read", answers={SVG: str},
         problems=("not_found",))  # fmt: skip
async def draw_piece(call: Call[OnePiece]) -> Reply:
    """Draw what was put on a piece, when, in what air, and what was done to it.

    One SVG without scripts or colours: classes say what each part is (`layer`, `wood`, `mark`,
    `warm`, `damp`), so that it takes on the look of the page it stands in. The same drawing stands
    in the printable proof. Of a bare piece it is empty but for its title.
    """
    film = await call.service.read(lambda reader: _drawn(call, reader))
    return Reply(film.replace("<svg ", f"<svg {_NAMESPACE}", 1).encode(), media_type=SVG)


def _drawn(call: Call[Any], reader: Reader) -> str:
    place, piece = asked(call, reader), call.query.piece
    picked = leaves_of(reader, piece, place.position(reader))
    if not picked.rows:
        raise ProblemError("not_found", f"no piece {piece} was known then")
    events = [one for one in picked.events() if micros(one.event.occurred_at) <= place.now_us]
    return drawing(told_of(piece, events), air_by_room(Evidence(events))) or _BARE


OPERATIONS: tuple[Operation, ...] = (draw_piece,)
