"""Invented shops whose defects have one known driver, or none: coats with twenty things that were
so or not, some of them alike in a wood or a product, and three kinds of defect that follow."""

import numpy as np
import numpy.typing as npt
from coatledger.answers.quality.facts import CoatCase

# Batches are sprayed in one act a coat; what is so is so for the whole act.
BATCHES, A_BATCH, COATS = 500, 4, 3
ACTS = BATCHES * COATS
WOODS, PRODUCTS = ("ash", "white_oak", "cherry"), ("clear-w", "pigment-w")
KINDS = ("fish_eye", "nib", "sag")
CANDIDATES = 20
DRIVEN = "fish_eye"
ODDS = 5.0
Whole = npt.NDArray[np.int64]


def shop(seed: int, *, driver: bool) -> tuple[tuple[CoatCase, ...], str]:
    """Make one shop's coats, about 6,000; return them and the driver's name."""
    rng = np.random.default_rng(seed)
    wood = rng.integers(len(WOODS), size=BATCHES).repeat(COATS)
    product = rng.integers(len(PRODUCTS), size=BATCHES).repeat(COATS)
    facts = [_fact(rng, wood, product) for _ in range(CANDIDATES)]
    true = int(rng.integers(CANDIDATES))
    happened = {
        kind: _followed(rng, wood, facts[true] == "1" if driver and kind == DRIVEN else None)
        for kind in KINDS
    }
    cases = tuple(
        CoatCase(
            f"act {i}", i, PRODUCTS[product[i]], WOODS[wood[i]],
            {f"fact {n}": str(values[i]) for n, values in enumerate(facts)},
            frozenset(kind for kind in KINDS if happened[kind][i, piece]),
        )
        for i in range(ACTS)
        for piece in range(A_BATCH)
    )  # fmt: skip
    return cases, f"fact {true}"


def _fact(rng: np.random.Generator, wood: Whole, product: Whole) -> npt.NDArray[np.str_]:
    """Something of two to four values, commoner in some woods and products than in others."""
    values = int(rng.integers(2, 5)) if rng.random() < 0.5 else 2
    rare = rng.uniform(0.08, 0.4)
    tilt = 1.0 + 0.5 * rng.standard_normal((len(WOODS), len(PRODUCTS)))
    chance = np.clip(rare * tilt[wood, product], 0.03, 0.6)
    other = np.where(rng.random(len(wood)) < 0.5, 0, rng.integers(0, values, len(wood)))
    other = np.where(other == 1, 0, other)
    chosen: Whole = np.where(rng.random(len(wood)) < chance, 1, other)
    return chosen.astype(str)


def _followed(
    rng: np.random.Generator, wood: Whole, driven: npt.NDArray[np.bool_] | None
) -> npt.NDArray[np.bool_]:
    """Each wood has its own usual chance; the driver multiplies its odds, piece by piece."""
    usual = rng.uniform(0.004, 0.02, len(WOODS))[wood]
    odds = usual / (1.0 - usual)
    if driven is not None:
        odds = np.where(driven, odds * ODDS, odds)
    hit: npt.NDArray[np.bool_] = rng.random((len(wood), A_BATCH)) < (odds / (1.0 + odds))[:, None]
    return hit
