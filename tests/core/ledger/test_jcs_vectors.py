"""The normal form against RFC 8785's own vectors: equal in our subset, refused outside of it."""

import json
import struct
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from coatledger.ledger.normal import canonical, normal_form
from coatledger.refusal import Refused
from msgspec import Struct

GOLDEN = Path(__file__).parents[2] / "golden" / "ledger" / "jcs.json"
VECTORS = json.loads(GOLDEN.read_text(encoding="utf-8"))


class Amount(Struct, frozen=True):
    """One quantity, as a fact carries it."""

    amount: float


@pytest.mark.parametrize("name", ["arrays", "structures"])
def test_published_files_of_our_subset_are_written_to_the_byte(name: str) -> None:
    vector = VECTORS["files"][name]
    # 56.0 is one of the published inputs; a whole value is an integer before it is written.
    read: Any = json.loads(vector["input_text"], parse_float=lambda text: int(float(text)))
    value = read if isinstance(read, dict) else {"value": read}
    expected = bytes.fromhex(vector["output_utf8_hex"])
    written = canonical(value)
    assert written == (expected if isinstance(read, dict) else b'{"value":' + expected + b"}")


def test_strings_and_literals_are_written_as_published() -> None:
    vector = VECTORS["files"]["values"]
    read = json.loads(vector["input_text"])
    for part in ("string", "literals"):
        assert canonical({part: read[part]})[1:-1] in bytes.fromhex(vector["output_utf8_hex"])


@pytest.mark.parametrize("row", VECTORS["numbers"], ids=lambda row: row["text"])
def test_a_published_number_is_written_as_published_or_refused(row: dict[str, str]) -> None:
    (value,) = struct.unpack(">d", bytes.fromhex(row["ieee_hex"]))
    if value == 0:
        assert normal_form(Amount(value)) == b'{"amount":0}'
        return
    # Every other published number is one that no shop measures: too large or too fine.
    with pytest.raises(Refused):
        normal_form(Amount(value))


@pytest.mark.parametrize("text", ["0.001", "-0.001", "0.1", "1.5", "21.375", "999999.999", "4"])
def test_quantities_of_the_shop_are_written_as_rfc_8785_writes_them(text: str) -> None:
    body = normal_form(Amount(float(text)))
    assert body == rfc8785.dumps(json.loads(body)) == f'{{"amount":{text}}}'.encode()
