"""When a message that did not arrive is sent again, and after how many tries it is given up."""

from typing import Final

# What a receiver that was down for a night, or over a long weekend, still gets.
DELAYS_S: Final = (
    5.0, 5 * 60.0, 30 * 60.0, 2 * 3600.0, 5 * 3600.0, 10 * 3600.0, 14 * 3600.0, 20 * 3600.0,
    24 * 3600.0,
)  # fmt: skip
TRIES_MAX: Final = len(DELAYS_S) + 1
WAIT_MAX_S: Final = 24 * 3600.0
JITTER: Final = 0.2


def wait_s(
    tries: int, chance: float, asked_s: float | None = None, delays_s: tuple[float, ...] = DELAYS_S
) -> float | None:
    """Return how long to wait after `tries` failed tries, or None when there is no other.

    `chance`, from 0 up to 1, spreads the delay by a fifth to either side, so that receivers that
    failed together are not asked together. A receiver that asked for a longer pause (Retry-After)
    gets it, up to a day.

    *Reference:* Standard Webhooks 1.0.0, "Deliverability and reliability": the example schedule (at
    once, 5 s, 5 min, 30 min, 2 h, 5 h, 10 h, 14 h, 20 h, 24 h; 75 h 35 min 5 s in all), jitter and
    Retry-After recommended. The share of jitter is common practice, no published source.
    *Valid:* tries from 1, chance in [0, 1).
    """
    assert tries >= 1
    assert 0 <= chance < 1
    if tries > len(delays_s):
        return None
    spread = delays_s[tries - 1] * (1 + JITTER * (2 * chance - 1))
    return max(spread, min(asked_s or 0.0, WAIT_MAX_S))
