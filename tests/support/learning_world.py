"""Shops whose true drying is known, checked as people check: a world for the clock to learn in."""

from typing import NamedTuple

import numpy as np
from coatledger.computations import learning
from coatledger.computations.air_saturation import Floats
from coatledger.computations.learning import Posterior, prior

SHOP_PRODUCTS = 2_400
PRODUCT_SD, COAT_SD = 0.30, 0.14
CHECKS = 20


def as_people_check(
    rng: np.random.Generator, coat: Floats, expected: Floats
) -> tuple[Floats, Floats]:
    """Somebody looks about when the clock says, a little late; if not ready, once more later."""
    first = expected + rng.normal(0.1, 0.2, coat.size)
    second = first + rng.uniform(0.1, 0.3, coat.size)
    at_first, at_second = coat <= first, coat <= second
    lower = np.where(at_first, -np.inf, np.where(at_second, first, second))
    upper = np.where(at_first, first, np.where(at_second, second, np.inf))
    return lower, upper


class Learned(NamedTuple):
    """By number of checks made: share of coats inside the 80 % range, median error of the log
    factor; and the share of products whose own factor the last range covers."""

    covered: list[float]
    errors: list[float]
    own: float


def learn_in_many_shops() -> Learned:
    """Let 2,400 shop-products be checked twenty times each, one coat a check."""
    rng = np.random.default_rng(20)
    truth = rng.normal(0.0, PRODUCT_SD, SHOP_PRODUCTS)
    belief = Posterior(np.tile(prior().weights, (SHOP_PRODUCTS, 1)), prior().coat_log_sd)
    covered, errors = [], []
    for check in range(CHECKS + 1):
        coat = truth + rng.normal(0.0, COAT_SD, SHOP_PRODUCTS)
        low, middle, high = np.log(learning.next_coat_quantiles(belief)).T
        covered.append(float(np.mean((low <= coat) & (coat <= high))))
        factor = np.log(learning.factor_quantiles(belief, (0.5,)))[:, 0]
        errors.append(float(np.median(np.abs(factor - truth))))
        if check < CHECKS:
            lower, upper = as_people_check(rng, coat, middle)
            belief = learning.learn(belief, lower[:, None], upper[:, None])
    low, _, high = np.log(learning.factor_quantiles(belief)).T
    return Learned(covered, errors, float(np.mean((low <= truth) & (truth <= high))))
