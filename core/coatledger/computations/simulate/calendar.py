"""The shop's calendar laid out for a simulation: whole seconds since `now`, ready to look up.

Work is reckoned on a second axis that runs only while the shop is open, so that a job over nights,
weekends and clock changes ends where a lookup says; hours are never added to a clock. Moments are
rounded down to whole seconds.
"""

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from coatledger.computations.calendar import (
    Closure,
    from_microseconds,
    local_date,
    microseconds,
    open_intervals,
    pick_ups,
    wall_moment,
)
from coatledger.computations.simulate.shop import OpenShop

NEVER = 2**31 - 1
_SECOND_US = 1_000_000
# People stand one behind the other on a single axis, so that one search serves them all.
_APART = 2**32
_PICK_UPS_AFTER_DAYS = 120

Seconds = npt.NDArray[np.int64]


class Laid(NamedTuple):
    """A calendar of some days. `work_ends` and `work_back` turn work into time; `begin_...` say for
    each person when a job may begin, and what to add to a time there to get work."""

    origin: datetime
    days: int
    work_ends: Seconds
    work_back: Seconds
    begin_keys: Seconds
    begin_opens: Seconds
    begin_shift: Seconds
    pick_ups: Seconds
    pick_up_days: Seconds
    midnights: Seconds


def lay(shop: OpenShop, days: int) -> Laid:
    """Lay out so many days of a shop's hours, absences and pick-ups.

    *Reference:* `calendar.open_intervals`, whose stretches these are. *Valid:* up to ten years.
    """
    origin = from_microseconds(microseconds(shop.now) // _SECOND_US * _SECOND_US)
    end = origin + timedelta(days=days)
    spans = _seconds(origin, open_intervals(origin, end, shop.hours, shop.closures))
    done = np.cumsum(spans[:, 1] - spans[:, 0])
    before = done - (spans[:, 1] - spans[:, 0])
    keys, opens, shift = [], [], []
    for number, person in enumerate(shop.people):
        own = _without(spans, before - spans[:, 0], origin, person.absences)
        own = np.vstack((own, (NEVER, NEVER + 1, 0)))
        keys.append(own[:, 1] + number * _APART)
        opens.append(own[:, 0])
        shift.append(own[:, 2])
    cut_offs, pick_up_days = _pick_ups(shop, origin, days)
    nothing = [np.empty(0, dtype=np.int64)]
    return Laid(
        origin=origin,
        days=days,
        work_ends=np.append(done, NEVER),
        work_back=np.append(spans[:, 0] - before, NEVER),
        begin_keys=np.concatenate(keys or nothing),
        begin_opens=np.concatenate(opens or nothing),
        begin_shift=np.concatenate(shift or nothing),
        pick_ups=cut_offs,
        pick_up_days=pick_up_days,
        midnights=_midnights(shop, origin, days),
    )


def work_end(laid: Laid, work: Seconds) -> Seconds:
    """Return when this much work since the beginning is done; `NEVER` or later when it is not.

    Work that ends as the shop closes is done at closing. *Reference:* `calendar.advance`.
    """
    return work + laid.work_back[laid.work_ends.searchsorted(work)]


def may_begin(laid: Laid, people: Seconds | int, at: Seconds) -> tuple[Seconds, Seconds]:
    """Return when each person may next begin a job, and where that is on the axis of work."""
    at = np.minimum(at, NEVER)
    found = laid.begin_keys.searchsorted(at + people * _APART, side="right")
    begins = np.maximum(at, laid.begin_opens[found])
    return begins, begins + laid.begin_shift[found]


def work_at(laid: Laid, at: int) -> int:
    """Return where a moment stands on the axis of work; a closed one stands at the next opening."""
    opens = laid.work_back[:-1] + np.concatenate(([0], laid.work_ends[:-2]))
    row = int(opens.searchsorted(at, side="right")) - 1
    if row < 0:
        return 0
    return int(min(at - laid.work_back[row], laid.work_ends[row]))


def _seconds(origin: datetime, spans_us: Seconds) -> Seconds:
    return (spans_us - microseconds(origin)) // _SECOND_US


def _without(
    spans: Seconds, shift: Seconds, origin: datetime, absences: Sequence[Closure]
) -> Seconds:
    """Cut a person's absences out of the open stretches; a row is opens, closes, shift."""
    rows = [(int(a), int(b), int(s)) for (a, b), s in zip(spans, shift, strict=True)]
    first = microseconds(origin)
    for absence in absences:
        away = (microseconds(absence.starts_at) - first) // _SECOND_US
        back = (microseconds(absence.ends_at) - first) // _SECOND_US
        rows = [
            piece
            for opens, closes, offset in rows
            for piece in ((opens, min(closes, away), offset), (max(opens, back), closes, offset))
            if piece[0] < piece[1]
        ] if away < back else rows  # fmt: skip
    return np.array(rows, dtype=np.int64).reshape(-1, 3)


def _midnights(shop: OpenShop, origin: datetime, days: int) -> Seconds:
    """List when each local day begins, that of now first; the last one never does."""
    today, zone = local_date(origin, shop.hours.zone), shop.hours.zone
    moments = (wall_moment(today + timedelta(days=n), time(0), zone) for n in range(days + 1))
    starts = [(microseconds(at) - microseconds(origin)) // _SECOND_US for at in moments]
    return np.array([*starts, NEVER], dtype=np.int64)


def _pick_ups(shop: OpenShop, origin: datetime, days: int) -> tuple[Seconds, Seconds]:
    """List the cut-offs at which something leaves, and the days they are on."""
    zone, now_us = shop.hours.zone, microseconds(origin)
    found = tuple(
        pick_ups(origin, days + _PICK_UPS_AFTER_DAYS, shop.pick_up_weekdays, shop.cut_off, zone,
                 shop.closures)
    )  # fmt: skip
    moments = [(microseconds(at) - now_us) // _SECOND_US for at in found]
    dates = [local_date(at, zone).toordinal() for at in found]
    return np.array(moments, dtype=np.int64), np.array(dates, dtype=np.int64)
