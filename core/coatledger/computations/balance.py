"""Balanced films: whether a wide panel's two faces let water through alike, so it stays flat."""

from typing import Literal

from msgspec import Struct

from coatledger.computations.practice import PRACTICE, WIDE_PANEL_MM
from coatledger.computations.ranges import require

FILM = "a dry film on wood"
# A face with less than this share of the other's film breathes noticeably faster.
LEAST_SHARE_PCT = 60.0  # common practice, no published source


class Balance(Struct, frozen=True):
    """The thinner face's film as a share of the thicker's, and what that means for this panel."""

    share_pct: float
    verdict: Literal["balanced", "unbalanced", "narrow"]
    thinner: Literal["show", "underside", "neither"]
    advice: str


def balance(show_um: float, underside_um: float, panel_mm: float) -> Balance:
    """Compare the dry films of a panel's two faces.

    *Reference:* vapour passes a film in proportion to one over its thickness (Fick); the limits are
    common practice, no published source. *Valid:* the same finish on both faces, solid wood.
    """
    require("show_um", show_um, 0, 2000, FILM)
    require("underside_um", underside_um, 0, 2000, FILM)
    require("panel_mm", panel_mm, 1, 5000, "one panel of a piece")
    thick, thin = max(show_um, underside_um), min(show_um, underside_um)
    share = 100.0 if thick == 0 else thin / thick * 100
    thinner: Literal["show", "underside", "neither"] = "neither"
    if show_um != underside_um:
        thinner = "underside" if underside_um < show_um else "show"
    if panel_mm < WIDE_PANEL_MM:
        return Balance(share, "narrow", thinner, f"Narrow panels seldom cup ({PRACTICE}).")
    if share >= LEAST_SHARE_PCT:
        return Balance(share, "balanced", thinner, "Both faces breathe alike.")
    advice = f"Coat the {thinner} until both films are alike, or the panel cups."
    return Balance(share, "unbalanced", thinner, advice)
