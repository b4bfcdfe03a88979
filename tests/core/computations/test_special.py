"""The incomplete integrals and their inverses against scipy, to ten digits or better."""

import math

import pytest
import scipy.special
from coatledger.computations import special
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

SHAPES = st.floats(0.05, 2_000)
# scipy's own accuracy for these shapes is about 1e-13; ours is stated as 12 digits.
REL, ABS = 1e-9, 1e-12


@given(st.floats(0, 1), SHAPES, SHAPES)
def test_the_incomplete_beta_agrees_with_scipy(x: float, a: float, b: float) -> None:
    assert special.beta_cdf(x, a, b) == pytest.approx(
        scipy.special.betainc(a, b, x), rel=REL, abs=ABS
    )


@given(st.floats(0, 10_000), SHAPES)
def test_the_incomplete_gamma_agrees_with_scipy(x: float, shape: float) -> None:
    ours = special.gamma_cdf(x, shape)
    assert ours == pytest.approx(scipy.special.gammainc(shape, x), rel=REL, abs=ABS)


@given(st.floats(0.001, 0.999), st.floats(0.5, 500), st.floats(0.5, 500))
def test_a_beta_quantile_is_the_inverse(chance: float, a: float, b: float) -> None:
    x = special.beta_quantile(chance, a, b)
    assert special.beta_cdf(x, a, b) == pytest.approx(chance, rel=1e-8)


@given(st.floats(0.001, 0.999), st.floats(0.5, 500))
def test_a_gamma_quantile_is_the_inverse(chance: float, shape: float) -> None:
    x = special.gamma_quantile(chance, shape)
    assert special.gamma_cdf(x, shape) == pytest.approx(chance, rel=1e-8)


@given(st.floats(-8, 8))
def test_the_normal_integral_agrees_with_scipy(z: float) -> None:
    assert special.normal_cdf(z) == pytest.approx(scipy.special.ndtr(z), rel=1e-12)


@pytest.mark.parametrize("chance", [1e-9, 0.025, 0.5, 0.9, 0.975])
def test_normal_quantiles_agree_with_scipy(chance: float) -> None:
    ours = special.normal_quantile(chance)
    assert ours == pytest.approx(scipy.special.ndtri(chance), abs=1e-12)


def test_ways_to_choose_are_counted() -> None:
    assert math.exp(special.log_choose(10, 4)) == pytest.approx(210)


def test_arguments_outside_the_integrals_are_refused() -> None:
    with pytest.raises(OutOfRange, match="x is 1"):
        special.beta_cdf(1.1, 2, 2)
    with pytest.raises(OutOfRange, match="shape"):
        special.gamma_cdf(1.0, 0.0)
    with pytest.raises(OutOfRange, match="chance"):
        special.normal_quantile(1.0)


def test_a_sum_that_does_not_settle_is_an_error_not_a_number(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(special, "_TERMS_MAX", 2)
    monkeypatch.setattr(special, "_HALVINGS_MAX", 2)
    with pytest.raises(ArithmeticError, match="beta fraction did not settle"):
        special.beta_cdf(0.4, 20, 30)
    with pytest.raises(ArithmeticError, match="gamma series did not settle"):
        special.gamma_cdf(5.0, 9.0)
    with pytest.raises(ArithmeticError, match="gamma fraction did not settle"):
        special.gamma_cdf(20.0, 9.0)
    with pytest.raises(ArithmeticError, match="halving did not settle"):
        special.halve(lambda x: x < 0.3, 0.0, 1.0)


def test_a_far_gamma_quantile_is_reached() -> None:
    far = special.gamma_quantile(1 - 1e-13, 0.5)
    assert far == pytest.approx(scipy.special.gammainccinv(0.5, 1e-13), rel=1e-3)
