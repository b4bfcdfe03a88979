"""Who works and sprays in a simulated shop, as its ledger tells of it."""

from datetime import timedelta

from coatledger.computations.calendar import Closure
from coatledger.computations.simulate.shop import Hand, Sprayer
from coatledger.events.setup import ShopDescribed
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.subjects.counts import words
from coatledger.subjects.view import View

AWAY_SAYS = "somebody who is away without an end comes back within a day"


def people(view: View, described: ShopDescribed, assumed: dict[str, None]) -> tuple[Hand, ...]:
    """Give the absences to the people there are. Who is away without an end is for a day."""
    away: dict[str, list[Closure]] = {}
    now = moment(view.at_us)
    for absence in view.shop_state().absences:
        until = absence.until
        if until is None:
            until = max(absence.since, now) + timedelta(days=1)
            assumed[AWAY_SAYS] = None
        if micros(until) > view.at_us and until > absence.since:
            away.setdefault(absence.person, []).append(Closure(absence.since, until))
    own = [*away.items()][: described.people]
    # A colon stands in no word of the ledger, so that nobody has the name of one who is away.
    others = tuple(f"person:{n}" for n in range(described.people - len(own)))
    return (*(Hand(word, tuple(gone)) for word, gone in own), *(Hand(word) for word in others))


def guns(view: View, reader: Reader) -> tuple[Sprayer, ...]:
    """The shop's guns with what is in them; a shop that described none has one."""
    found = []
    for word in words("gun", reader):
        if not reader.of_subject(f"gun:{word}", known=view.known, until_us=view.at_us, newest=1):
            continue  # nobody had told of it then
        gun = view.gun(word)
        filled, flushed = gun.set_up, gun.flushed
        clean = flushed and filled and flushed.occurred_at >= filled.occurred_at
        lot = filled.lot if filled and not clean else None
        found.append(Sprayer(word, view.lot(lot).product or "" if lot else ""))
    return tuple(found) or (Sprayer("gun"),)
