"""How often a caller may ask: bounded, told beforehand, and never met at a bench."""

import pytest
from bench import on_day
from coatledger.ledger.memory import MemoryStore
from coatledger_api.demo.play import SEED, play
from coatledger_api.limits import Buckets, Share, neighbourhood
from coatledger_api.settings import Settings
from served import refusal, serving


class Clock:
    """Seconds that the test moves."""

    def __init__(self) -> None:
        self.at_s = 100.0

    def __call__(self) -> float:
        return self.at_s


def test_a_burst_passes_then_one_for_each_that_grew_again() -> None:
    clock = Clock()
    buckets = Buckets("key", 2.0, 5, clock)
    assert [buckets.take("a").left for _ in range(5)] == [4, 3, 2, 1, 0]
    refused = buckets.take("a")
    assert refused.wait_s == pytest.approx(0.5)
    assert buckets.take("b").wait_s == 0
    clock.at_s += 0.5
    assert buckets.take("a").wait_s == 0
    assert buckets.take("a").wait_s == pytest.approx(0.5)


@pytest.mark.parametrize("pause_s", [0.01, 0.1, 0.37, 1.0])
def test_over_a_long_time_no_more_passes_than_the_burst_and_the_rate(pause_s: float) -> None:
    clock = Clock()
    buckets = Buckets("key", 3.0, 7, clock)
    passed = 0
    for _ in range(2000):
        passed += buckets.take("a").wait_s == 0
        clock.at_s += pause_s
    allowed = min(2000, 7 + 3.0 * 2000 * pause_s)
    assert allowed - 2 <= passed <= allowed + 1


def test_a_refused_request_takes_nothing_and_a_dear_one_never_more_than_all() -> None:
    clock = Clock()
    buckets = Buckets("address", 1.0, 3, clock)
    buckets.spill("a", 50)
    for _ in range(10):
        assert buckets.take("a").wait_s == pytest.approx(1.0)
    clock.at_s += 1.0
    assert buckets.take("a").wait_s == 0


def test_memory_is_bounded_and_whoever_asks_often_is_not_forgotten() -> None:
    buckets = Buckets("address", 1.0, 2, Clock(), kept_max=100)
    for number in range(10_000):
        buckets.take("often")
        buckets.take(f"passer-by {number}")
    assert len(buckets) == 100
    assert buckets.take("often").wait_s > 0


def test_a_share_is_told_in_the_fields_of_the_draft() -> None:
    share = Share("key", 50, 2.5, 49, 0.4, 0.0)
    assert share.headers() == {"RateLimit-Policy": '"key";q=50;w=20', "RateLimit": '"key";r=49;t=1'}
    waiting = share._replace(left=0, full_s=20.1, wait_s=0.1).headers()
    assert waiting["Retry-After"] == "1"
    assert waiting["RateLimit"] == '"key";r=0;t=21'


@pytest.mark.parametrize(
    ("host", "counted_as"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::"),
        ("2001:db8:1:2::9", "2001:db8:1:2::"),
        ("2001:db8:1:3::9", "2001:db8:1:3::"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("fe80::1%eth0", "fe80::"),
        ("no:address", "no:address"),
    ],
)
def test_a_house_that_holds_many_addresses_counts_as_one(host: str, counted_as: str) -> None:
    assert neighbourhood(host) == counted_as


def test_a_key_that_asks_too_often_is_told_when_to_come_back() -> None:
    settings = Settings(key_requests_per_s=0.01, key_burst=3)
    with serving(MemoryStore("trial"), settings) as served:
        left = [served.get("/v1/events").headers["ratelimit"] for _ in range(3)]
        assert [text.split(";")[1] for text in left] == ["r=2", "r=1", "r=0"]
        answer = served.get("/v1/events")
        refusal(answer, 429, "too_many_requests")
        assert 90 <= int(answer.headers["retry-after"]) <= 100
        assert answer.headers["ratelimit-policy"] == '"key";q=3;w=300'
        refusal(served.post(served.fact("lot_opened", lot="can-1")), 429, "too_many_requests")
        assert served.size == 0
        assert served.get("/v1/events", token=served.key("read")).status_code == 200
        assert served.get("/health/ready", token=None).status_code == 200


def test_an_address_that_asks_too_often_waits_whatever_it_asks_for() -> None:
    settings = Settings(address_requests_per_s=0.01, address_burst=3)
    with serving(MemoryStore("trial"), settings) as served:
        for path in ("/v1/events", "/docs", "/nowhere"):
            assert served.get(path).status_code != 429
        for path in ("/v1/events", "/docs", "/nowhere"):
            answer = served.get(path)
            refusal(answer, 429, "too_many_requests")
            assert answer.headers["ratelimit-policy"].startswith('"address"')
            assert answer.headers["x-request-id"]
        assert served.ask("HEAD", "/docs").content == b""
        assert served.get("/health/live", token=None).status_code == 200


def test_guessing_tokens_costs_an_address_ten_times_as_much() -> None:
    settings = Settings(address_requests_per_s=0.01, address_burst=30)
    with serving(MemoryStore("trial"), settings) as served:
        statuses = [served.get("/v1/events", token="guess").status_code for _ in range(5)]
        assert statuses == [401, 401, 401, 429, 429]


def test_neither_a_tablet_at_the_bench_nor_a_busy_page_meets_the_limits() -> None:
    # Ten taps a second for an hour, from one key; and a page that asks forty things at once.
    settings, clock = Settings(), Clock()
    keys = Buckets("key", settings.key_requests_per_s, settings.key_burst, clock)
    for second in range(3600):
        clock.at_s += 1
        for _ in range(10 + 40 * (second % 60 == 0)):
            assert keys.take("tablet").wait_s == 0


def test_the_demonstration_is_played_without_meeting_the_limits() -> None:
    assert len(play(SEED, on_day("1 07:00"))) < min(Settings().key_burst, Settings().address_burst)
