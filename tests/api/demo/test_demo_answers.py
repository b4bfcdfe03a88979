"""What the played shop shows through the service: its incidents are found, not told."""

from __future__ import annotations

from itertools import pairwise

from coatledger.events.orders import PromiseRevised
from coatledger_api.demo.finishes import HIDDEN_FACTOR
from coatledger_api.demo.play import Post
from coatledger_api.demo.player import Played, load
from shown_demo import SECRET, Shown

FISH_EYE = ("JB-07", 8), ("BT-08", 6)
BESIDE = ("BT-02", 3), ("JB-09", 3)


def words(*batches: tuple[str, int]) -> list[str]:
    return [f"{word}-{n}" for word, count in batches for n in range(1, count + 1)]


def test_nothing_is_refused_and_playing_it_again_repeats_everything(
    demo: Shown, posts: tuple[Post, ...], played: Played
) -> None:
    # Of what is written down only delays are not told that are none by the day that was promised.
    facts = sum(post.facts_made for post in posts)
    size = demo.store.head().size
    assert played == Played(recorded=size, repeated=0)
    delays = [f for post in posts for f in post.facts if isinstance(f, PromiseRevised)]
    assert facts - 2 * len(delays) <= size < facts
    again = load(demo.store, demo.keys, SECRET, demo.token, posts)
    assert again == Played(recorded=0, repeated=size)
    assert demo.store.head().size == size


def test_recorded_at_follows_the_played_days_and_some_facts_came_late(demo: Shown) -> None:
    rows = demo.rows()
    assert all(a.recorded_us <= b.recorded_us for a, b in pairwise(rows))
    hours_late = [(row.recorded_us - row.occurred_us) / 3.6e9 for row in rows]
    late = [row.type for row, hours in zip(rows, hours_late, strict=True) if hours > 2]
    assert {"sanded", "climate_read"} <= set(late)
    assert sum(hours < 1.0 for hours in hours_late) > 0.95 * len(rows)


def test_fish_eyes_go_with_the_waxy_cloth_and_nothing_else(demo: Shown) -> None:
    def has(word: str, kind: str) -> bool:
        return any(fact["kind"] == kind for fact in demo.told(word, "defect_found"))

    fish_eyes = [word for word in words(*FISH_EYE, *BESIDE) if has(word, "fish_eye")]
    waxy = [word for word in words(*FISH_EYE, *BESIDE) if "waxy_tack_cloth" in demo.codes(word)]
    assert waxy == words(*FISH_EYE)
    assert set(fish_eyes) < set(waxy)
    assert len(fish_eyes) >= 0.7 * len(waxy)
    lots = {fact["lot"] for word in waxy for fact in demo.told(word, "coat_applied")}
    sound = {fact["lot"] for word in words(*BESIDE) for fact in demo.told(word, "coat_applied")}
    assert lots & sound, "the same cans made sound films too"


def test_a_can_ran_short_within_one_coat(demo: Shown) -> None:
    first, last = (
        [fact for fact in demo.told(word, "coat_applied") if fact.get("role", "build") == "build"]
        for word in ("SH-06-1", "SH-06-9")
    )
    apart = [(a, b) for a, b in zip(first, last, strict=True) if a["lot"] != b["lot"]]
    assert len(apart) == 1
    assert apart[0][0]["ended_at"] <= apart[0][1]["occurred_at"]


def test_the_dear_table_was_reworked_twice_and_left_sound(demo: Shown) -> None:
    table = demo.piece("DT-01-1")
    assert table["stage"] == "shipped"
    assert table["facts"]["declared_value"] == 285_000
    assert [f["because"] for f in demo.told("DT-01-1", "rework_started")] == ["sag", "hair"]
    assert [f["passed"] for f in demo.told("DT-01-1", "inspected") if f["point"] == "final"] == [
        False, False, True,
    ]  # fmt: skip


def test_corrections_stand_in_the_history(demo: Shown) -> None:
    assert "voided" in [one["standing"] for one in demo.history("SF-03-1")]
    first = [one["fact"] for one in demo.history("SH-11-1") if one["standing"] == "amended"]
    assert [fact["type"] for fact in first] == ["coat_applied"]
    assert "SH-11-9" not in first[0]["pieces"], "the first telling named another piece"
    assert demo.piece("SH-11-9")["coats_done"] == demo.piece("SH-11-1")["coats_done"]


def test_bad_practice_is_found_where_it_was_done_and_not_elsewhere(demo: Shown) -> None:
    for word, code in (
        ("BD-05-1", "stained_machine_scuffed"), ("JB-10-1", "film_below_formation"),
        ("BT-12-1", "no_blow_off"), ("SF-13-1", "recoat_window_passed"),
        ("JB-17-1", "recoat_too_early"), ("BT-18-1", "past_use_by"),
        ("SH-20-1", "bare_sanding_too_coarse"), ("JB-01-1", "packed_before_ready"),
        ("DT-12-1", "past_pot_life"), ("JL-16-1", "blush_risk"),
    ):  # fmt: skip
        assert code in demo.codes(word), (word, code)
        assert code not in demo.codes("SH-00-1"), code


def test_a_promise_is_visibly_in_danger_and_something_is_held_and_open(demo: Shown) -> None:
    here = demo.get("/v1/pieces?limit=500")["pieces"]
    late = [
        one["piece"]
        for one in here
        if one.get("order") and one["stage"] in ("prepared", "coated")
        for whole in (demo.piece(one["piece"]),)
        if whole.get("promised") and whole["promised"] < whole["ship_estimate"]["likely"]
    ]
    assert any(word.startswith("JO-") for word in late)
    assert any(one.get("held") for one in here)
    waiting = {one["piece"] for one in here if one["stage"] == "coated"}
    open_faults = [
        w for w in sorted(waiting) if w.startswith("SH-") and demo.told(w, "defect_found")
    ]
    assert open_faults
    assert all(not demo.told(word, "rework_started") for word in open_faults)


def test_promises_are_those_of_the_service_and_every_level_can_be_judged(demo: Shown) -> None:
    score = demo.get("/v1/promises/score")
    assert score["kept"]["of"] > 50
    assert 0.7 < score["kept"]["value"] < 1.0
    assert score["without_levels"] < score["kept"]["of"] / 3
    for level in score["levels"]:
        assert level["covered"]["of"] > 20
        assert level["covered"]["value"] > level["level_pct"] / 100.0 - 0.15
    leads = [level["lead_days"] for level in score["levels"]]
    assert leads == sorted(leads)
    assert score["correction"]["promises"] > 20
    made = [fact for fact in demo.every("promise_made") if "seed" in fact]
    assert len(made) > 60
    for fact in made:
        assert fact["p50"] <= fact["p80"] <= fact["p90"] <= fact["p95"]
        assert (fact["seed"], fact["replications"]) == (1, 1_000)
        assert fact["position"]
    (again,) = demo.get(f"/v1/promises/{made[-1]['order']}/replay")["promises"]
    assert again["same"]


def test_nobody_is_told_of_a_delay_before_his_day(demo: Shown) -> None:
    day: dict[str, str] = {}
    for fact in demo.every("promise_made", "promise_revised"):
        assert fact["type"] == "promise_made" or fact["ships_by"] > day[fact["order"]]
        day[fact["order"]] = fact["ships_by"]


def test_films_dry_at_this_very_moment(demo: Shown) -> None:
    clocks = demo.get("/v1/clocks")["clocks"]
    assert len(clocks) > 20
    assert any(one["readiness"] in ("wet", "touch_dry", "tack_free") for one in clocks)
    assert any(one["stage"] == "packed" for one in demo.get("/v1/pieces?limit=500")["pieces"])


def test_the_clock_has_learned_that_the_clear_dries_slower_here_than_its_sheet(demo: Shown) -> None:
    learned = demo.get("/v1/products/clear-w/drying")
    told = learned["learned"]["posterior"]
    assert told["p10"] <= HIDDEN_FACTOR["clear-w"] <= told["p90"]
    assert abs(told["p50"] - HIDDEN_FACTOR["clear-w"]) < abs(told["p50"] - 1.0)


def test_rework_and_throughput_count_what_was_played(demo: Shown) -> None:
    rework, flow = demo.get("/v1/rework"), demo.get("/v1/throughput")
    assert 0.6 < rework["total"]["first_pass_yield"]["value"] < 0.9
    assert rework["bucket"] == "week"
    assert len(rework["rows"]) in (6, 7)
    weeks = [row["reworked"] for row in rework["rows"]]
    assert max(weeks) >= 3 * max(1, min(weeks)), "the bad weeks stand out"
    assert flow["shipped"] > 120
