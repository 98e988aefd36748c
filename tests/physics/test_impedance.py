"""Tests: impedances in real arithmetic behave as the complex numbers they stand for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.physics.impedance import (
    NONE,
    OPEN,
    Admittance,
    Impedance,
    admittance,
    admittances,
    from_magnitude,
    inverse,
    magnitude,
    mean_r_over_x,
    parallel,
    r_over_x,
    reactive_share,
    referred,
    scaled,
    series,
    x_over_r,
)

ohms = st.floats(1e-6, 1e4)
impedances = st.builds(Impedance, ohms, ohms)


def as_complex(z: Impedance) -> complex:
    """The complex number this impedance stands for."""
    return complex(z.resistance, z.reactance)


@given(impedances, impedances)
def test_parallel_is_the_complex_parallel(first: Impedance, second: Impedance) -> None:
    """Two branches side by side: Z1 Z2 / (Z1 + Z2)."""
    a, b = as_complex(first), as_complex(second)
    assert as_complex(parallel([first, second])) == pytest.approx(a * b / (a + b), rel=1e-12)


@given(impedances)
def test_inverse_of_the_admittance_is_the_impedance(z: Impedance) -> None:
    """1 / (1/Z) = Z, and Y = G - jB."""
    y = admittance(z)
    assert complex(y.conductance, -y.susceptance) == pytest.approx(1 / as_complex(z), rel=1e-12)
    assert as_complex(inverse(y)) == pytest.approx(as_complex(z), rel=1e-12)


@given(impedances, impedances)
def test_parallel_is_smaller_than_each_branch_of_like_nature(first: Impedance, second: Impedance) -> None:
    """Neither branch alone lets more current through than both together."""
    together = magnitude(parallel([first, second]))
    assert together <= min(magnitude(first), magnitude(second)) * (1 + 1e-12)


@given(st.floats(1e-4, 1e4), st.floats(1e-3, 1e3))
def test_size_and_ratio_come_back(size: float, ratio: float) -> None:
    """An impedance made from size and X/R has that size and that X/R."""
    z = from_magnitude(size, ratio)
    assert magnitude(z) == pytest.approx(size, rel=1e-12)
    assert x_over_r(z) == pytest.approx(ratio, rel=1e-9)
    assert r_over_x(z) == pytest.approx(1 / ratio, rel=1e-9)


def test_endless_ratio_leaves_a_pure_reactance() -> None:
    """X/R without end means that the resistance is neglected, as the standard allows for high-voltage feeders."""
    assert from_magnitude(2.0, np.inf) == (0.0, 2.0)


def test_branch_that_is_not_connected_takes_no_part() -> None:
    """Operating cases: both, first only, second only, none; the last is open."""
    first, second = Impedance(1.0, 2.0), Impedance(3.0, 1.0)
    z = parallel([first, second], [np.array([1.0, 1.0, 0.0, 0.0]), np.array([1.0, 0.0, 1.0, 0.0])])
    assert z.resistance[0] == pytest.approx(as_complex(parallel([first, second])).real)
    assert (z.resistance[1], z.reactance[1]) == pytest.approx(first)
    assert (z.resistance[2], z.reactance[2]) == pytest.approx(second)
    assert (z.resistance[3], z.reactance[3]) == OPEN


def test_open_circuit_stays_open_and_has_no_undefined_number() -> None:
    """Series, referral and threefold neutral of an open circuit; its R/X is zero, its admittance too."""
    z = series(scaled(OPEN, 3.0), Impedance(1.0, 1.0), referred(OPEN, 25.0))
    assert (z.resistance, z.reactance) == (1.0, np.inf)
    assert magnitude(z) == np.inf
    assert r_over_x(z) == 0.0
    assert admittance(z) == (0.0, 0.0)
    assert parallel([OPEN, Impedance(1.0, 2.0)]) == pytest.approx((1.0, 2.0))


def test_inverse_of_one_part_alone_is_its_reciprocal() -> None:
    """1/0.5 S is 2 ohm, resistive or reactive; small admittances are no open circuit."""
    assert inverse(Admittance(0.5, 0.0)) == (2.0, 0.0)
    assert inverse(Admittance(0.0, 0.5)) == (0.0, 2.0)
    assert inverse(Admittance(0.03, 0.04)) == pytest.approx((12.0, 16.0), rel=1e-12)


def test_reactive_share_closes_the_triangle() -> None:
    """3-4-5, the ends, and nothing above a power factor of one."""
    assert reactive_share(np.array([0.8, 0.6, 0.0, 1.0])) == pytest.approx([0.6, 0.8, 1.0, 0.0], abs=1e-15)
    assert np.isnan(reactive_share(1.01))


def test_series_of_nothing_is_nothing() -> None:
    """The empty sum, and the neutral element."""
    assert series() == NONE
    assert series(Impedance(1.0, 2.0), NONE) == (1.0, 2.0)


def test_referral_goes_with_the_square_of_the_ratio() -> None:
    """20 kV to 400 V: 2500 times smaller, and back."""
    assert referred(Impedance(2500.0, 5000.0), 50.0) == (1.0, 2.0)
    assert referred(Impedance(1.0, 2.0), 1 / 50.0) == pytest.approx((2500.0, 5000.0))


@given(impedances, impedances)
def test_mean_r_over_x_is_that_of_the_series(first: Impedance, second: Impedance) -> None:
    """Two ratios weighed by X2/X1 give (R1 + R2)/(X1 + X2)."""
    weight = second.reactance / first.reactance
    found = mean_r_over_x(r_over_x(first), r_over_x(second), weight)
    assert found == pytest.approx(r_over_x(series(first, second)), rel=1e-9)


def test_factor_scales_both_parts() -> None:
    """Half of 3 + j4 ohm is 1.5 + j2 ohm."""
    assert scaled(Impedance(3.0, 4.0), 0.5) == (1.5, 2.0)


def test_number_of_shares_must_match_the_branches() -> None:
    """A forgotten operating case is refused, in words."""
    with pytest.raises(ValueError, match=r"^connected: one array per branch, expected 2, got 1$"):
        admittances([NONE, NONE], [1.0])


@settings(max_examples=25)
@given(st.lists(st.tuples(ohms, ohms), min_size=1, max_size=8))
def test_array_gives_what_a_loop_over_cases_gives(cases: list[tuple[float, float]]) -> None:
    """Cases on the last axis change nothing in the numbers."""
    table = np.array(cases)
    z = Impedance(table[:, 0], table[:, 1])
    other = Impedance(0.5, 1.5)
    together = parallel([series(z, other), other])
    for number, (resistance, reactance) in enumerate(cases):
        single = parallel([series(Impedance(resistance, reactance), other), other])
        assert (together.resistance[number], together.reactance[number]) == single
