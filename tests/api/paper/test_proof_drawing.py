"""The drawing of a film: places and heights follow the numbers."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence

import pytest
from bench import Bench, on_day
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros, recorded
from coatledger.subjects.dossier import Told, told_of
from coatledger.subjects.dossier_film import AirRead
from coatledger_api.paper.proof_drawing import Band, Span, drawing

SVG = "{http://www.w3.org/2000/svg}"


def told(*coats: tuple[str, float | None]) -> Told:
    bench = Bench(store=MemoryStore("trial")).open_shop()
    bench.pieces("A")
    for at, wet_um in coats:
        bench.at(at).coat("A", wet_film_um=wet_um)
    with bench.store.reading() as reader:
        return told_of("A", [recorded(row) for row in reader.rows(0, 1000)])


def air(*reads: tuple[str, float]) -> Sequence[tuple[str, Sequence[AirRead]]]:
    return [("spray", tuple(AirRead(micros(on_day(at)), c, 50.0) for at, c in reads))]


def drawn(facts: Told, read: Sequence[tuple[str, Sequence[AirRead]]] = ()) -> ET.Element:
    return ET.fromstring(drawing(facts, read))


def layers(svg: ET.Element) -> list[tuple[float, float, float]]:
    rects = [rect.attrib for rect in svg.iter("rect") if "layer" in rect.attrib["class"]]
    return [(float(at["x"]), float(at["y"]), float(at["height"])) for at in rects]


def test_nothing_is_drawn_where_no_film_is() -> None:
    assert drawing(told(), ()) == ""


def test_each_coat_is_a_layer_on_the_one_before_as_high_as_its_dry_film() -> None:
    first, second = layers(drawn(told(("1 08:00", 100.0), ("1 12:00", 200.0))))
    assert first[0] < second[0]
    assert second[2] == pytest.approx(2 * first[2], abs=0.2)
    assert second[1] + second[2] == pytest.approx(first[1], abs=0.2)


def test_a_coat_nobody_measured_is_a_thin_line_and_says_so() -> None:
    svg = drawn(told(("1 08:00", None)))
    assert layers(svg)[0][2] == 1.5
    assert any("film not measured" in (text.text or "") for text in svg.iter("text"))


def test_the_air_is_a_line_with_its_silences_left_open() -> None:
    reads = air(("1 08:00", 20.0), ("1 09:00", 21.0), ("1 16:00", 19.0), ("1 17:00", 20.0))
    svg = drawn(told(("1 08:00", 100.0)), reads)
    lines = [line.attrib["class"] for line in svg.iter("polyline")]
    assert lines == ["warm", "warm", "damp", "damp"]
    alone = drawn(told(("1 08:00", 100.0)), air(("1 08:00", 20.0), ("1 16:00", 19.0)))
    assert [dot.attrib["class"] for dot in alone.iter("circle")].count("warm dot") == 2


def test_everything_stands_inside_the_drawing() -> None:
    svg = drawn(told(("1 08:00", 100.0), ("1 11:00", 120.0), ("2 08:00", 90.0)),
                air(*((f"1 {hour:02}:00", 20.0 + hour % 4) for hour in range(24))))  # fmt: skip
    wide, high = map(float, svg.attrib["viewBox"].split()[2:])
    for shape in svg.iter():
        for name, most in (("x", wide), ("cx", wide), ("y", high), ("cy", high)):
            if name in shape.attrib:
                assert 0 <= float(shape.attrib[name]) <= most
        for x, y in re.findall(r"([\d.]+),([\d.]+)", shape.attrib.get("points", "")):
            assert 0 <= float(x) <= wide
            assert 0 <= float(y) <= high


@pytest.mark.parametrize("days", [1, 5, 40, 400, 4000])
def test_a_long_life_has_as_few_marks_on_its_axis_as_a_short_one(days: int) -> None:
    svg = drawn(told(("1 08:00", 100.0), (f"{days} 16:00", 100.0)))
    ticks = [text for text in svg.iter("text") if text.attrib["class"] == "tick"]
    assert 3 <= len(ticks) <= 11


def test_places_and_heights_are_in_proportion() -> None:
    span = Span(0, 1_000)
    assert span.x(500) == pytest.approx((span.x(0) + span.x(1_000)) / 2)
    band = Band(10.0, 100.0, 20.0, 30.0)
    assert (band.y(20.0), band.y(25.0), band.y(30.0)) == (110.0, 60.0, 10.0)
