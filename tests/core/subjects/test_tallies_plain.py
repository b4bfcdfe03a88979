"""States whose counts rest on the same are counted the same, on any way through the shop."""

from any_history import PIECES, any_history
from coatledger.ledger.correct import history
from coatledger.ledger.memory import MemoryStore
from coatledger.subjects import piece_fold
from coatledger.subjects.tallies import of_piece
from coatledger.subjects.tallies_plain import counted


def test_equal_in_what_counts_is_equal_in_the_counts() -> None:
    spared = sum(compared(seed) for seed in range(20))
    assert spared > 20


def compared(seed: int) -> int:
    """Compare all states of a history's pieces, and count those that rest on the same."""
    bench = any_history(MemoryStore("trial"), seed)
    spared = 0
    with bench.store.reading() as reader:
        for word in PIECES:
            states = [piece_fold.initial(word)]
            for placed in history(reader, f"piece:{word}"):
                states.append(piece_fold.evolve(states[-1], placed.fact))
            for one in states:
                for other in states:
                    if counted(one) == counted(other):
                        spared += one is not other
                        assert of_piece(one) == of_piece(other)
    return spared
