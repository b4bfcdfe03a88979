"""What is asked for against what is sold."""

import pytest
from bench import Bench
from coatledger.answers.promises.lines import wrong_lines
from coatledger.events.orders import OrderLine
from coatledger.events.setup import OfferingDescribed
from promise_shop import shop


def selling() -> Bench:
    bench = shop()
    bench.record(
        OfferingDescribed, offering="box", skus=("bx-1", "bx-2"), schedule="three",
        options={"lid": ("hinged", "loose"), "tint": ("none",)},
    )  # fmt: skip
    bench.record(OfferingDescribed, offering="old", skus=("od-1",), schedule="three", paused=True)
    return bench


def found(*lines: OrderLine) -> list[tuple[str, str]]:
    bench = selling()
    with bench.store.reading():
        return [(one.kind, one.pointer) for one in wrong_lines(bench.view(), lines)]


@pytest.mark.parametrize(
    "line",
    [
        OrderLine(line="1", sku="bx-2", options={"lid": "hinged"}),
        OrderLine(line="1", offering="box", sku="bx-1", quantity=3),
        OrderLine(line="1", offering="shelf"),
        OrderLine(line="1", species="cherry", coat_area_m2=1.5, use="table"),
        OrderLine(line="1", schedule="three"),
    ],
)
def test_what_is_sold_or_described_is_right(line: OrderLine) -> None:
    assert found(line) == []


@pytest.mark.parametrize(
    ("line", "wrong"),
    [
        (OrderLine(line="1"), [("wrong", "/0")]),
        (OrderLine(line="1", species="ash"), [("wrong", "/0")]),
        (
            OrderLine(line="1", coat_area_m2=1.0, options={"lid": "loose"}),
            [("wrong", "/0/options")],
        ),
        (OrderLine(line="1", sku="bx-9"), [("unknown", "/0/sku")]),
        (OrderLine(line="1", sku="box"), [("unknown", "/0/sku")]),
        (OrderLine(line="1", offering="lamp"), [("unknown", "/0/offering")]),
        (OrderLine(line="1", offering="box", sku="od-1"), [("wrong", "/0/sku")]),
        (OrderLine(line="1", sku="bx-1", options={"lid": "glass"}), [("wrong", "/0/options/lid")]),
        (OrderLine(line="1", sku="bx-1", options={"leg": "x"}), [("wrong", "/0/options/leg")]),
        (OrderLine(line="1", sku="od-1"), [("paused", "/0/sku")]),
        (OrderLine(line="1", offering="box", schedule="three"), [("wrong", "/0/schedule")]),
    ],
)
def test_what_is_wrong_is_told_with_its_place(
    line: OrderLine, wrong: list[tuple[str, str]]
) -> None:
    assert found(line) == wrong


def test_two_lines_of_one_word_are_told() -> None:
    twice = (OrderLine(line="1", offering="box"), OrderLine(line="1", offering="shelf"))
    assert found(*twice) == [("wrong", "/1/line")]


def test_more_than_a_shop_makes_in_years_is_no_order() -> None:
    lines = tuple(OrderLine(line=str(n), offering="shelf", quantity=400) for n in range(3))
    assert found(*lines[:2]) == []
    assert found(*lines) == [("wrong", "")]
