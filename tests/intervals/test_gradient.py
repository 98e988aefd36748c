"""Tests of deadfront.intervals.gradient: slopes hold every difference of two points, jumps have no bound."""

import numpy as np
import pytest
from enclosures import around, ranges

from deadfront.intervals import Dual, Interval
from deadfront.intervals.slopes import CHAIN

INF = np.inf
DOMAINS = {
    np.exp: around(-5.0, 5.0),
    np.exp2: around(-5.0, 5.0),
    np.expm1: around(-5.0, 5.0),
    np.sinh: around(-3.0, 3.0),
    np.arcsin: around(-1.0, 1.0),
    np.log: around(0.01, 100.0),
    np.log2: around(0.01, 100.0),
    np.log10: around(0.01, 100.0),
    np.log1p: around(-0.9, 100.0),
    np.sqrt: around(0.0, 100.0),
    np.reciprocal: around(0.1, 10.0),
    np.power: around(0.1, 3.0),
    np.float_power: around(0.1, 3.0),
    np.divide: around(0.1, 3.0),
}


def variables(*bounds):
    """One gradient variable per (lower, upper), inputs numbered in order."""
    return [Dual.variable(Interval(*map(np.asarray, pair)), k) for k, pair in enumerate(bounds)]


def slope(x, number=0):
    """Ends of a slope as two floats."""
    found = x.slope_in(number)
    return float(found.lower), float(found.upper)


def differences_outside(function, boxes, rng, count=30, inward=0.0):
    """Segments along one input, the others anywhere, whose difference lies outside slope times step."""
    result = function(*(Dual.variable(x, k) for k, x in enumerate(boxes)))
    outside, checked = 0, 0
    for _ in range(count):
        start = [x.lower + rng.random(x.shape) * (x.upper - x.lower) for x in boxes]
        for k, x in enumerate(boxes):
            end = list(start)
            end[k] = x.lower + rng.random(x.shape) * (x.upper - x.lower)
            with np.errstate(all="ignore"):
                change = function(*end) - function(*start)
                step = end[k] - start[k]
                steep = result.slope_in(k)
                low, high = steep.lower + inward * np.abs(steep.lower), steep.upper - inward * np.abs(steep.upper)
                reach = np.where(step > 0.0, low * step, high * step), np.where(step > 0.0, high * step, low * step)
            noise = 1e-13 * (np.abs(function(*end)) + np.abs(function(*start))) + 1e-300
            told = np.isfinite(change) & np.isfinite(reach[0]) & np.isfinite(reach[1]) & (np.abs(change) > 1e3 * noise)
            bad = (change < reach[0] - noise) | (change > reach[1] + noise)
            outside, checked = outside + int((bad & told).sum()), checked + int(told.sum())
    assert checked > 100
    return outside


SMOOTH = [u for u in CHAIN if u not in (np.floor, np.ceil, np.rint, np.sign)]


@pytest.mark.parametrize("ufunc", SMOOTH, ids=lambda u: u.__name__)
def test_slopes_hold_the_difference_of_any_two_points(ufunc):
    """500 ranges, 30 segments along each argument: the difference quotient lies inside the slope."""
    rng = np.random.default_rng(11)
    boxes = [ranges(rng, DOMAINS.get(ufunc, around(-3.0, 3.0)), 500) for _ in range(ufunc.nin)]
    assert differences_outside(ufunc, boxes, rng) == 0


@pytest.mark.parametrize("ufunc", SMOOTH, ids=lambda u: u.__name__)
def test_slopes_moved_inward_are_noticed(ufunc):
    """Mutation: the same check fails if both ends of every slope are moved inward by a thousandth."""
    rng = np.random.default_rng(11)
    boxes = [ranges(rng, DOMAINS.get(ufunc, around(-3.0, 3.0)), 500) for _ in range(ufunc.nin)]
    assert differences_outside(ufunc, boxes, rng, inward=1e-3) > 0


FORMULAS = {
    "impedance": lambda r, x: 1.0 / np.sqrt(np.square(r) + np.square(x)),
    "inverse time": lambda i, d: d * (0.14 / (np.maximum(i, 1.01) ** 0.02 - 1.0)),
    "polynomial of numpy": lambda i, k: np.polyval([2.0, -9.0, 12.0, -3.0], i) * k,
    "polynomial without power": lambda i, k: np.polyval([4.0], i) * k,
    "log-log curve": lambda i, k: k * np.exp(np.interp(np.log(i), [-1.0, 0.0, 0.5, 1.0], [3.0, 1.0, 0.5, -2.0])),
    "kink": lambda x, y: np.minimum(x, y) + np.abs(x - 0.5) * np.maximum(y, 1.0),
    "polynomial": lambda x, y: ((2.0 * x - 3.0) * x + y) * x - 1.0,
    "decided branch": lambda x, y: np.where(x > 10.0, x * y, x / y),
    "columns": lambda x, y: np.sum(np.stack([x * y, np.sqrt(x), y], axis=0), axis=0),
}


@pytest.mark.parametrize("name", FORMULAS)
def test_slopes_of_formulas_hold_the_difference_of_any_two_points(name):
    """Chains like those of the study, 300 boxes: no difference quotient escapes."""
    rng = np.random.default_rng(5)
    boxes = [ranges(rng, around(0.2, 2.5), 300) for _ in range(2)]
    assert differences_outside(FORMULAS[name], boxes, rng) == 0


def test_a_jump_has_no_bound_in_any_input_that_moves_it():
    """An input that only enters an undecided condition has a slope without bound; one that does not has its own."""
    x, y, z = variables((1.0, 2.0), (0.0, 3.0), (1.0, 1.5))
    chosen = np.where(x > y, 10.0 * z, 5.0 * z)
    assert slope(chosen, 0) == slope(chosen, 1) == (-INF, INF)
    assert slope(chosen, 2) == pytest.approx((5.0, 10.0))
    constant = np.where(x > y, 1.0, 2.0)
    assert slope(constant, 0) == (-INF, INF)


def test_a_decided_condition_leaves_the_slope_of_its_branch():
    """No trace of the branch that is not chosen, nor of the condition."""
    x, y = variables((1.0, 2.0), (3.0, 4.0))
    chosen = np.where(x > y, np.sqrt(x - y), 3.0 * x)
    assert slope(chosen, 0) == pytest.approx((3.0, 3.0))
    assert slope(chosen, 1) == (0.0, 0.0)


def test_a_condition_made_of_several_is_moved_by_all_of_them():
    """And, or and not of conditions jump with each of their inputs."""
    x, y, z = variables((1.0, 2.0), (1.0, 2.0), (0.0, 1.0))
    chosen = np.where(~((x > 1.5) & (y < 1.5)) | np.array(False), z, 2.0 * z)
    assert slope(chosen, 0) == slope(chosen, 1) == (-INF, INF)
    assert slope(chosen, 2) == pytest.approx((1.0, 2.0))


def test_a_fuse_below_its_first_point_jumps_to_infinite_time():
    """The curve's left side is infinite: the slope has no bound where the range reaches over the first point."""
    (i,) = variables(([90.0, 110.0, 50.0], [120.0, 120.0, 90.0]))
    time = np.interp(i, [100.0, 200.0], [10.0, 1.0], left=INF)
    assert time.value.upper.tolist() == [INF, pytest.approx(9.1), INF]
    assert [tuple(map(float, (a, b))) for a, b in zip(*time.slope_in(0).ends, strict=True)] == [
        (-INF, INF),
        pytest.approx((-0.09, -0.09)),
        (0.0, 0.0),
    ]


@pytest.mark.parametrize("ufunc", [np.floor, np.ceil, np.rint, np.sign], ids=lambda u: u.__name__)
def test_a_step_function_is_flat_or_without_bound(ufunc):
    """Flat where it takes one value, without bound where it steps."""
    (x,) = variables(([0.6, -0.6], [0.9, 1.6]))
    low, high = ufunc(x).slope_in(0).ends
    assert (low[0], high[0]) == (0.0, 0.0)
    assert (low[1], high[1]) == (-INF, INF)


def test_a_branch_that_is_switched_off_does_not_move():
    """Zero times a jump is zero: a case in which the device takes no part has no slope."""
    (x,) = variables((1.0, 2.0))
    masked = np.array([0.0, 1.0]) * np.where(x > 1.5, 1.0, 2.0)
    assert slope(masked[0:1].reshape(())) == (0.0, 0.0)
    assert slope(masked[1:2].reshape(())) == (-INF, INF)


def test_a_pole_and_an_upright_root_have_no_bound():
    """1/x over zero, and the root at zero, are steeper than any number; the root still surely rises."""
    x, y = variables((-1.0, 1.0), (0.0, 1.0))
    assert slope(1.0 / x) == (-INF, INF)
    low, high = slope(np.sqrt(y), 1)
    assert (low, high) == (pytest.approx(0.5), INF)


def test_value_and_shape_are_those_of_the_range():
    """A gradient carries the same range as the interval alone, through every shape function."""
    rng = np.random.default_rng(2)
    box = ranges(rng, around(0.5, 2.0), 6).reshape(3, 2)
    (x,) = variables(box.ends)

    def formula(v):
        wide = np.stack([v, np.broadcast_to(v[:1], (3, 2)), 2.0 * v], axis=-1)
        part = np.concatenate([wide, np.expand_dims(v, -1)], axis=-1)[..., [0, 3, 1]]
        return np.where(np.max(part, axis=1) > 1.0, np.sum(part, axis=1), np.moveaxis(part, 1, 0)[0])

    plain, dual = formula(box), formula(x)
    assert np.array_equal(plain.lower, dual.value.lower)
    assert np.array_equal(plain.upper, dual.value.upper)
    assert dual.shape == dual.slope_in(0).shape == (3, 3)
    assert [one.shape for one in np.broadcast_arrays(x, np.zeros((4, 1, 1)))] == [(4, 3, 2)] * 2


def test_a_range_without_slopes_is_a_parameter():
    """An interval met by a gradient counts as a constant that is not known exactly."""
    (x,) = variables((1.0, 2.0))
    for product in (x * Interval(2.0, 3.0), Interval(2.0, 3.0) * x):
        assert slope(product) == pytest.approx((2.0, 3.0))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda x: np.asarray(x), "a range with slopes cannot become a plain array: ask .value"),
        (lambda x: float(x), "a range with slopes cannot become a plain number: ask .value"),
        (lambda x: bool(x), "a range with slopes is neither true nor false"),
        (lambda x: np.tan(x), "np.tan is not defined for ranges with slopes"),
        (lambda x: np.clip(x, 0.0, 1.0), "np.clip is not defined for ranges"),
        (lambda x: np.add(x, 1.0, out=np.zeros(2)), "np.add with __call__ or ['out'] is not defined for ranges"),
        (lambda x: (x > 1.0) * 2.0, "np.multiply is not defined for a truth over ranges"),
        (lambda x: (x > 1.0) * x, "np.multiply is not defined for a truth over ranges"),
        (lambda x: np.where(x, 1.0, 2.0), "a condition over ranges is made of comparisons and bool arrays, got Dual"),
    ],
)
def test_what_gradients_cannot_mean_is_refused(call, sentence):
    """Nothing turns into plain numbers by itself, and no unknown function is guessed."""
    (x,) = variables(([1.0, 2.0], [2.0, 3.0]))
    with pytest.raises(TypeError) as caught:
        call(x)
    assert str(caught.value) == sentence
