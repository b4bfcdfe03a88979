"""Which rules of the trade were broken when each coat went on, or when the piece was made ready
for it: findings as facts to compare, worked out anew, since a finding is never stored."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from uuid import UUID

from coatledger.events.bare import ConditionRecorded
from coatledger.events.coating import CoatApplied
from coatledger.events.preparing import BlownOff, GrainFilled, Sanded, Stained
from coatledger.findings import described, safety
from coatledger.findings.life import Walk
from coatledger.findings.place import Place
from coatledger.findings.table import RULES_OF
from coatledger.ledger.correct import Placed
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.piece import Piece

# The coat, and the work that leads up to it.
JUDGED = (ConditionRecorded, Sanded, BlownOff, GrainFilled, Stained, CoatApplied)
# What says nothing of a film (safety, what nobody described), or is compared as a fact by itself.
LEFT_OUT = frozenset(
    (*(rule.code for rule in (*safety.RULES, *described.RULES)), "can_not_stirred")
)
Raised = Mapping[tuple[UUID, str], frozenset[str]]


def raised(reader: Reader, asked: Asked, pieces: Sequence[Piece]) -> Raised:
    """Return the codes told of each coat of some pieces, by the coat's act and the piece's word.

    A code of the work before a coat goes to that coat. Each act is judged once, for all its pieces,
    as it stood then; a cause that lasts is told of every act, unlike in a piece's own findings.
    """
    wanted = {piece.piece for piece in pieces}
    walk = Walk(asked.view(reader))
    waiting: dict[str, set[str]] = {}
    found: dict[tuple[UUID, str], frozenset[str]] = {}
    for one in _acts(walk, asked, wanted):
        words: tuple[str, ...] = getattr(one.fact, "pieces", ())
        mine = [word for word in words if word in wanted]
        for code, hit in _codes(walk, one):
            for word in mine if not hit else wanted.intersection(hit):
                waiting.setdefault(word, set()).add(code)
        if isinstance(one.fact, CoatApplied):
            for word in mine:
                found[one.fact.id, word] = frozenset(waiting.pop(word, ()))
    return found


def _acts(walk: Walk, asked: Asked, wanted: Collection[str]) -> list[Placed]:
    """List what was done to the pieces, each act once, in order."""
    acts = {
        one.position: one
        for word in sorted(wanted)
        for one in walk.facts(f"piece:{word}")
        if isinstance(one.fact, JUDGED) and (asked.as_of_us is None or one.at_us <= asked.as_of_us)
    }
    return sorted(acts.values(), key=lambda one: (one.at_us, one.position))


def _codes(walk: Walk, one: Placed) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what the rules say of an act, and of which pieces; of none named, of all."""
    rules = [rule for rule in RULES_OF.get(type(one.fact), ()) if rule.code not in LEFT_OUT]
    if rules:
        place = Place(walk.before(one), one.fact)
        for rule in rules:
            hit = rule.look(one.fact, place)
            if hit is not None:
                yield rule.code, hit.pieces
