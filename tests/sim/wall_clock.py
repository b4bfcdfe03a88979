"""The reference model's own calendar: open hours and pick-ups laid out in microseconds since `now`.

Written from words 1, 2, 10 and 26 with nothing of the product's calendar, so that each checks the
other.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from shop_spec import Shop, Stretch

MINUTE = 60_000_000
FOREVER_DAYS = 3_660
_STEP_DAYS = 60

Span = tuple[int, int]


class NeverAgain(Exception):  # noqa: N818
    """The shop does not open, or nothing is picked up, for ten years."""


def microseconds(start: datetime, moment: datetime) -> int:
    """Return the elapsed time between two moments; both become UTC first, whatever their zone."""
    return (moment.astimezone(UTC) - start.astimezone(UTC)) // timedelta(microseconds=1)


def spans(start: datetime, stretches: Sequence[Stretch]) -> tuple[Span, ...]:
    """Return stretches as elapsed time, in order."""
    return tuple(
        sorted(
            (microseconds(start, stretch.starts_at), microseconds(start, stretch.ends_at))
            for stretch in stretches
        )
    )


class WallClock:
    """One shop's calendar, laid out further as it is asked for later moments."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.zone = ZoneInfo(shop.zone)
        self.closures = spans(shop.now, shop.closures)
        self.first_day = shop.now.astimezone(self.zone).date() - timedelta(days=1)
        self.days = 0
        self.opens: list[int] = []
        self.closes: list[int] = []
        self.worked: list[int] = []  # open time up to each closing
        self.pick_ups: list[int] = []
        self._lay_out()

    def is_open(self, at: int) -> bool:
        return self.next_open(at) == at

    def midnight(self, day: int) -> int:
        """Return when the n-th local day after that of `now` begins."""
        today = self.shop.now.astimezone(self.zone).date()
        local = datetime.combine(today + timedelta(days=day), time(0), tzinfo=self.zone)
        return microseconds(self.shop.now, local)

    def next_open(self, at: int) -> int:
        """Return the first open moment from `at` on."""
        row = bisect_right(self.closes, at)
        while row == len(self.closes):
            self._lay_out()
            row = bisect_right(self.closes, at)
        return max(at, self.opens[row])

    def after_work(self, at: int, work: int) -> int:
        """Return when so much working time has passed since `at`."""
        begins = self.next_open(at)
        row = bisect_right(self.closes, begins)
        target = self.worked[row] - (self.closes[row] - begins) + work
        while target > self.worked[-1]:
            self._lay_out()
        row = bisect_left(self.worked, target)
        return self.closes[row] - (self.worked[row] - target)

    def worked_between(self, start: int, end: int) -> int:
        """Return the open time from one moment to another."""
        self.next_open(end)
        return sum(
            max(0, min(closes, end) - max(opens, start))
            for opens, closes in zip(self.opens, self.closes, strict=True)
            if closes > start and opens < end
        )

    def pick_up(self, at: int) -> int:
        """Return the first cut-off at or after a moment."""
        while not self.pick_ups or self.pick_ups[-1] < at:
            self._lay_out()
        return self.pick_ups[bisect_left(self.pick_ups, at)]

    def moment(self, at: int) -> datetime:
        """Return the moment, in UTC."""
        return self.shop.now.astimezone(UTC) + timedelta(microseconds=at)

    def local_date(self, at: int) -> date:
        return self.moment(at).astimezone(self.zone).date()

    def _lay_out(self) -> None:
        if self.days >= FOREVER_DAYS:
            raise NeverAgain(f"nothing more in {FOREVER_DAYS} days after {self.shop.now}")
        for number in range(self.days, self.days + _STEP_DAYS):
            day = self.first_day + timedelta(days=number)
            for opens, closes in self._day(day):
                past = self.closes[-1] if self.closes else opens
                self._add(max(opens, past), closes)
            if day.isoweekday() in self.shop.pick_up_weekdays:
                at = self._wall(day, self.shop.cut_off)
                if not any(low <= at < high for low, high in self.closures):
                    self.pick_ups.append(at)
        self.days += _STEP_DAYS

    def _day(self, day: date) -> list[Span]:
        found = []
        for opening in self.shop.openings:
            if opening.weekday == day.isoweekday():
                overnight = timedelta(days=int(opening.closes == time(0)))
                closes = self._wall(day + overnight, opening.closes)
                found.append((self._wall(day, opening.opens), closes))
        return sorted(found)

    def _add(self, opens: int, closes: int) -> None:
        for begins, ends in _outside(opens, closes, self.closures):
            self.opens.append(begins)
            self.closes.append(ends)
            before = self.worked[-1] if self.worked else 0
            self.worked.append(before + ends - begins)

    def _wall(self, day: date, at: time) -> int:
        return microseconds(self.shop.now, datetime.combine(day, at, tzinfo=self.zone))


def _outside(opens: int, closes: int, closed: Sequence[Span]) -> Iterator[Span]:
    """Yield the parts of a stretch that no closure covers; closures may overlap each other."""
    for low, high in closed:
        if low >= closes:
            break
        if high > opens:
            if low > opens:
                yield opens, low
            opens = high
    if opens < closes:
        yield opens, closes
