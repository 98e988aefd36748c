"""Tests of deadfront.intervals.rounding: the processor's flags and the error of the library functions."""

import flint
import numpy as np
import pytest

from deadfront.intervals import rounding

LIBRARY = {
    "exp": (np.exp, (-700.0, 700.0)),
    "exp2": (np.exp2, (-1000.0, 1000.0)),
    "expm1": (np.expm1, (-30.0, 700.0)),
    "log": (np.log, (1e-300, 1e300)),
    "log2": (np.log2, (1e-300, 1e300)),
    "log10": (np.log10, (1e-300, 1e300)),
    "log1p": (np.log1p, (-0.999, 1e6)),
    "cbrt": (np.cbrt, (1e-300, 1e300)),
    "sinh": (np.sinh, (-700.0, 700.0)),
    "tanh": (np.tanh, (-20.0, 20.0)),
    "atan": (np.arctan, (-1e6, 1e6)),
    "asinh": (np.arcsinh, (-1e6, 1e6)),
    "asin": (np.arcsin, (-1.0, 1.0)),
    "sin": (np.sin, (-1e3, 1e3)),
    "cos": (np.cos, (-1e3, 1e3)),
}


def exact(name: str, x: float) -> flint.arb:
    """A function at a float, in ball arithmetic of 200 bits."""
    ball = flint.arb(x)
    if name == "exp2":
        return flint.arb(2) ** ball
    if name == "log2":
        return ball.log() / flint.arb(2).log()
    if name == "log10":
        return ball.log() / flint.arb(10).log()
    if name == "cbrt":
        return ball.root(3)
    return getattr(ball, name)()


def units_off(value: float, true: flint.arb) -> float:
    """Distance of a float from the exact value, in units of its last place."""
    return abs(float((flint.arb(value) - true) / flint.arb(float(np.spacing(abs(value))))))


@pytest.mark.parametrize("name", LIBRARY)
def test_library_functions_err_less_than_they_are_widened(name):
    """2000 points of each function against ball arithmetic: the error stays below half of LIBRARY_ULPS.

    Half, so that neither the exact value nor the float of a point inside the range can lie outside.
    """
    function, (low, high) = LIBRARY[name]
    rng = np.random.default_rng(1584)
    spread = rng.uniform(low, high, 1000)
    near = np.exp(rng.uniform(np.log(max(low, 1e-6)), np.log(high), 1000))
    x = np.concatenate([spread, near])
    flint.ctx.prec = 200
    worst = max(units_off(v, exact(name, p)) for v, p in zip(function(x).tolist(), x.tolist(), strict=True) if v != 0.0)
    assert worst < rounding.LIBRARY_ULPS / 2


def test_powers_err_less_than_they_are_widened():
    """2000 powers with the exponents of the trade's formulas against ball arithmetic."""
    rng = np.random.default_rng(151)
    x, y = np.exp(rng.uniform(-20.0, 20.0, 2000)), rng.choice([0.02, 0.14, 1.1, 1.473, 2.0, -1.6, 3.0, 7.0], 2000)
    flint.ctx.prec = 200
    values = np.power(x, y).tolist()
    worst = max(
        units_off(v, flint.arb(a) ** flint.arb(b)) for v, a, b in zip(values, x.tolist(), y.tolist(), strict=True)
    )
    assert worst < rounding.LIBRARY_ULPS / 2


def test_the_processor_reports_overflow_and_underflow():
    """The fast path stands on these two flags; without them a subnormal end would not be moved."""
    many = np.full(1000, 1e-200)
    with np.errstate(under="raise", over="raise"):
        with pytest.raises(FloatingPointError, match="underflow encountered in multiply"):
            many * many
        with pytest.raises(FloatingPointError, match="overflow encountered in multiply"):
            (1.0 / many) * (1.0 / many)


@pytest.mark.parametrize("scale", [1.0, -1.0, 1e-310, -1e-310, 5e-324, 1e308, -1e308])
@pytest.mark.parametrize("operation", [np.add, np.subtract, np.multiply, np.divide])
def test_basic_operations_enclose_the_exact_result(operation, scale):
    """500 random pairs of each size, subnormal and huge ones included, against exact ball arithmetic."""
    rng = np.random.default_rng(60909)
    x, y = (scale * rng.uniform(0.1, 1.0, 500) for _ in range(2))
    z = rng.uniform(0.1, 10.0, 500)
    second = y if operation in (np.add, np.subtract) else z
    low, high = rounding.outward(operation, [(x, second)], [(x, second)])
    flint.ctx.prec = 3000  # every sum and product of doubles is exact
    for k in range(500):
        true = getattr(flint.arb(x[k]), f"__{PYTHON[operation]}__")(flint.arb(second[k]))
        assert flint.arb(low[k]) <= true or np.isinf(low[k])
        assert true <= flint.arb(high[k]) or np.isinf(high[k])


PYTHON = {np.add: "add", np.subtract: "sub", np.multiply: "mul", np.divide: "truediv"}


def test_an_exact_zero_or_infinity_is_not_moved():
    """Zero times a number, and infinity plus a number, are exact; so is their neighbour's underflow."""
    x = np.array([0.0, 1e-300, np.inf])
    low, high = rounding.outward(np.multiply, [(x, 1e-300)], [(x, 1e-300)])
    assert low.tolist() == [0.0, 0.0, np.inf]
    assert high.tolist() == [0.0, 5e-324, np.inf]
