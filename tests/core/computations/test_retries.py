"""The schedule of tries, held to the one that is published."""

from coatledger.computations.retries import DELAYS_S, JITTER, TRIES_MAX, WAIT_MAX_S, wait_s
from hypothesis import given
from hypothesis import strategies as st

MIDDLE = 0.5
CHANCES = st.floats(0, 1, exclude_max=True)

# Standard Webhooks 1.0.0, "Deliverability and reliability", time since start, as printed there.
PRINTED = (
    "00:00:00", "00:00:05", "00:05:05", "00:35:05", "02:35:05", "07:35:05", "17:35:05", "31:35:05",
    "51:35:05", "75:35:05",
)  # fmt: skip


def clock(total_s: float) -> str:
    minutes, seconds = divmod(round(total_s), 60)
    return f"{minutes // 60:02}:{minutes % 60:02}:{seconds:02}"


def test_without_chance_the_tries_come_as_printed() -> None:
    times, now_s = [clock(0)], 0.0
    for tries in range(1, TRIES_MAX):
        wait = wait_s(tries, MIDDLE)
        assert wait is not None
        now_s += wait
        times.append(clock(now_s))
    assert tuple(times) == PRINTED
    assert wait_s(TRIES_MAX, MIDDLE) is None


@given(st.integers(1, TRIES_MAX - 1), CHANCES)
def test_chance_moves_a_try_by_a_fifth_at_most(tries: int, chance: float) -> None:
    wait = wait_s(tries, chance)
    assert wait is not None
    assert abs(wait - DELAYS_S[tries - 1]) <= JITTER * DELAYS_S[tries - 1] * (1 + 1e-12)


@given(st.integers(1, TRIES_MAX - 2), CHANCES, CHANCES)
def test_each_wait_is_longer_than_the_one_before_but_for_chance(
    tries: int, one: float, other: float
) -> None:
    first, second = wait_s(tries, one), wait_s(tries + 1, other)
    assert first is not None
    assert second is not None
    spread = (1 - JITTER) / (1 + JITTER)
    assert second > first * spread


@given(st.integers(1, TRIES_MAX - 1), CHANCES, st.floats(0, 10**6))
def test_who_asks_for_a_pause_gets_it_up_to_a_day(
    tries: int, chance: float, asked_s: float
) -> None:
    plain, wait = wait_s(tries, chance), wait_s(tries, chance, asked_s)
    assert plain is not None
    assert wait == max(plain, min(asked_s, WAIT_MAX_S))


@given(st.integers(TRIES_MAX, 10**6), CHANCES)
def test_the_tries_have_an_end(tries: int, chance: float) -> None:
    assert wait_s(tries, chance, 60.0) is None
