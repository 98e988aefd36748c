"""Tests of deadfront.intervals.search: known optima, decided margins, jumps, holes, budgets, and mutations."""

import itertools
import re
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Effort, decide, least, search, waypoint

# Test functions of global optimisation. Sources: Dixon and Szegö (eds.), Towards Global Optimisation 2, North-Holland
# 1978 (Branin, six-hump camel, Goldstein-Price, Shekel, Hartman); Rosenbrock, The Computer Journal 3 (1960) 175;
# Rastrigin's function as generalised by Mühlenbein et al., Parallel Computing 17 (1991) 619; Griewank, Journal of
# Optimization Theory and Applications 34 (1981) 11; Beale's and Booth's as collected by Jamil and Yang (2013).

SHEKEL_A = np.array([[4, 4, 4, 4], [1, 1, 1, 1], [8, 8, 8, 8], [6, 6, 6, 6], [3, 7, 3, 7]])
SHEKEL_C = np.array([0.1, 0.2, 0.2, 0.4, 0.4])
HARTMAN_A = np.array([[3, 10, 30], [0.1, 10, 35], [3, 10, 30], [0.1, 10, 35]])
HARTMAN_C = np.array([1.0, 1.2, 3.0, 3.2])
HARTMAN_P = np.array(
    [[0.3689, 0.1170, 0.2673], [0.4699, 0.4387, 0.7470], [0.1091, 0.8732, 0.5547], [0.0381, 0.5743, 0.8828]]
)


def rosenbrock(x):
    """Curved valley."""
    return 100.0 * np.square(x[1] - np.square(x[0])) + np.square(1.0 - x[0])


def rastrigin(x):
    """A bowl with ten thousand pits."""
    return sum(np.square(v) - 10.0 * np.cos(2.0 * np.pi * v) + 10.0 for v in x)


def griewank(x):
    """A very flat bowl under waves."""
    waves = np.cos(x[0]) * np.cos(x[1] / np.sqrt(2.0))
    return (np.square(x[0]) + np.square(x[1])) / 4000.0 - waves + 1.0


def branin(x):
    """Three equal minima."""
    a, b = x
    bent = b - 5.1 / (4.0 * np.pi**2) * np.square(a) + 5.0 / np.pi * a - 6.0
    return np.square(bent) + 10.0 * (1.0 - 1.0 / (8.0 * np.pi)) * np.cos(a) + 10.0


def camel(x):
    """Six-hump camel back."""
    a, b = x
    return (4.0 - 2.1 * a**2 + a**4 / 3.0) * a**2 + a * b + (4.0 * b**2 - 4.0) * b**2


def goldstein_price(x):
    """Four local minima over five powers of ten."""
    a, b = x
    first = 19.0 - 14.0 * a + 3.0 * a**2 - 14.0 * b + 6.0 * a * b + 3.0 * b**2
    second = 18.0 - 32.0 * a + 12.0 * a**2 + 48.0 * b - 36.0 * a * b + 27.0 * b**2
    return (1.0 + np.square(a + b + 1.0) * first) * (30.0 + np.square(2.0 * a - 3.0 * b) * second)


def shekel(x):
    """Five foxholes in four dimensions."""
    return -sum(
        1.0 / (SHEKEL_C[k] + sum(np.square(x[j] - SHEKEL_A[k, j]) for j in range(4))) for k in range(len(SHEKEL_C))
    )


def hartman(x):
    """Four peaks in three dimensions."""
    return -sum(
        HARTMAN_C[k] * np.exp(-sum(HARTMAN_A[k, j] * np.square(x[j] - HARTMAN_P[k, j]) for j in range(3)))
        for k in range(4)
    )


def beale(x):
    """Sharp corners of a flat plain."""
    a, b = x
    return np.square(1.5 - a + a * b) + np.square(2.25 - a + a * b**2) + np.square(2.625 - a + a * b**3)


def booth(x):
    """A plain quadratic."""
    return np.square(x[0] + 2.0 * x[1] - 7.0) + np.square(2.0 * x[0] + x[1] - 5.0)


KNOWN = [
    # function, lower, upper, least value as published, half of its last digit
    (rosenbrock, [-5.0] * 2, [10.0] * 2, 0.0, 1e-9),
    (rastrigin, [-5.12, -5.0, -4.9], [5.12] * 3, 0.0, 1e-9),
    (griewank, [-600.0, -580.0], [600.0, 600.0], 0.0, 1e-9),
    (branin, [-5.0, 0.0], [10.0, 15.0], 0.397887, 5e-7),
    (camel, [-3.0, -2.0], [3.0, 2.0], -1.0316285, 5e-8),
    (goldstein_price, [-2.0] * 2, [2.0] * 2, 3.0, 1e-5),
    (shekel, [0.0] * 4, [10.0] * 4, -10.1532, 5e-5),
    (hartman, [0.0] * 3, [1.0] * 3, -3.86278, 5e-6),
    (beale, [-4.5] * 2, [4.5] * 2, 0.0, 1e-9),
    (booth, [-10.0] * 2, [10.0] * 2, 0.0, 1e-9),
]
classical = pytest.mark.parametrize(
    ("function", "lower", "upper", "known", "digits"), KNOWN, ids=[row[0].__name__ for row in KNOWN]
)
CLOSE = Effort(budget=200_000, tolerance=1e-7, scale=1.0)


@classical
def test_the_least_value_of_a_classical_function_is_enclosed(function, lower, upper, known, digits):
    """Proved bound and point found enclose the published minimum; both agree with it to its printed digits."""
    found = least(function, lower, upper, effort=CLOSE)
    assert found.verdict == "shown"
    assert found.bound <= known + digits
    assert found.value >= known - digits
    assert found.value - found.bound <= 1e-7 * max(1.0, abs(known))
    assert found.value == pytest.approx(float(function([np.float64(v) for v in found.witness])), rel=1e-12, abs=1e-12)


@classical
def test_a_limit_a_little_above_or_below_the_minimum_is_decided_rightly(function, lower, upper, known, digits):
    """A thousandth (of the value, or of one) below the minimum is shown, above it refuted, with its point."""
    step = 1e-3 * max(1.0, abs(known))
    below = decide(lambda x: function(x) - (known - step), lower, upper, effort=CLOSE)
    above = decide(lambda x: function(x) - (known + step), lower, upper, effort=CLOSE)
    assert (below.verdict, above.verdict) == ("shown", "refuted")
    assert float(function([np.float64(v) for v in above.witness])) < known + step
    assert digits < step


# --- a chain like that of an arc behind a fuse ---

CURVE_CURRENT = np.array([60.0, 80.0, 100.0, 130.0, 145.0, 160.0, 200.0])
CURVE_TIME = np.array([300.0, 40.0, 9.0, 3.0, 1.8, 1.0, 0.011])
RATIO = 24940.0 / 600.0
CASES = 50
LOWER, UPPER = [1200.0, 6.0, 0.925, 0.028, 0.40], [9800.0, 14.0, 1.075, 0.036, 0.50]


def energy(x):
    """Arc energy, arbitrary unit: source, transformer, arc, fuse curve; 50 operating cases on the last axis."""
    source, x_over_r, tolerance, gap, distance = x
    tap = np.linspace(0.98, 1.02, CASES)[None]
    generator = 3000.0 * (np.arange(CASES) % 2)[None]
    z = 24940.0 / np.sqrt(3.0) / source / RATIO**2
    r, reactance = z / np.sqrt(1.0 + np.square(x_over_r)), z / np.sqrt(1.0 + 1.0 / np.square(x_over_r))
    own = 0.24 * 0.0575 * tolerance * tap
    bolted = 600.0 / np.sqrt(3.0) / np.sqrt(np.square(r + 0.08 * own) + np.square(reactance + own)) + generator
    bolted = waypoint(bolted)
    arcing = 10.0 ** (-0.35 + 0.95 * np.log10(bolted) - 0.0034 * np.log10(gap))
    primary = arcing / RATIO
    melted = np.exp(np.interp(np.log(primary), np.log(CURVE_CURRENT), np.log(CURVE_TIME)))
    operates = np.where(np.less(primary, CURVE_CURRENT[0]), np.inf, melted)
    return np.minimum(operates, 2.0) * arcing**1.1 * (0.61 / distance) ** 1.6


@pytest.fixture(scope="module")
def greatest():
    """Greatest energy, enclosed to 5e-4 by the search itself and confirmed by dense sampling in the tests."""
    return least(lambda x: -energy(x), LOWER, UPPER, CASES, Effort(tolerance=5e-4, scale=0.0))


def sampled_maximum(count, seed=0):
    """Greatest energy at random points of the box."""
    rng = np.random.default_rng(seed)
    best = 0.0
    for _ in range(count // 2000):
        points = rng.uniform(LOWER, UPPER, (2000, 5))
        best = max(best, float(energy([points[:, [k]] for k in range(5)]).max()))
    return best


def test_the_interior_maximum_of_arc_energy_is_found(greatest):
    """The worst source current lies inside its range; all corners miss it, a dense search along it agrees."""
    assert greatest.verdict == "shown"
    assert LOWER[0] < greatest.witness[0] < UPPER[0]
    corners = np.array(list(itertools.product(*zip(LOWER, UPPER, strict=True))))
    assert float(energy([corners[:, [k]] for k in range(5)]).max()) < 0.98 * -greatest.value
    line = np.linspace(LOWER[0], UPPER[0], 200_001)[:, None]
    others = [np.float64(v) for v in greatest.witness[1:]]
    dense = max(float(energy([line[k : k + 4000], *others]).max()) for k in range(0, len(line), 4000))
    assert dense <= -greatest.bound
    assert -greatest.value == pytest.approx(dense, rel=1e-5)


def test_random_points_stay_below_the_proved_maximum(greatest):
    """100 000 random points times 50 cases: none above the proved bound, and the best still misses the maximum."""
    sampled = sampled_maximum(100_000)
    assert sampled < -greatest.value <= -greatest.bound


@settings(max_examples=12, deadline=None)
@given(off=st.floats(1e-3, 0.5))
def test_limits_a_thousandth_above_and_below_the_maximum_are_decided_rightly(greatest, off):
    """A limit above by a thousandth or more is shown, below by as much refuted; 5 ranges, 50 cases."""
    true = -greatest.value
    assert decide(lambda x: 1.0 - energy(x) / (true * (1.0 + off)), LOWER, UPPER, CASES).verdict == "shown"
    refuted = decide(lambda x: 1.0 - energy(x) / (true * (1.0 - off)), LOWER, UPPER, CASES)
    assert refuted.verdict == "refuted"
    at = energy([np.array([[v]]) for v in refuted.witness])[0, refuted.column]
    assert at > true * (1.0 - off)


def test_five_ranges_and_fifty_cases_take_tenths_of_a_second(greatest):
    """A limit 0.1 % above the maximum: decided well within a second, in a few thousand boxes."""
    start = time.perf_counter()
    found = decide(lambda x: 1.0 - energy(x) / (-greatest.value * 1.001), LOWER, UPPER, CASES)
    assert found.verdict == "shown"
    assert found.boxes < 5000
    assert time.perf_counter() - start < 3.0  # measured 0.1 s; the rest is room for a busy machine


def test_the_same_input_gives_the_same_decision(greatest):
    """Twice the same search: every field equal."""
    first, second = (decide(lambda x: 1.0 - energy(x) / (-0.9 * greatest.value), LOWER, UPPER, CASES) for _ in range(2))
    assert first == second


def test_the_gap_is_the_distance_of_the_worst_case_from_the_bound(greatest):
    """Decided early, refined until the gap is below the tolerance, and the gap is said."""
    found = decide(lambda x: 1.0 - energy(x) / (-2.0 * greatest.value), LOWER, UPPER, CASES, Effort(tolerance=1e-3))
    assert found.verdict == "shown"
    assert 0.0 < found.gap == found.value - found.bound <= 1e-3
    assert found.bound <= 0.5 <= found.value + 1e-9


# --- special margins ---


def test_a_monotone_margin_is_decided_by_its_corner():
    """One box, then its corner: the bound is the corner's margin but for rounding."""
    found = decide(lambda x: x[0] / x[1] + np.sqrt(x[2]) - 0.9, [2.0, 1.0, 0.0], [3.0, 2.0, 1.0])
    assert found.verdict == "shown"
    assert found.witness == (2.0, 2.0, 0.0)
    assert found.value == pytest.approx(0.1)
    assert found.bound == pytest.approx(found.value, abs=1e-14)
    assert found.boxes == 1


def test_a_margin_that_just_touches_zero_needs_slack():
    """Rating equals load: exact arithmetic would show it, rounded ranges cannot; a slack that is stated can."""

    def margin(x):
        return 1.0 - x[0] / 10.0

    strict = decide(margin, [3.0], [10.0])
    assert strict.verdict == "undecided"
    assert -1e-14 < strict.bound < 0.0
    assert strict.boxes < 10
    assert decide(margin, [3.0], [10.0], effort=Effort(slack=1e-12)).verdict == "shown"
    assert decide(margin, [3.0], [10.1], effort=Effort(slack=1e-12)).verdict == "refuted"


def test_a_device_that_never_operates_refutes():
    """An infinite time somewhere in the range gives a margin of minus infinity, and the point."""

    def margin(x):
        return 1.0 - np.interp(x[0], [100.0, 200.0], [0.5, 0.1], left=np.inf)

    found = decide(margin, [99.9], [200.0])
    assert found.verdict == "refuted"
    assert found.value == found.bound == -np.inf
    assert found.witness[0] < 100.0
    assert decide(margin, [100.0], [200.0]).verdict == "shown"


def test_a_rare_jump_is_not_missed():
    """A spike of width 1e-5 in a range of 1: sampling misses it, the proof does not."""

    def margin(x):
        return np.where((x[0] > 0.43217) & (x[0] < 0.43218), -1.0, 1.0) + 0.0 * x[1]

    found = decide(margin, [0.0, 0.0], [1.0, 1.0])
    assert found.verdict == "refuted"
    assert 0.43217 < found.witness[0] < 0.43218


def test_a_jump_that_depends_on_two_inputs_is_bounded():
    """Where the jump runs aslant through the box, both sides count; the least value is that of the lower side."""

    def value(x):
        return np.where(x[0] + x[1] > 1.0, 2.0 + np.square(x[0] - 0.3), 1.0 + np.square(x[1] - 0.9))

    found = least(value, [0.0, 0.0], [1.0, 1.0], effort=Effort(tolerance=1e-4, scale=1.0))
    assert found.verdict == "shown"
    assert found.bound <= 1.0 <= found.value + 1e-4


def test_a_condition_that_only_chooses_is_not_collapsed():
    """Trap: an input that enters only a condition has slope zero on both sides of the jump, yet it moves the margin."""

    def margin(x):
        return np.where(x[1] > 0.7654321, 0.5 - x[0], 1.5 - x[0])

    found = decide(margin, [0.0, 0.0], [1.0, 1.0])
    assert found.verdict == "refuted"
    assert found.witness[1] > 0.7654321


def test_slopes_over_a_collapsed_box_are_not_used_for_the_whole():
    """Trap: an input may be collapsed only when its slope keeps its sign over the whole box, not on one face."""

    def margin(x):
        return (x[0] - 0.4) * (x[1] - 0.6) + 0.2

    found = least(margin, [0.0, 0.0], [1.0, 1.0], effort=Effort(tolerance=1e-6, scale=1.0))
    corners = [(a - 0.4) * (b - 0.6) + 0.2 for a in (0.0, 1.0) for b in (0.0, 1.0)]
    assert found.bound <= min(corners) <= found.value + 1e-6
    assert found.value == pytest.approx(min(corners))


def test_a_hole_in_the_model_is_never_shown():
    """NaN at a point: undecided, and the point is named, although all other points hold."""

    def margin(x):
        return np.where(x[0] > 0.9, np.nan, 1.0)

    found = decide(margin, [0.0], [1.0])
    assert found.verdict == "undecided"
    assert found.bound == -np.inf
    assert found.outside is not None
    assert found.outside[0][0] > 0.9
    assert decide(margin, [0.0], [0.9]).verdict == "shown"


def test_a_hole_too_small_for_points_is_never_shown():
    """NaN in a billionth of the range that no point meets: the ranges know."""

    def margin(x):
        return np.where((x[0] > 0.4321) & (x[0] < 0.4321 + 1e-9), np.nan, 1.0)

    assert decide(margin, [0.0], [1.0]).verdict != "shown"


def test_a_refutation_counts_more_than_a_hole():
    """One column without a model, another that fails: refuted."""

    def margin(x):
        return np.concatenate([np.where(x[0] > 0.5, np.nan, 1.0), 0.5 - x[0]], axis=1)

    found = decide(margin, [0.0], [1.0], 2)
    assert (found.verdict, found.column) == ("refuted", 1)
    assert found.outside is not None


def test_a_margin_that_is_nan_everywhere_is_undecided():
    """No point gave a number."""
    found = decide(lambda x: np.nan * x[0], [0.0], [1.0])
    assert (found.verdict, found.value, found.bound) == ("undecided", np.inf, -np.inf)


def test_a_point_without_ranges_is_decided_by_floats():
    """No width, no boxes: the margin itself."""
    assert decide(lambda x: x[0] - 1.0, [1.0], [1.0]).verdict == "shown"
    found = decide(lambda x: x[0] - 1.0, [0.5], [0.5])
    assert (found.verdict, found.value, found.bound, found.boxes) == ("refuted", -0.5, -0.5, 0)
    assert decide(lambda x: x[0] * np.nan, [0.5], [0.5]).verdict == "undecided"


def test_inputs_without_width_come_as_plain_numbers():
    """A constant of the box reaches the margin as a float, whatever the other inputs are."""
    seen = set()

    def margin(x):
        seen.add((type(x[0]).__name__, type(x[1]).__name__))
        return x[0] + x[1]

    decide(margin, [0.0, 2.0], [1.0, 2.0])
    assert seen == {("ndarray", "float"), ("Dual", "float"), ("Interval", "float")}


def test_a_margin_without_inputs_in_it_is_decided():
    """A claim that turns out not to depend on its ranges."""
    assert decide(lambda _x: 1.0, [0.0], [1.0]).verdict == "shown"
    assert decide(lambda _x: np.full((1, 3), -1.0), [0.0], [1.0], 3).verdict == "refuted"


def test_the_worst_column_is_named():
    """Witness and column belong together."""
    offsets = np.array([[0.3, 0.1, 0.2]])
    found = decide(lambda x: offsets + np.square(x[0] - 0.5), [0.0], [1.0], 3)
    assert (found.verdict, found.column) == ("shown", 1)
    assert found.value == pytest.approx(0.1)


def test_a_budget_of_the_one_who_asks_ends_the_search_with_a_bound():
    """`used_up` is asked before each round, also while the parts that are asked about are bounded."""

    def margin(x):
        return np.square(x[0]) + np.square(x[1]) - 2.0 * x[0] * x[1] + 1e-9

    asked = []

    def used_up():
        asked.append(1)
        return len(asked) > 3

    found = decide(margin, [0.0, 0.0], [9.0, 9.0], effort=Effort(budget=10**6), used_up=used_up)
    assert (found.verdict, len(asked)) == ("undecided", 4)
    assert -np.inf < found.bound <= 1e-9
    ends = np.linspace(0.0, 9.0, 100_001)[:, None]
    parts = np.repeat(ends[:-1], 2, axis=1), np.repeat(ends[1:], 2, axis=1)
    found = decide(margin, [0.0, 0.0], [9.0, 9.0], effort=Effort(budget=10**6), within=parts, used_up=lambda: True)
    assert (found.verdict, found.bound) == ("undecided", -np.inf)
    assert found.boxes < 100_000


def test_too_small_a_budget_leaves_it_undecided_with_a_bound():
    """The best proved bound is given, and which input to narrow."""

    def margin(x):
        return rastrigin(x) - rastrigin(x) + 1e-3 + 0.0 * x[0]  # ranges cannot see that the two cancel

    found = decide(margin, [-5.0, -5.0], [5.0, 5.0], effort=Effort(budget=500))
    assert found.verdict == "undecided"
    assert -np.inf < found.bound < 0.0 < found.value
    assert found.boxes >= 500
    assert sum(found.influence) == pytest.approx(1.0)


def test_influence_names_the_input_that_matters():
    """An input ten times as steep has ten times the share."""
    found = decide(lambda x: np.sin(x[0]) + 10.0 * np.sin(x[1]) + 12.0, [0.0, 0.0], [6.0, 6.0], effort=Effort(budget=1))
    assert found.influence[1] == pytest.approx(10.0 * found.influence[0])


@settings(max_examples=60, deadline=None)
@given(
    weights=st.lists(st.floats(-3.0, 3.0), min_size=4, max_size=4),
    centre=st.lists(st.floats(-1.0, 1.0), min_size=2, max_size=2),
    jump=st.floats(-1.0, 1.0),
)
def test_no_point_lies_below_the_proved_bound(weights, centre, jump):
    """Random functions with a wave, a kink and a jump: 2000 random points never beat the bound."""
    a, b, c, d = weights

    def value(x):
        smooth = a * np.sin(3.0 * x[0]) + b * x[0] * x[1] + c * np.abs(x[1] - centre[0])
        return smooth + np.where(x[0] + centre[1] * x[1] > jump, d, 0.0)

    found = least(value, [-1.0, -1.0], [1.0, 1.0], effort=Effort(tolerance=1e-3, scale=1.0, budget=3000))
    points = np.random.default_rng(4).uniform(-1.0, 1.0, (2, 2000))
    assert float(np.min(value(points))) >= found.bound
    assert found.value >= found.bound


# --- mutations: the suite must notice an unsound engine ---


def test_a_bound_raised_by_a_millionth_is_noticed(monkeypatch):
    """If every proved bound were 1e-6 too high, the search would contradict its own points and say so."""
    sound = search.bounds

    def unsound(*arguments, **options):
        found = sound(*arguments, **options)
        return replace(found, low=found.low + 1e-6)

    monkeypatch.setattr(search, "bounds", unsound)
    with pytest.raises(search.ContradictionError, match=r"^margin: proved to be at least .* a pure function"):
        least(branin, [-5.0, 0.0], [10.0, 15.0], effort=Effort(tolerance=1e-9, scale=1.0))


def test_a_margin_that_treats_ranges_otherwise_than_floats_is_noticed():
    """A margin that is no pure function contradicts itself."""

    def margin(x):
        return x[0] - 2.0 if isinstance(x[0], np.ndarray) else x[0]

    with pytest.raises(search.ContradictionError, match=r"^margin: proved to be at least 0\.5, but it is -1\.5 at"):
        decide(margin, [0.5], [1.0])


# --- wrong calls ---


@pytest.mark.parametrize(
    ("lower", "upper", "columns", "sentence"),
    [
        ([0.0, 1.0], [1.0], 1, "lower, upper: expected one number per input, got shapes (2,) and (1,)"),
        ([1.0], [0.0], 1, "lower, upper: every range must be finite and its lower end not above its upper end"),
        ([np.nan], [1.0], 1, "lower, upper: every range must be finite and its lower end not above its upper end"),
        ([0.0], [np.inf], 1, "lower, upper: every range must be finite and its lower end not above its upper end"),
        ([0.0], [1.0], 0, "columns: expected at least 1, got 0"),
    ],
)
def test_a_box_that_is_none_is_refused(lower, upper, columns, sentence):
    """Reversed, endless and uneven boxes are wrong calls."""
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        decide(lambda x: x[0], lower, upper, columns)


@pytest.mark.parametrize("name", ["budget", "refinement", "tolerance", "scale", "slack"])
def test_an_effort_below_zero_is_refused(name):
    """Negative budgets and tolerances, and NaN, are wrong calls."""
    with pytest.raises(ValueError, match=f"^{name}: expected at least 0, got -1$"):
        Effort(**{name: -1})
    with pytest.raises(ValueError, match=f"^{name}: expected at least 0, got nan$"):
        Effort(**{name: float("nan")})


def test_a_margin_of_another_shape_is_refused():
    """Three axes are no margin."""
    with pytest.raises(
        ValueError, match=r"^margin: expected shape \(boxes, columns\) or broadcasting to it, got \(1, 51, 1\)$"
    ):
        decide(lambda x: np.expand_dims(x[0], 0), [0.0], [1.0])


def test_a_function_that_ranges_do_not_have_is_refused():
    """No silent fall back to points: the call fails and names the function."""
    with pytest.raises(TypeError, match=r"^np\.tan is not defined for ranges with slopes$"):
        decide(lambda x: np.tan(x[0]), [0.0], [1.0])


def test_only_the_parts_asked_about_are_bounded():
    """The bound is that of the parts, however low the margin lies elsewhere; a point elsewhere still refutes."""

    def margin(x):
        return np.square(x[0] - 0.3) + x[1] - 0.05

    parts = (np.array([[0.6, 0.0], [0.0, 0.5]]), np.array([[1.0, 0.5], [0.5, 1.0]]))
    found = decide(margin, [0.0, 0.0], [1.0, 1.0], effort=Effort(refinement=2_000), within=parts)
    assert found.verdict == "refuted"
    assert found.value == pytest.approx(-0.05, abs=1e-6)
    above = decide(lambda x: margin(x) + 0.05, [0.0, 0.0], [1.0, 1.0], effort=Effort(refinement=5_000), within=parts)
    assert above.verdict == "shown"
    assert above.bound <= 1e-6  # the point found elsewhere, at zero
    alone = decide(margin, [0.6, 0.0], [1.0, 0.5], effort=Effort(tolerance=1e-4))
    assert alone.bound == pytest.approx(0.04, abs=1e-3)
    raised = decide(margin, [0.6, 0.0], [1.0, 0.5], within=(np.array([[0.8, 0.0]]), np.array([[1.0, 0.5]])))
    assert raised.bound == pytest.approx(0.04, abs=1e-3)  # a point below the bound of the part, outside the part


def test_a_point_in_a_part_below_its_bound_is_a_contradiction(monkeypatch):
    """Mutation: a bound raised above a point of a part is noticed there too."""
    true = search.bounds

    def raised(*arguments, **options):
        found = true(*arguments, **options)
        return replace(found, low=found.low + 1.0)

    monkeypatch.setattr(search, "bounds", raised)
    with pytest.raises(search.ContradictionError):
        decide(lambda x: x[0] + 1.0, [0.0], [1.0], within=(np.array([[0.0]]), np.array([[0.5]])))
