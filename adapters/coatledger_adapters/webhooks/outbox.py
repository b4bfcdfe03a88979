"""The public door of telling: what a write tells is kept in the write's own transaction."""

import logging
from collections.abc import Callable, Sequence

from coatledger.ledger.record import Row
from coatledger.ledger.store import Writer
from coatledger.recording.notices import TELLING, Message, Notice, message_of, notices_of

from coatledger_adapters.webhooks.book import WebhookBook

LOG = logging.getLogger(__name__)


class Outbox:
    """Puts notices into a shop's book. `on_told` is called after something was kept."""

    def __init__(self, book: WebhookBook, shop: str, on_told: Callable[[], None]) -> None:
        self.book = book
        self.on_told = on_told
        self._shop = shop

    def note(self, ledger: Writer, rows: Sequence[Row]) -> int:
        """Keep what facts just written tell, before they are committed; return how many.

        Where nobody wants anything this looks at one word that was read with the head.
        """
        wanted = self.book.wanted(ledger)
        if not wanted:
            return 0
        told = 0
        for row in rows:
            if row.type in TELLING:
                messages = self._messages(
                    [one for one in self._noticed(ledger, row) if one.wanted_as in wanted],
                    row.position,
                )
                told += self.book.put(ledger, messages, row.recorded_us)
        return told

    def _noticed(self, ledger: Writer, row: Row) -> Sequence[Notice]:
        """Return what a fact tells. It has happened: where the program fails, it is kept too."""
        try:
            return notices_of(ledger, row, lambda event: self.book.told_about(ledger, event))
        except Exception:
            LOG.exception("what event %s tells could not be worked out", row.event_id)
            return ()

    def tell(self, notices: Sequence[Notice], position: int, at_us: int) -> int:
        """Keep what a follower of the ledger tells, from any thread; return how many are new.

        `position` is where the follower has read to. What was told before is not told again,
        whoever says it and however often; that it was told is kept even when nobody wanted it.
        """
        told = self.book.tell(self._messages(notices, position), at_us)
        if told:
            self.on_told()
        return told

    def _messages(self, notices: Sequence[Notice], position: int) -> tuple[Message, ...]:
        return tuple(message_of(self._shop, notice, position) for notice in notices)
