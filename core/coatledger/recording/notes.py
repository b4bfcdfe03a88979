"""Free words never reach the ledger: a fact holds only their salted hash, the words live apart.

Erasing deletes the words and their salt; the hash stays, so proofs still verify and a repeated
call is still the same event.
"""

import hashlib
from collections.abc import Callable

from msgspec.structs import replace

from coatledger.events.catalogue import AnyEvent, EventAmended
from coatledger.ledger.record import Row, recorded
from coatledger.ledger.store import Note, Reader
from coatledger.refusal import refuse


def taken_apart(event: AnyEvent, salt: Callable[[], bytes]) -> tuple[AnyEvent, Note | None]:
    """Put the hash in the place of the words, and return the words to be kept."""
    if event.note is None:
        return event, None
    fresh = salt()
    hashed = replace(event, note=_hash(fresh, event.note))
    return hashed, Note(event.id, fresh, event.note)


def as_stored(reader: Reader, event: AnyEvent, known: Row) -> AnyEvent:
    """Write a posted event as the stored one of its id would read, were its words the same.

    Erased words cannot be compared; what else the event says decides then.
    """
    stored = recorded(known).event.note
    if event.note is None or stored is None:
        return event
    note = reader.notes((known.event_id,)).get(known.event_id)
    if note is None or note.text is None or _hash(note.salt, event.note) == stored:
        return replace(event, note=stored)
    return event


def without_new_words(reader: Reader, event: AnyEvent, pointer: str) -> AnyEvent:
    """Let a replacement keep the original's note, as words or as hash, and refuse any other."""
    if not isinstance(event, EventAmended) or event.replacement.note is None:
        return event
    original = reader.by_id((event.original,)).get(event.original)
    if original is None:
        return event  # it is refused as an unknown event
    given, stored = event.replacement.note, recorded(original).event.note
    note = reader.notes((event.original,)).get(event.original)
    same = note is not None and note.text is not None and _hash(note.salt, given) == stored
    if given != stored and not same:
        says = (
            "a replacement keeps the original's note or none; the amendment has a note of its own"
        )
        raise refuse("correction_of_other_type", f"{pointer}/replacement/note", says)
    return replace(event, replacement=replace(event.replacement, note=stored))


def _hash(salt: bytes, text: str) -> str:
    return "sha256:" + hashlib.sha256(salt + text.encode()).hexdigest()
