"""Time stamps over a signed head: read, refused over another text, and vouched for."""

from __future__ import annotations

import contextlib

import pytest
from coatledger_adapters.stamps import StampError, stamp_of, vouched
from hypothesis import given
from hypothesis import strategies as st
from time_stamper import AT, Stamper

TEXT = "dune-end/e1\n7\nAAAA\n"
STAMPER = Stamper()
TOKEN = STAMPER.token(TEXT)


def test_a_token_says_when_and_by_whom() -> None:
    assert stamp_of(TOKEN, TEXT) == (AT, "CN=Harbour clock")


def test_a_token_over_another_text_is_refused() -> None:
    with pytest.raises(StampError, match="over another text"):
        stamp_of(TOKEN, TEXT + "x")


@pytest.mark.parametrize("junk", [b"", b"token", TOKEN[:-1], b"\x30\x00" * 200])
def test_what_is_no_token_is_refused(junk: bytes) -> None:
    with pytest.raises(StampError, match="no RFC 3161"):
        stamp_of(junk, TEXT)


def test_an_authority_vouches_for_its_own_tokens() -> None:
    assert vouched(TOKEN, TEXT, [STAMPER.root]) == (AT, "CN=Harbour clock")


def test_no_other_authority_vouches_for_them() -> None:
    with pytest.raises(StampError, match="no certificate that was given"):
        vouched(TOKEN, TEXT, [Stamper("Another clock").root])


def test_a_token_bent_after_it_was_signed_is_vouched_for_by_nobody() -> None:
    at = TOKEN.index(b"20260307183000Z")
    bent = TOKEN[:at] + b"20250307183000Z" + TOKEN[at + 15 :]
    assert stamp_of(bent, TEXT).at.year == 2025, "it can be read, and says another time"
    with pytest.raises(StampError, match="no certificate that was given"):
        vouched(bent, TEXT, [STAMPER.root])


@given(st.integers(0, len(TOKEN) - 1), st.integers(1, 255))
def test_a_token_with_any_byte_changed_is_refused_or_says_what_it_said(
    at: int, change: int
) -> None:
    bent = bytearray(TOKEN)
    bent[at] ^= change
    # A few bytes, such as a version's, are outside what is signed and say nothing.
    with contextlib.suppress(StampError):
        assert vouched(bytes(bent), TEXT, [STAMPER.root]) == (AT, "CN=Harbour clock")
