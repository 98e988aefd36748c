"""Tests of deadfront.intervals.interval: what ranges mean, case by case."""

import re

import numpy as np
import pytest

from deadfront.intervals import Interval, Truth

INF, NAN = np.inf, np.nan


def same(x: Interval, lower: float, upper: float) -> bool:
    """Whether a range has these ends, NaN equal to NaN."""
    return bool(np.array_equal([x.lower, x.upper], [lower, upper], equal_nan=True))


def near(x: Interval, lower: float, upper: float) -> bool:
    """Whether a range encloses these ends and is wider by rounding only."""
    pairs = [(x.lower, lower, -1.0), (x.upper, upper, 1.0)]
    return all(end == true or 0.0 <= sign * (end - true) <= 1e-14 * max(1.0, abs(true)) for end, true, sign in pairs)


@pytest.mark.parametrize(
    ("x", "y", "lower", "upper"),
    [
        ((1.0, 2.0), (-3.0, 5.0), -2.0, 7.0),
        ((1.0, INF), (2.0, 3.0), 3.0, INF),
        ((INF, INF), (2.0, 3.0), INF, INF),
        ((1.0, INF), (-INF, 3.0), NAN, NAN),
    ],
)
def test_a_sum_holds_every_sum(x, y, lower, upper):
    """Sums by hand, infinite ends included; infinity less infinity is undecided."""
    total = Interval(*x) + Interval(*y)
    assert near(total, lower, upper) or same(total, lower, upper)


@pytest.mark.parametrize(
    ("x", "y", "lower", "upper"),
    [
        ((1.0, 2.0), (3.0, 5.0), 3.0, 10.0),
        ((-1.0, 2.0), (3.0, 5.0), -5.0, 10.0),
        ((-1.0, 2.0), (-3.0, 5.0), -6.0, 10.0),
        ((-2.0, -1.0), (-3.0, 5.0), -10.0, 6.0),
        ((0.0, 0.0), (-3.0, 5.0), 0.0, 0.0),
        ((2.0, 3.0), (INF, INF), INF, INF),
        ((2.0, 3.0), (1.0, INF), 2.0, INF),
        ((0.0, 1.0), (1.0, INF), NAN, NAN),
        ((-1.0, 1.0), (1.0, INF), NAN, NAN),
        ((0.0, 0.0), (INF, INF), NAN, NAN),
    ],
)
def test_a_product_holds_every_product(x, y, lower, upper):
    """Products by hand; an exact zero stays exact; zero times infinity is undecided, wherever it hides."""
    for product in (Interval(*x) * Interval(*y), Interval(*y) * Interval(*x)):
        exact = np.isnan(lower) or lower in (0.0, INF)
        assert same(product, lower, upper) if exact else near(product, lower, upper)


@pytest.mark.parametrize(
    ("x", "y", "lower", "upper"),
    [
        ((1.0, 2.0), (4.0, 5.0), 0.2, 0.5),
        ((-1.0, 2.0), (-5.0, -4.0), -0.5, 0.25),
        ((1.0, 2.0), (0.0, 4.0), 0.25, INF),
        ((-2.0, -1.0), (0.0, 4.0), -INF, -0.25),
        ((1.0, 2.0), (-4.0, 0.0), -INF, INF),
        ((1.0, 2.0), (-4.0, 5.0), -INF, INF),
        ((0.0, 2.0), (0.0, 4.0), NAN, NAN),
        ((1.0, 2.0), (0.0, 0.0), INF, INF),
        ((1.0, 2.0), (5.0, INF), 0.0, 0.4),
        ((1.0, 2.0), (INF, INF), 0.0, 0.0),
        ((1.0, INF), (1.0, INF), NAN, NAN),
    ],
)
def test_a_quotient_holds_every_quotient(x, y, lower, upper):
    """Quotients by hand; a divisor that holds zero gives a half-line, the whole line, or 0/0: undecided."""
    quotient = Interval(*x) / Interval(*y)
    assert near(quotient, lower, upper) or same(quotient, lower, upper)


def test_zero_at_the_upper_end_of_a_divisor_gives_the_whole_line():
    """Floats divide by +0 there and give +infinity: the far side, which a half-line would miss."""
    assert same(1.0 / Interval(-4.0, 0.0), -INF, INF)
    with np.errstate(divide="ignore"):
        assert np.float64(1.0) / np.float64(0.0) == INF


def test_a_square_never_falls_below_zero():
    """x**2, np.square and x*x of one range know that both factors are one value."""
    x = Interval(-2.0, 3.0)
    for square in (x**2, np.square(x), x * x, x**2.0):
        assert near(square, 0.0, 9.0)


@pytest.mark.parametrize(
    ("x", "power", "lower", "upper"),
    [
        ((-2.0, 3.0), 3, -8.0, 27.0),
        ((-2.0, 3.0), 4, 0.0, 81.0),
        ((-2.0, 3.0), 0, 1.0, 1.0),
        ((-2.0, 3.0), 1.1, NAN, NAN),
        ((0.0, 4.0), 1.5, 0.0, 8.0),
        ((0.0, 4.0), -0.5, 0.5, INF),
        ((-2.0, 4.0), -1, -INF, INF),
        ((-2.0, 4.0), -3, -INF, INF),
        ((-2.0, 4.0), -2, 0.0625, INF),
        ((2.0, 4.0), -3, 1 / 64, 1 / 8),
        ((-4.0, -2.0), -3, -1 / 8, -1 / 64),
    ],
)
def test_a_power_holds_every_power(x, power, lower, upper):
    """Powers by hand: even and odd, whole and not, with poles; a negative base with a broken exponent is undecided."""
    for result in (Interval(*x) ** power, np.power(Interval(*x), np.array(float(power)))):
        assert near(result, lower, upper) or same(result, lower, upper)


def test_a_fixed_base_takes_a_range_as_exponent():
    """10**x, the form of the arc model's equations, and a base that is a range too."""
    assert near(10.0 ** Interval(-1.0, 2.0), 0.1, 100.0)
    assert near(np.power(Interval(0.5, 2.0), Interval(-1.0, 2.0)), 0.25, 4.0)
    assert np.isnan((Interval(-1.0, 2.0) ** Interval(0.0, 1.0)).lower)


@pytest.mark.parametrize(
    ("function", "x", "lower", "upper"),
    [
        (np.sqrt, (4.0, 9.0), 2.0, 3.0),
        (np.sqrt, (-1.0, 9.0), NAN, NAN),
        (np.log, (0.0, 1.0), -INF, 0.0),
        (np.log, (-1.0, 1.0), NAN, NAN),
        (np.log10, (10.0, 1000.0), 1.0, 3.0),
        (np.cbrt, (-8.0, 27.0), -2.0, 3.0),
        (np.absolute, (-2.0, 1.0), 0.0, 2.0),
        (np.absolute, (-2.0, -1.0), 1.0, 2.0),
        (np.sin, (0.0, 3.2), np.sin(3.2), 1.0),
        (np.cos, (-1.0, 0.5), np.cos(1.0), 1.0),
        (np.cos, (0.0, 7.0), -1.0, 1.0),
        (np.sin, (0.0, INF), NAN, NAN),
        (np.arcsin, (0.0, 1.5), NAN, NAN),
        (np.exp, (-INF, 0.0), 0.0, 1.0),
        (np.floor, (0.5, 2.5), 0.0, 2.0),
        (np.sign, (-0.5, 2.5), -1.0, 1.0),
        (np.reciprocal, (2.0, 4.0), 0.25, 0.5),
    ],
)
def test_functions_of_a_range(function, x, lower, upper):
    """Functions by hand; a range that leaves the domain is undecided, not clipped."""
    result = function(Interval(*x))
    assert near(result, lower, upper) or same(result, lower, upper)


def test_overflow_and_underflow_stay_enclosed():
    """A finite value that floats cannot hold lies between the largest number and infinity, or zero and the smallest."""
    largest, smallest = np.finfo(float).max, np.finfo(float).smallest_subnormal
    assert same(np.exp(Interval(800.0, 900.0)), largest, INF)
    assert same(np.exp(Interval(-900.0, -800.0)), 0.0, smallest)
    assert same(Interval(1e300, 1e300) * 1e300, largest, INF)
    assert same(Interval(1e-300, 1e-300) * 1e-300, 0.0, smallest)
    assert same(Interval(-1e-300, -1e-300) * 1e-300, -smallest, 0.0)
    assert same(Interval(1e300, 1e300) + 1.7e308 + 1e308, largest, INF)
    assert (Interval(1e-200, 1e-200) ** 3).upper > 0.0
    assert (Interval(1e200, 1e200) ** 3).lower == largest


def test_a_branch_that_is_switched_off_stays_exactly_zero():
    """A mask of zero times a range is zero, so that "connected" remains decided; an open circuit stays open."""
    assert same(0.0 * Interval(1.0, 2.0) + 0.0, 0.0, 0.0)
    assert same(Interval(1.0, 2.0) + INF, INF, INF)
    assert np.greater(0.0 * Interval(1.0, 2.0), 0.0).possible.item() is False


def test_comparisons_are_sure_impossible_or_undecided():
    """Each comparison in its three states; equal points are surely equal."""
    x = Interval([1.0, 1.0, 3.0, 2.0, NAN], [2.0, 3.0, 4.0, 2.0, NAN])
    for truth, certain, possible in [
        (x < 3.0, [1, 0, 0, 1, 0], [1, 1, 0, 1, 1]),
        (x <= 3.0, [1, 1, 0, 1, 0], [1, 1, 1, 1, 1]),
        (x > 2.0, [0, 0, 1, 0, 0], [0, 1, 1, 0, 1]),
        (x >= 2.0, [0, 0, 1, 1, 0], [1, 1, 1, 1, 1]),
        (x == 2.0, [0, 0, 0, 1, 0], [1, 1, 0, 1, 1]),
        (x != 2.0, [0, 0, 1, 0, 0], [1, 1, 1, 0, 1]),
    ]:
        assert truth.certain.tolist() == [bool(k) for k in certain]
        assert truth.possible.tolist() == [bool(k) for k in possible]


def test_truth_joins_like_logic():
    """And, or, not, exclusive or over all nine pairs of states."""
    certain, possible = np.array([1, 0, 0], bool), np.array([1, 1, 0], bool)
    p, q = (Truth(np.repeat(a, 3), np.repeat(b, 3)) for a, b in [(certain, possible)] * 2)
    q = Truth(np.tile(certain, 3), np.tile(possible, 3))
    values = {(1, 1): {True}, (0, 1): {True, False}, (0, 0): {False}}
    for join, plain in [(p & q, "__and__"), (p | q, "__or__"), (p ^ q, "__xor__")]:
        for k in range(9):
            first = values[int(p.certain[k]), int(p.possible[k])]
            second = values[int(q.certain[k]), int(q.possible[k])]
            results = {getattr(a, plain)(b) for a in first for b in second}
            assert (join.certain[k], join.possible[k]) == (results == {True}, True in results)
    assert (~p).certain.tolist() == (~p.possible).tolist()
    assert np.logical_and(p, np.zeros(9, bool)).possible.any() == np.False_


def test_where_takes_one_branch_or_the_hull():
    """Decided: the branch alone. Undecided: the hull of both."""
    x = Interval([1.0, 2.5, 4.0], [2.0, 3.5, 5.0])
    chosen = np.where(x < 3.0, x, 10.0)
    assert chosen.lower.tolist() == [1.0, 2.5, 10.0]
    assert chosen.upper.tolist() == [2.0, 10.0, 10.0]


def test_a_branch_that_is_not_chosen_does_not_poison():
    """NaN in a branch counts only where that branch may be chosen."""
    x = Interval([-2.0, -1.0, 1.0], [-1.0, 1.0, 2.0])
    chosen = np.where(x > 0.0, np.sqrt(x), 7.0)
    assert np.array_equal(chosen.lower, [7.0, NAN, np.nextafter(1.0, 0.0)], equal_nan=True) or chosen.lower[2] <= 1.0
    assert np.isnan(chosen.lower[1])
    assert chosen.upper[0] == 7.0


def test_outside_the_model_is_undecided_where_the_condition_is():
    """np.where(inside, f, nan) with an undecided condition gives NaN at both ends."""
    outside = np.where(Interval(0.5, 1.5) < 1.0, 1.0, NAN)
    assert same(outside, NAN, NAN)


def test_nan_is_never_dropped():
    """NaN goes through arithmetic, minimum and maximum, and a comparison with it is undecided."""
    x = Interval(NAN, NAN)
    for result in (x + 1.0, x * 0.0, np.minimum(x, 1.0), np.maximum(1.0, x), x**0, np.interp(x, [0, 1], [2, 2])):
        assert same(result, NAN, NAN)
    assert (x > 0.0).undecided.item()


def test_nan_at_one_end_is_nan_at_both():
    """A range with one unknown end is not known at all."""
    assert same(Interval(1.0, NAN), NAN, NAN)


@pytest.mark.parametrize(
    ("x", "lower", "upper"),
    [
        ((1.0, 2.0), 5.0, 6.0),
        ((0.5, 2.5), 4.0, 7.0),
        ((-1.0, 0.5), 3.0, INF),
        ((-2.0, -1.0), INF, INF),
        ((3.5, 9.0), NAN, NAN),
        ((0.0, 0.0), 3.0, 3.0),
    ],
)
def test_a_curve_over_a_range(x, lower, upper):
    """Turning points inside the range count; left of the curve never operates; right of it there is no model."""
    value = np.interp(Interval(*x), [0.0, 1.0, 2.0, 3.0], [3.0, 5.0, 6.0, 8.0], left=INF, right=NAN)
    assert near(value, lower, upper) or same(value, lower, upper)


def test_a_curve_that_turns_is_enclosed_at_its_turning_point():
    """The peak between the ends of a range is its greatest value."""
    assert near(np.interp(Interval(0.5, 1.75), [0.0, 1.0, 2.0], [0.0, 4.0, 2.0]), 2.0, 4.0)


@pytest.mark.parametrize(
    ("xp", "fp", "sentence"),
    [
        ([0.0, 0.0], [1.0, 2.0], "xp: the points of a curve must increase strictly"),
        ([0.0, 1.0], [1.0, INF], "xp, fp: every point of a curve must be finite"),
        ([0.0], [1.0, 2.0], "xp, fp: expected two rows of equally many numbers, got shapes (1,) and (2,)"),
    ],
)
def test_a_curve_that_is_none_is_refused(xp, fp, sentence):
    """np.interp would give nonsense without a word."""
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        np.interp(Interval(0.0, 1.0), xp, fp)


def test_ranges_have_precedence_over_arrays_and_scalars():
    """A numpy scalar or array on the left still gives ranges."""
    x = Interval([1.0, 2.0], [2.0, 3.0])
    for result in (np.float64(2.0) * x, 2 * x, np.array([2.0, 2.0]) * x, np.float64(2.0) ** x, np.array(1.0) - x):
        assert isinstance(result, Interval)
    assert isinstance(np.float64(2.0) < x, Truth)


def test_shapes_follow_numpy():
    """Broadcasting, indexing, stacking and reducing give the shapes that floats have."""
    a, b = np.ones((3, 1)), np.ones((1, 4))
    x, y = Interval(a, 2 * a), Interval(b, 2 * b)
    assert (x + y).shape == (a + b).shape == np.shape(x + y)
    assert (x + y)[..., [0, 2]].shape == (3, 2)
    assert (x + y)[1].shape == (4,)
    assert np.stack([x, x], axis=-1).shape == (3, 1, 2)
    assert np.concatenate([x, a], axis=1).shape == (3, 2)
    assert np.expand_dims(x, 0).shape == (1, 3, 1)
    assert [one.shape for one in np.broadcast_arrays(x, y)] == [(3, 4), (3, 4)]
    assert np.broadcast_to(x, (3, 5)).shape == (3, 5)
    assert np.reshape(x + y, (12,)).shape == (x + y).reshape(12).shape == (12,)
    assert near(np.sum(x), 3.0, 6.0)
    assert np.max(x + y, axis=1, keepdims=True).shape == (3, 1)
    assert np.zeros_like(x).shape == (3, 1)
    assert (np.ndim(x), np.size(x), x.ndim, x.size) == (2, 3, 2, 3)


def test_least_and_greatest_along_an_axis_are_exact():
    """Reductions take the least or greatest of the ends."""
    x = Interval([[1.0, 0.0]], [[2.0, 5.0]])
    assert same(np.max(x), 1.0, 5.0)
    assert same(np.min(x), 0.0, 2.0)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda x: np.asarray(x), "a range cannot become a plain array: ask .lower or .upper"),
        (lambda x: float(x), "a range cannot become a plain number: ask .lower or .upper"),
        (lambda x: bool(x), "a range is neither true nor false"),
        (lambda x: bool(x > 1.0), "a truth over ranges is no yes or no: use np.where, or ask .certain or .possible"),
        (lambda x: np.asarray(x > 1), "a truth over ranges cannot become a plain array: ask .certain or .possible"),
        (lambda x: np.tan(x), "np.tan is not defined for ranges"),
        (lambda x: np.clip(x, 0.0, 1.0), "np.clip is not defined for ranges"),
        (lambda x: np.fmax(x, 0.0), "np.fmax is not defined for ranges"),
        (lambda x: np.nanmax(x), "np.nanmax is not defined for ranges"),
        (lambda x: np.multiply.reduce(x), "np.multiply with reduce or [] is not defined for ranges"),
        (lambda x: np.add(x, 1.0, out=np.zeros(2)), "np.add with __call__ or ['out'] is not defined for ranges"),
        (lambda x: (x > 1.0) * 2.0, "np.multiply is not defined for a truth over ranges"),
        (
            lambda x: np.where(x, 1.0, 2.0),
            "a condition over ranges is made of comparisons and bool arrays, got Interval",
        ),
        (lambda x: np.interp(1.0, [0.0, 1.0], x), "np.interp: ranges need a fixed curve without a period"),
    ],
)
def test_what_ranges_cannot_mean_is_refused(call, sentence):
    """Nothing turns into plain numbers by itself, and no unknown function is guessed."""
    with pytest.raises(TypeError) as caught:
        call(Interval([1.0, 2.0], [2.0, 3.0]))
    assert str(caught.value) == sentence


@pytest.mark.parametrize(
    ("lower", "upper", "sentence"),
    [
        (2.0, 1.0, "lower, upper: a lower end lies above its upper end"),
        ([1.0], [1.0, 2.0], "lower, upper: expected one shape, got (1,) and (2,)"),
    ],
)
def test_a_range_that_is_none_is_refused(lower, upper, sentence):
    """Reversed ends and unequal shapes are wrong calls."""
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        Interval(lower, upper)


def test_an_operation_leaves_its_arguments_alone():
    """Arguments are never changed."""
    low, high = np.array([-1.0, 2.0]), np.array([3.0, 4.0])
    x = Interval(low, high)
    _ = (x * x, x + 1.0, np.sqrt(np.maximum(x, 0.0)), x**3, np.where(x > 0, x, -x))
    assert low.tolist() == [-1.0, 2.0]
    assert high.tolist() == [3.0, 4.0]
