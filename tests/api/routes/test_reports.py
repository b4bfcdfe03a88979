"""The month as a page to read and to print, at any time it was known at."""

import re

from served import Served


def month(served: Served, query: str = "") -> str:
    answer = served.get(f"/reports/month{query}")
    assert answer.status_code == 200, answer.text
    assert "script" not in answer.headers["content-security-policy"]
    return answer.text


def reworked(served: Served) -> Served:
    """Two tables; one has a nib, is put right, and both leave."""
    served.record("lot_received", lot="L1", product="clear-w", amount_l=4.0)
    served.pieces("T-1", "T-2")
    served.record("coat_applied", pieces=["T-1", "T-2"], lot="L1", amount_l=0.5, hands_on_min=8)
    served.later(hours=4)
    served.record("defect_found", pieces=["T-2"], kind="nib")
    served.record("rework_started", pieces=["T-2"], remedy="spot_sand", because="nib")
    served.later(hours=1)
    served.record("rework_finished", pieces=["T-2"], done="spot_sand", hands_on_min=30)
    served.record("inspected", pieces=["T-1", "T-2"], point="final", passed=True)
    served.later(hours=20)
    served.record("shipped", pieces=["T-1", "T-2"])
    return served.later(hours=1)


def test_a_month_with_nothing_says_so_and_draws_nothing_wrong(served: Served) -> None:
    page = month(served)
    assert "March 2026" in page
    assert "Nothing left this month." in page
    assert "No piece was finally inspected." in page
    assert "Too few defects" in page


def test_a_month_says_what_left_what_came_back_and_what_finish_it_took(
    served_on_each: Served,
) -> None:
    page = month(reworked(served_on_each))
    assert "2 pieces left." in page
    assert "1 of 2 pieces were reworked" in page
    assert "0.5 hours of hands" in page
    assert "<td>nib</td>" in page
    assert "<td>clear-w</td><td>2</td><td>0.50</td>" in page
    assert page.count("<figure") >= 2
    assert len(re.findall('<svg [^>]*role="img"><title>', page)) == 2 * page.count("<figure")
    assert "<script" not in page
    assert "http://" not in page.replace("http://www.w3.org/", "")


def test_the_month_is_told_as_it_was_known(served: Served) -> None:
    before = served.clock.isoformat().replace("+", "%2B")
    reworked(served)
    assert "Nothing left this month." in month(served, f"?known_at={before}")
    assert "Nothing left this month." in month(served, "?month=2026-02")
    assert served.get("/reports/month?month=2026-13").status_code == 422


def test_as_json_it_is_the_months_own_numbers(served: Served) -> None:
    reworked(served)
    told = served.get("/reports/month", headers={"Accept": "application/json"}).json()
    assert (told["month"], told["first_week"]) == ("2026-03", "2026-W10")
    assert told["left"] == [{"kind": "bedside table", "wood": "ash", "pieces": 2}]
    assert told["promises_kept"]["of"] == 0
