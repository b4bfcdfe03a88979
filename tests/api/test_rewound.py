"""After a backup is restored, everybody who read beyond it is told, and nobody misses an event."""

import secrets
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from bench import made_id
from coatledger_adapters.backup import back_up, restore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from served import Served, refusal, serving

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
KEPT, BEYOND = 30, 12


class Home:
    """A ledger whose backup was taken in the middle of its life, and restored at its end."""

    def __init__(self, folder: Path) -> None:
        self.database = folder / "ledger.db"
        migrate(f"sqlite:///{self.database}")
        self.cursors: list[str] = []
        with self.served() as served:
            self.cursors.append(cursor(served))
            for number in range(KEPT):
                self.cursors.append(recorded(served, number))
        copy = back_up(self.database, folder / "copies", NOW).path
        with self.served() as served:
            for number in range(KEPT, KEPT + BEYOND):
                self.cursors.append(recorded(served, number))
        restore(copy, self.database, folder, NOW)

    @contextmanager
    def served(self) -> Iterator[Served]:
        with (
            closing(open_store(f"sqlite:///{self.database}", "trial")) as store,
            serving(store) as one,
        ):
            yield one


def cursor(served: Served) -> str:
    told: str = served.get("/v1/events?limit=1").json()["cursor"]
    return told


def recorded(served: Served, number: int) -> str:
    fact = {
        "type": "lot_stirred", "id": str(made_id(number, served.clock)), "lot": f"can-{number % 3}",
        "occurred_at": served.clock.isoformat(),
    }  # fmt: skip
    answer = served.post(fact)
    assert answer.status_code == 201, answer.text
    told: str = answer.json()["cursor"]
    return told


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path)


def is_told(served: Served, old: str, epoch: str) -> bool:
    """Whether an old cursor is refused by pages and streams alike, with the epoch there is now."""
    answers = (
        served.get(f"/v1/events?cursor={old}"),
        served.get(f"/v1/events/stream?cursor={old}"),
        served.get("/v1/events/stream", headers={"Last-Event-ID": old}),
    )
    for answer in answers:
        refusal(answer, 409, "feed_rewound")
        assert answer.json()["epoch"] == epoch
    return True


def test_every_old_cursor_is_told_and_who_begins_anew_misses_nothing(home: Home) -> None:
    with home.served() as served:
        epoch = cursor(served).rpartition(".")[0]
        assert all(is_told(served, old, epoch) for old in home.cursors)
        new = [recorded(served, number) for number in range(500, 505)]
        seen: list[dict[str, Any]] = []
        at: str | None = None
        while True:
            page = served.get("/v1/events" + (f"?cursor={at}&limit=7" if at else "?limit=7")).json()
            seen += page["events"]
            at = page["cursor"]
            if not page["more"]:
                break
        assert [one["position"] for one in seen] == list(range(1, KEPT + 6))
        assert at == new[-1]
        assert all(is_told(served, old, epoch) for old in home.cursors)


def test_with_the_old_epoch_a_reader_would_skip_events(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The mutation: a restore that keeps the epoch lets an old cursor pass, over other events."""
    monkeypatch.setattr(secrets, "token_hex", lambda count: "5a" * count)
    home = Home(tmp_path)
    with home.served() as served:
        for number in range(500, 500 + BEYOND + 3):
            recorded(served, number)
        page = served.get(f"/v1/events?cursor={home.cursors[-1]}")
        assert page.status_code == 200
        assert page.json()["events"][0]["position"] > KEPT + 1
