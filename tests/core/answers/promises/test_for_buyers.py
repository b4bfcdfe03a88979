"""What a buyer reads: the day, until when to order, and that leaving is not arriving."""

from datetime import UTC, date, datetime
from itertools import product

from coatledger.answers.promises.for_buyers import NOT_ARRIVAL, text_of

DAY = date(2026, 11, 5)
BEFORE = datetime(2026, 11, 2, 17, tzinfo=UTC)


def test_every_status_has_words_and_every_day_is_said_to_be_that_of_leaving() -> None:
    statuses = ("on_shelf", "made_to_order", "paused", "ask_us")
    bases = ("computed", "stated", "none")
    for status, basis, day, before in product(statuses, bases, (DAY, None), (BEFORE, None)):
        text = text_of(status, basis, day, before, "Europe/Lisbon")  # type: ignore[arg-type]
        assert text.endswith(".")
        assert ("5 November" in text) == (day is not None and status != "paused")
        assert (NOT_ARRIVAL in text) == ("5 November" in text)


def test_the_cut_off_is_told_by_the_shops_clock() -> None:
    text = text_of("made_to_order", "computed", DAY, BEFORE, "Europe/Helsinki")
    assert "by Thursday 5 November 2026 if you order before 19:00 on Monday 2 November" in text


def test_a_stated_lead_is_never_said_as_a_firm_day() -> None:
    text = text_of("made_to_order", "stated", DAY, None, "UTC")
    assert text.startswith("As a rule")
    assert "ask us for a firm date" in text
