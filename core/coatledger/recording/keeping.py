"""How a pending fold is written down, and how counts are added up until they are."""

from collections.abc import Mapping

from coatledger.ledger.store import StoredFold
from coatledger.recording.at_hand import Entry
from coatledger.subjects.registry import shelf_of, state_bytes


def add_counts(
    total: dict[tuple[str, str], float], added: Mapping[tuple[str, str], float], sign: int
) -> None:
    """Add counts to a total, or take them away; what comes to nothing is left out."""
    for key, value in added.items():
        left = total.get(key, 0) + sign * value
        if left:
            total[key] = left
        else:
            total.pop(key, None)


def stored_fold(subject: str, entry: Entry) -> StoredFold:
    """Write a subject's fold as it is stored."""
    kind, state = entry.kind, entry.state
    return StoredFold(
        subject,
        kind.version,
        entry.named,
        entry.folded_us,
        shelf_of(kind, state),
        state_bytes(state),
    )
