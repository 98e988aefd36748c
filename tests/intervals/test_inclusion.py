"""Tests that no point escapes: every ufunc over random ranges, against floats, ball arithmetic and mutated rules."""

import flint
import numpy as np
import pytest
from enclosures import anywhere, around, escapes, points_in, ranges
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Interval, exceptionally
from deadfront.intervals.arithmetic import RULES
from deadfront.intervals.everyday import EVERYDAY, FINITE, NOT_NEGATIVE, POSITIVE, signed
from deadfront.intervals.truth import COMPARISONS

DOMAINS = {
    np.exp: around(-50.0, 50.0),
    np.exp2: around(-50.0, 50.0),
    np.expm1: around(-20.0, 20.0),
    np.sinh: around(-20.0, 20.0),
    np.tanh: around(-5.0, 5.0),
    np.arcsin: around(-1.0, 1.0),
    np.sin: around(-20.0, 20.0),
    np.cos: around(-20.0, 20.0),
    np.log: around(0.0, 100.0),
    np.log2: around(0.0, 100.0),
    np.log10: around(0.0, 100.0),
    np.log1p: around(-1.0, 100.0),
    np.sqrt: around(0.0, 100.0),
}
ABOVE_ZERO = around(1e-3, 1e3)
RANGES, POINTS = 1000, 40


def count_escapes(ufunc, rule, seed):
    """Points of random ranges of which the float result lies outside what the rule gives."""
    rng = np.random.default_rng(seed)
    sampler = DOMAINS.get(ufunc, anywhere)
    arguments = [ranges(rng, sampler, RANGES) for _ in range(ufunc.nin)]
    if ufunc in (np.power, np.float_power):
        arguments = [ranges(rng, ABOVE_ZERO, RANGES), ranges(rng, around(-3.0, 3.0), RANGES)]
    with np.errstate(all="ignore"):
        values = ufunc(*(points_in(rng, x, POINTS) for x in arguments))
        return escapes(Interval.of_ends(rule(*(x.ends for x in arguments))), values)


@pytest.mark.parametrize("ufunc", RULES, ids=lambda u: u.__name__)
def test_no_point_escapes_from_its_range(ufunc):
    """40 000 points per ufunc, 1.4 million in all, ends of the ranges among them."""
    assert count_escapes(ufunc, RULES[ufunc], seed=7) == 0


def by_facts(ufunc):
    """The rule as a formula meets it: ranges with what is known of them, inside and outside one common state."""

    def rule(*arguments):
        first = exceptionally(lambda: ufunc(*(Interval.of_ends(x) for x in arguments)))
        again = ufunc(*(Interval.of_ends(x) for x in arguments))
        assert np.array_equal(first.ends, again.ends, equal_nan=True)
        return first.ends

    return rule


@pytest.mark.parametrize("ufunc", EVERYDAY, ids=lambda u: u.__name__)
@pytest.mark.parametrize("sampler", [anywhere, ABOVE_ZERO, around(-1.0, 1.0)], ids=["anywhere", "positive", "mixed"])
def test_the_short_way_gives_the_ends_of_the_rule(ufunc, sampler):
    """Nothing escapes an operation that relies on facts, and its ends are the rule's own, of points too."""
    assert count_escapes(ufunc, by_facts(ufunc), seed=8) == 0
    rng = np.random.default_rng(9)
    x, y = (ranges(rng, sampler, RANGES).ends for _ in range(2))
    for arguments in ((x, y), (x, (y[0], y[0])), ((x[0], x[0]), y))[: 3 if ufunc.nin == 2 else 1]:
        expected = RULES[ufunc](*arguments[: ufunc.nin])
        assert np.array_equal(by_facts(ufunc)(*arguments[: ufunc.nin]), expected, equal_nan=True)


@pytest.mark.parametrize("ufunc", EVERYDAY, ids=lambda u: u.__name__)
@given(data=st.data())
@settings(max_examples=60)
def test_facts_are_true(ufunc, data):
    """Whatever the floats, what is known of a result without a look at it is what a look finds."""
    ends = st.floats(allow_nan=False, width=64)
    arguments = []
    for _ in range(ufunc.nin):
        pairs = data.draw(st.lists(st.tuples(ends, ends).map(sorted), min_size=2, max_size=2))
        arguments.append(Interval([p[0] for p in pairs], [p[1] for p in pairs]))
    result = ufunc(*(signed_range(x) for x in arguments))
    claimed, found = result.facts, signed(Interval.of_ends(result.ends))
    assert claimed & ~found & (FINITE | NOT_NEGATIVE | POSITIVE) == 0
    expected = RULES[ufunc](*(x.ends for x in arguments))
    assert np.array_equal(result.ends, expected, equal_nan=True)


def signed_range(x):
    """The range, with its facts looked up before it is used."""
    signed(x)
    return x


def polynomial_escapes(evaluate, seed):
    """Points of random ranges at which random polynomials of degree 0 to 6 leave what `evaluate` gives."""
    rng, found = np.random.default_rng(seed), 0
    for degree in range(7):
        powers = rng.uniform(-1.0, 1.0, (degree + 1, RANGES)) * 10.0 ** -np.arange(degree + 1)[::-1, None]
        x = ranges(rng, around(-20.0, 20.0), RANGES)
        enclosure = evaluate(powers, x)
        for share in np.linspace(0.0, 1.0, 13):
            point = np.minimum(x.lower + share * (x.upper - x.lower), x.upper)
            exact = np.polyval(powers.astype(np.longdouble), point.astype(np.longdouble))
            found += int(((exact < enclosure.lower) | (exact > enclosure.upper)).sum())
    return found


def test_polynomials_hold_their_points_and_a_mutation_is_noticed():
    """91 000 points against extended precision: none outside; with either end moved inward by a millionth, some are."""
    assert polynomial_escapes(np.polyval, seed=21) == 0
    for inward in (
        lambda x: Interval.of_ends((x.lower + 1e-6 * np.abs(x.lower), x.upper)),
        lambda x: Interval.of_ends((x.lower, x.upper - 1e-6 * np.abs(x.upper))),
    ):
        assert polynomial_escapes(lambda p, x, inward=inward: inward(np.polyval(p, x)), seed=21) > 0


def test_terms_of_a_polynomial_that_cancel_do_not_widen_it():
    """Near its vertex a parabola is as narrow as its slope says, where Horner's form is many times as wide."""
    x = Interval(4.9, 5.1)
    found = np.polyval([1.0, -10.0, 26.0], x)
    assert found.contains(1.0)
    assert found.contains(1.01)
    assert float(found.upper - found.lower) < 0.05
    beyond = np.polyval([1.0, -10.0, 26.0], Interval([5.0, -np.inf, np.nan], [np.inf, 5.0, np.nan]))
    assert not np.isfinite(beyond.upper).any()
    assert np.isnan(beyond.lower[2])
    assert float(np.polyval([3.0], x).lower) == 3.0
    with pytest.raises(TypeError, match=r"^np\.polyval: ranges need fixed coefficients$"):
        np.polyval(x, 2.0)


@pytest.mark.parametrize("ufunc", RULES, ids=lambda u: u.__name__)
@pytest.mark.parametrize("end", [0, 1])
def test_an_enclosure_moved_inward_by_a_millionth_is_noticed(ufunc, end):
    """Mutation: the same check fails if one end of a rule is off by 1e-6 of itself towards the inside."""

    def mutated(*arguments):
        ends = list(RULES[ufunc](*arguments))
        inward = 1e-6 * np.abs(ends[end])
        ends[end] = ends[end] + inward if end == 0 else ends[end] - inward
        return tuple(ends)

    assert count_escapes(ufunc, mutated, seed=7) > 0


def test_more_than_a_million_points_are_checked():
    """The promise of docs/proof.md about the number of checks holds."""
    assert len(RULES) * RANGES * POINTS > 1_000_000


EXACT = {
    np.add: lambda x, y: x + y,
    np.subtract: lambda x, y: x - y,
    np.multiply: lambda x, y: x * y,
    np.divide: lambda x, y: x / y,
    np.square: lambda x: x * x,
    np.sqrt: lambda x: x.sqrt(),
    np.reciprocal: lambda x: 1 / x,
    np.power: lambda x, y: x**y,
    np.hypot: lambda x, y: (x * x + y * y).sqrt(),
    np.exp: lambda x: x.exp(),
    np.exp2: lambda x: flint.arb(2) ** x,
    np.expm1: lambda x: x.expm1(),
    np.log: lambda x: x.log(),
    np.log2: lambda x: x.log() / flint.arb(2).log(),
    np.log10: lambda x: x.log() / flint.arb(10).log(),
    np.log1p: lambda x: (1 + x).log(),
    np.cbrt: lambda x: x.root(3) if x > 0 else -((-x).root(3)),
    np.sinh: lambda x: x.sinh(),
    np.tanh: lambda x: x.tanh(),
    np.arctan: lambda x: x.atan(),
    np.arcsinh: lambda x: x.asinh(),
    np.arcsin: lambda x: x.asin(),
    np.sin: lambda x: x.sin(),
    np.cos: lambda x: x.cos(),
}


@pytest.mark.parametrize("ufunc", EXACT, ids=lambda u: u.__name__)
def test_ranges_enclose_ball_arithmetic(ufunc):
    """Exact values in 300 bits at both ends and inside of 200 ranges of each function lie inside its enclosure."""
    rng = np.random.default_rng(13)
    sampler = ABOVE_ZERO if ufunc in (np.power, np.divide) else DOMAINS.get(ufunc, anywhere)
    arguments = [ranges(rng, sampler, 200) for _ in range(ufunc.nin)]
    result = ufunc(*arguments)
    flint.ctx.prec = 300
    checked = 0
    for points in zip(*(points_in(rng, x, 4) for x in arguments), strict=True):
        for k in range(200):
            low, high = result.lower[k], result.upper[k]
            floats = [float(p[k]) for p in points]
            if np.isnan(low) or (0.0 in floats and ufunc in (np.log, np.log2, np.log10, np.cbrt, np.reciprocal)):
                continue
            true = EXACT[ufunc](*(flint.arb(p) for p in floats))
            assert (np.isinf(low) and low < 0) or flint.arb(low) <= true
            assert (np.isinf(high) and high > 0) or true <= flint.arb(high)
            checked += 1
    assert checked > 400


def test_every_rule_that_rounds_is_held_against_ball_arithmetic():
    """A rule without a ball-arithmetic check is one that is exact."""
    exact = {np.negative, np.positive, np.absolute, np.fabs, np.minimum, np.maximum, np.float_power}
    steps = {np.floor, np.ceil, np.rint, np.sign}
    assert set(RULES) - set(EXACT) == exact | steps


@pytest.mark.parametrize("ufunc", COMPARISONS, ids=lambda u: u.__name__)
def test_comparisons_never_claim_what_a_point_denies(ufunc):
    """Certain means true at every point, not possible means false at every point; 40 000 points each."""
    rng = np.random.default_rng(3)
    arguments = [ranges(rng, around(-2.0, 2.0), RANGES) for _ in range(ufunc.nin)]
    truth = ufunc(*arguments)
    at_points = ufunc(*(points_in(rng, x, POINTS) for x in arguments))
    assert not (truth.certain & ~at_points).any()
    assert not (~truth.possible & at_points).any()


numbers = st.floats(allow_nan=False, allow_infinity=True, width=64)


@settings(max_examples=300, deadline=None)
@given(a=numbers, b=numbers, c=numbers, d=numbers, s=st.floats(0.0, 1.0), t=st.floats(0.0, 1.0))
@pytest.mark.parametrize("ufunc", [np.add, np.subtract, np.multiply, np.divide, np.minimum, np.maximum, np.hypot])
def test_no_float_whatever_escapes(ufunc, a, b, c, d, s, t):
    """Any two ranges of any floats, infinite, subnormal and huge ones included, and any points of them."""
    x, y = Interval(min(a, b), max(a, b)), Interval(min(c, d), max(c, d))
    p, q = one_of(x, s), one_of(y, t)
    with np.errstate(all="ignore"):
        assert escapes(ufunc(x, y), np.asarray(ufunc(p, q))) == 0 or negative_zero(ufunc, q)


@settings(max_examples=300, deadline=None)
@given(a=numbers, b=numbers, s=st.floats(0.0, 1.0))
@pytest.mark.parametrize("ufunc", [u for u in RULES if u.nin == 1], ids=lambda u: u.__name__)
def test_no_float_whatever_escapes_from_a_function(ufunc, a, b, s):
    """Any range of any floats through any function of one argument."""
    x = Interval(min(a, b), max(a, b))
    p = one_of(x, s)
    with np.errstate(all="ignore"):
        assert escapes(ufunc(x), np.asarray(ufunc(p))) == 0 or negative_zero(ufunc, p)


@settings(max_examples=300, deadline=None)
@given(a=numbers, b=numbers, s=st.floats(0.0, 1.0), power=st.one_of(st.integers(-5, 5), st.floats(-3.0, 3.0)))
def test_no_float_whatever_escapes_from_a_power(a, b, s, power):
    """Any range of any floats to any fixed power, whole or not."""
    x = Interval(min(a, b), max(a, b))
    p = one_of(x, s)
    with np.errstate(all="ignore"):
        assert escapes(x**power, np.asarray(p ** np.float64(power))) == 0 or negative_zero(np.reciprocal, p)


def one_of(x: Interval, share: float) -> np.float64:
    """A point of a range: an end, or a convex sum where the ends allow one."""
    low, high = np.float64(x.lower), np.float64(x.upper)
    if share < 0.2 or not np.isfinite(low) or not np.isfinite(high):
        return low if share < 0.5 else high
    return np.clip((1.0 - share) * low + share * high, low, high)


def negative_zero(ufunc, divisor) -> bool:
    """Division by -0.0, which floats alone tell from +0.0: numbers have one zero (docs/proof.md)."""
    return ufunc in (np.divide, np.reciprocal) and divisor == 0.0 and bool(np.signbit(divisor))
