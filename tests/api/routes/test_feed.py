"""The feed: pages that miss nothing, filters, cursors, entity tags and CloudEvents."""

from collections.abc import Iterator

import pytest
from httpx import Response
from served import Served, refusal

CLOUD_EVENTS = "application/cloudevents-batch+json"


@pytest.fixture
def filled(served_on_each: Served) -> Served:
    """Twelve events: two pieces started, then lots opened and stirred."""
    served = served_on_each
    served.pieces("T-1", "T-2")
    for number in range(5):
        served.record("lot_opened", lot=f"can-{number}")
        served.record("lot_stirred", lot=f"can-{number}")
    served.record("sanded", pieces=["T-2"], stage="bare", grit=150, note="a dent left")
    return served


def pages(served: Served, query: str) -> Iterator[Response]:
    """Walk the feed by its Link header."""
    path: str | None = f"/v1/events?{query}"
    while path is not None:
        answer = served.get(path)
        assert answer.status_code == 200, answer.text
        yield answer
        link = answer.headers.get("link")
        assert answer.json()["more"] == (link is not None)
        path = link.partition(">")[0][1:] if link else None


def positions(answers: Iterator[Response]) -> list[int]:
    return [event["position"] for answer in answers for event in answer.json()["events"]]


@pytest.mark.parametrize("limit", [1, 5, 12, 100])
def test_pages_of_any_length_give_every_event_once_in_order(filled: Served, limit: int) -> None:
    assert positions(pages(filled, f"limit={limit}")) == list(range(1, 13))


def test_a_cursor_at_the_head_gives_what_comes_later(filled: Served) -> None:
    (last,) = pages(filled, "limit=1000")
    cursor = last.json()["cursor"]
    nothing = filled.get(f"/v1/events?cursor={cursor}").json()
    assert (nothing["events"], nothing["more"], nothing["cursor"]) == ([], False, cursor)
    filled.record("lot_opened", lot="can-9")
    assert positions(pages(filled, f"cursor={cursor}")) == [13]


def test_an_event_is_given_with_its_own_bytes_and_stamps(filled: Served) -> None:
    event = filled.get("/v1/events?cursor=&limit=1")
    refusal(event, 422, "invalid")
    (first,) = filled.get("/v1/events?limit=1").json()["events"]
    assert first["event"]["type"] == "piece_started"
    assert first["previous"] == {"piece:T-1": 0, "piece:T-2": 0}
    assert first["recorded_at"] == "2026-03-02T07:00:00Z"


def test_filters_give_the_events_of_a_subject_or_of_some_types(filled: Served) -> None:
    assert positions(pages(filled, "subject=piece:T-2&limit=1")) == [1, 12]
    assert positions(pages(filled, "type=lot_stirred&limit=2")) == [3, 5, 7, 9, 11]
    assert positions(pages(filled, "type=lot_stirred&type=sanded")) == [3, 5, 7, 9, 11, 12]
    assert positions(pages(filled, "subject=lot:can-3&type=lot_stirred")) == [9]
    assert positions(pages(filled, "subject=piece:nobody")) == []


def test_a_late_fact_of_a_subject_is_still_read_in_order_of_recording(filled: Served) -> None:
    late = filled.clock.replace(hour=6).isoformat()
    before = filled.get("/v1/events?subject=lot:can-0").json()["cursor"]
    filled.record("lot_strained", lot="can-0", occurred_at=late)
    assert positions(pages(filled, f"subject=lot:can-0&cursor={before}")) == [13]


def test_a_cursor_this_ledger_has_never_been_at_is_told(filled: Served) -> None:
    epoch = filled.get("/v1/events").json()["cursor"].rpartition(".")[0]
    for cursor in (f"{epoch}.13", "another.3"):
        answer = filled.get(f"/v1/events?cursor={cursor}")
        refusal(answer, 409, "feed_rewound")
        assert answer.json()["epoch"] == epoch


def test_wrong_parameters_are_named_each(filled: Served) -> None:
    answer = filled.get("/v1/events?limit=0&type=teleported&subject=T-1&curser=x&limit=2")
    assert sorted(refusal(answer, 422, "invalid")) == [
        ("invalid", "curser"),
        ("invalid", "limit"),
        ("invalid", "limit"),
        ("invalid", "subject"),
        ("invalid", "type"),
    ]


def test_one_event_is_read_by_its_id_with_its_note(filled: Served) -> None:
    last = filled.get("/v1/events?subject=piece:T-2").json()["events"][-1]
    event = filled.get(f"/v1/events/{last['event']['id']}").json()
    assert event["note"] == "a dent left"
    assert event["event"]["note"].startswith("sha256:")
    assert {k: v for k, v in event.items() if k != "note"} == last


@pytest.mark.parametrize("word", ["00000000-0000-7000-8000-000000000000", "T-1", "%00", "%ff"])
def test_an_event_that_is_not_there_is_not_found(filled: Served, word: str) -> None:
    refusal(filled.get(f"/v1/events/{word}"), 404, "not_found")


def test_an_answer_that_is_still_held_is_not_sent_again(filled: Served) -> None:
    first = filled.get("/v1/events")
    etag = first.headers["etag"]
    for held in (etag, f'"other", {etag}', f"W/{etag}", "*"):
        again = filled.get("/v1/events", headers={"If-None-Match": held})
        assert (again.status_code, again.content) == (304, b"")
        for name in ("etag", "cache-control", "vary"):
            assert again.headers[name] == first.headers[name]
    filled.record("lot_opened", lot="can-9")
    changed = filled.get("/v1/events", headers={"If-None-Match": etag})
    assert changed.status_code == 200
    assert changed.headers["etag"] != etag


def test_head_tells_what_get_would(filled: Served) -> None:
    got = filled.get("/v1/events")
    head = filled.ask("HEAD", "/v1/events")
    assert head.content == b""
    for name in ("etag", "content-length", "content-type", "coatledger-position"):
        assert head.headers[name] == got.headers[name]


def test_the_same_events_come_as_cloud_events(filled: Served) -> None:
    answer = filled.get("/v1/events?limit=2", headers={"Accept": CLOUD_EVENTS})
    assert answer.headers["content-type"] == CLOUD_EVENTS
    assert 'rel="next"' in answer.headers["link"]
    first, second = answer.json()
    plain = filled.get("/v1/events?limit=2").json()["events"]
    assert first["specversion"] == "1.0"
    assert first["type"] == "coatledger.piece_started"
    assert first["subject"] == "piece:T-1"
    assert first["sequence"] == "1"
    assert second["data"] == plain[1]["event"]
    assert second["id"] == plain[1]["event"]["id"]


@pytest.mark.parametrize(
    ("accept", "taken"),
    [
        ("*/*", "application/json"),
        ("application/*", "application/json"),
        (f"{CLOUD_EVENTS}, application/json;q=0.5", CLOUD_EVENTS),
        ("text/html, */*;q=0.1", "application/json"),
        ("application/json;q=0, */*", CLOUD_EVENTS),
    ],
)
def test_the_form_a_client_likes_best_is_given(filled: Served, accept: str, taken: str) -> None:
    answer = filled.get("/v1/events", headers={"Accept": accept})
    assert answer.headers["content-type"] == taken
    assert answer.headers["vary"] == "Accept, Authorization"


def test_a_form_that_is_not_offered_is_refused(filled: Served) -> None:
    refusal(filled.get("/v1/events", headers={"Accept": "text/csv"}), 406, "not_acceptable")
