"""Sign the ledger's head in a rhythm, so that there is a signed one of every day that anybody kept.

What is told at one time cannot be told otherwise later than the next signed head; the shorter the
rhythm, the smaller the gap. A head without news is not signed again.
"""

import asyncio
import contextlib
import logging
from collections.abc import Callable

from coatledger_adapters.checkpoints import BrokenHistoryError

SOON_S = 60.0

log = logging.getLogger(__name__)


async def sign_in_rhythm(
    every_s: float, sign: Callable[[], object], closing: asyncio.Event
) -> None:
    """Call `sign` in a thread soon and then every so many seconds, until the service closes.

    Soon, since a bench's machine may be switched off each evening before a day is over. A ledger
    that no longer begins as it was signed is said in the log each time; so is a database that does
    not answer. Neither ends the rhythm.
    """
    wait_s = min(SOON_S, every_s)
    while not await _closes_within(wait_s, closing):
        wait_s = every_s
        try:
            await asyncio.to_thread(sign)
        except BrokenHistoryError as error:
            log.critical("the head was not signed: %s", error)
        except Exception:
            log.exception("the head was not signed; the next try is in %g s", every_s)


async def _closes_within(seconds: float, closing: asyncio.Event) -> bool:
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(closing.wait(), seconds)
    return closing.is_set()
