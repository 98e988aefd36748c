"""Crossing of two fuses: every one is found, in words when there is none, and over ranges of liquid temperature."""

from itertools import pairwise

import numpy as np
import pytest
from demonstration import ARCING_TIME, TOLERANCE, limiters, links
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Interval
from deadfront.physics.crossing import (
    STATES,
    Crossings,
    Edge,
    clearing_edge,
    clearing_edge_by_tolerance,
    crossings,
    edge_current,
    edge_time,
    melting_edge,
    stacked,
)
from deadfront.physics.curves import (
    TimeCurrentCurve,
    clearing_time,
    clearing_time_by_tolerance,
    liquid_factor,
    melting_time,
)
from deadfront.physics.moved_crossing import crossing_by_shift, crossing_current

LINKS, LIMITERS = links(), limiters("15.5")


def link_edge(name: str) -> Edge:
    """Total clearing of an invented link."""
    return clearing_edge_by_tolerance(LINKS[name], TOLERANCE, ARCING_TIME)


def curve(*points: tuple[float, float]) -> TimeCurrentCurve:
    """A curve through points (A, s), melting and clearing alike."""
    current, time = np.array(points, dtype=float).T
    return TimeCurrentCurve(current, time, time)


def state(found: Crossings) -> str:
    """The state of a single pair."""
    return STATES[int(found.state)]


@pytest.mark.parametrize("name", sorted(LINKS))
@pytest.mark.parametrize("rating", sorted(LIMITERS))
def test_no_crossing_is_missed_or_invented(name, rating):
    """All pairs of the invented catalogue against the sign of the difference at 60 000 currents."""
    found = crossings(link_edge(name), melting_edge(LIMITERS[rating]))
    current = np.geomspace(float(found.start) * (1 + 1e-9), 1e5, 60_000)
    cleared = clearing_time_by_tolerance(LINKS[name], current, TOLERANCE, ARCING_TIME)
    late = cleared >= melting_time(LIMITERS[rating], current)
    at = np.flatnonzero(late[1:] != late[:-1])
    got = found.currents[np.isfinite(found.currents)]
    assert len(got) == len(at)
    assert np.all((current[at] <= got) & (got <= current[at + 1]))
    np.testing.assert_allclose(
        clearing_time_by_tolerance(LINKS[name], got, TOLERANCE, ARCING_TIME),
        melting_time(LIMITERS[rating], got),
        rtol=1e-10,
    )


falling = st.lists(st.tuples(st.floats(0.05, 1.0), st.floats(0.0, 2.5)), min_size=1, max_size=6)


def drawn(steps, start: float) -> TimeCurrentCurve:
    """A curve from random steps in ln I and ln t."""
    x, y = np.array([(0.0, 0.0), *steps]).T
    time = np.exp(np.log(start) - np.cumsum(y))
    return TimeCurrentCurve(np.exp(np.cumsum(x)), time, time)


@settings(max_examples=150, deadline=None)
@given(falling, falling, st.floats(0.2, 5.0), st.floats(0.2, 5.0), st.sampled_from([0.0, 0.02, 0.3]))
def test_random_curves_cross_where_their_difference_changes_its_sign(one, other, first, second, arcing):
    """Random curves, with and without arcing time: between found crossings one fuse is first throughout."""
    lower_curve, upper_curve = drawn(one, first), drawn(other, second)
    lower = clearing_edge_by_tolerance(lower_curve, 0.2, arcing)
    found = crossings(lower, melting_edge(upper_curve))
    crossing = found.currents[np.isfinite(found.currents)]
    ends = np.concatenate([[float(found.start)], crossing, [900.0 * lower.current[-1]]])
    for left, right in pairwise(ends):
        inside = np.geomspace(left, right, 203)[1:-1]
        cleared = clearing_time_by_tolerance(lower_curve, inside, 0.2, arcing)
        difference = np.log(cleared) - np.log(melting_time(upper_curve, inside))
        assert np.all(difference > -1e-9) or np.all(difference < 1e-9)


@pytest.mark.parametrize(
    ("lower", "upper", "expected", "words"),
    [
        (curve((1, 10), (10, 0.1)), curve((2, 30), (8, 0.05)), "crosses once",
         "the link clears first below the crossing, the limiter melts first above it"),
        (curve((1, 10), (10, 0.1)), curve((1, 9), (10, 0.01)), "upper always first",
         "the limiter may melt before the link has cleared at every current both curves cover"),
        (curve((1, 10), (10, 1e-9)), curve((1, 20), (10, 1.0), (1e5, 0.9)), "lower always first",
         "the link clears before the limiter melts at every current both curves cover"),
        (curve((1, 10), (10, 0.1)), curve((1, 20), (10, 0.2)), "crosses beyond both curves",
         "the two curves cross only beyond the last points of both: what is published says nothing about the crossing"),
        (curve((1, 10), (2, 5), (4, 0.5), (10, 0.4)), curve((1, 20), (2, 4), (4, 3), (10, 0.1)),
         "crosses several times",
         "the two curves cross more than once: there is no single current that parts their duties"),
        (curve((1, 10), (4, 0.1), (1e5, 1e-15)), curve((1, 5), (4, 1.0), (10, 0.9)), "lower first only above",
         "the limiter may melt before the link has cleared below the crossing: the pair is the wrong way round"),
    ],
    ids=lambda value: value if isinstance(value, str) and len(value) < 30 else "",
)  # fmt: skip
def test_each_state_has_its_words(lower, upper, expected, words):
    """Once, never, several times, beyond both curves, the wrong way round: a state and a sentence, no exception."""
    found = crossings(clearing_edge(lower), melting_edge(upper))
    assert state(found) == expected
    assert found.words((), "link", "limiter") == words
    assert np.isnan(found.first) == ("always" in expected)


def test_several_crossings_come_in_order():
    """Three crossings of straight lines in rising order, the first of them by hand; first and last are named."""
    lower = curve((1, 10), (2, 5), (4, 0.5), (10, 0.4))
    upper = curve((1, 20), (2, 4), (4, 3), (10, 0.1))
    found = crossings(clearing_edge(lower), melting_edge(upper))
    # First: ln 10 - x = ln 20 - x ln 5 / ln 2, x of ln 2 / (ln 5 / ln 2 - 1).
    by_hand = np.exp(np.log(2) / (np.log(5) / np.log(2) - 1))
    assert found.currents.shape == (3,)
    assert found.first == pytest.approx(by_hand, rel=1e-12)
    assert found.last == found.currents[2]
    assert np.all(np.diff(found.currents) > 0.0)


def test_two_crossings_between_two_points_are_both_found():
    """Steep melting on an arcing time dips below a flatter limiter and comes back, all within one straight part."""
    link, limiter = curve((1, 10), (10, 1e-4)), curve((1, 9), (10, 0.3))
    found = crossings(clearing_edge_by_tolerance(link, 0.0, 0.5), melting_edge(limiter))
    assert state(found) == "crosses several times"
    assert found.currents.shape == (2,)
    assert 1.0 < found.first < 2.0 < found.last < 10.0
    cleared = melting_time(link, found.currents) + 0.5
    np.testing.assert_allclose(cleared, melting_time(limiter, found.currents), rtol=1e-12)


def test_a_touching_curve_counts_as_crossed_twice():
    """Where the curves only touch, the limiter may be as fast: that is not the safe side, and is told."""
    lower, upper = curve((1, 10), (2, 4), (10, 0.1)), curve((1, 20), (2, 4), (10, 0.2), (40, 0.001))
    found = crossings(clearing_edge(lower), melting_edge(upper))
    assert state(found) == "crosses several times"
    assert found.first == pytest.approx(2.0)


def test_crossing_on_an_extension_is_marked():
    """A crossing right of the link's last point, inside the limiter's curve, counts, and says what it rests on."""
    lower, upper = curve((1, 10), (4, 0.1)), curve((1, 90), (8, 0.2), (16, 0.01))
    found = crossings(clearing_edge(lower), melting_edge(upper))
    assert state(found) == "crosses once"
    assert bool(found.extended)
    assert not crossings(link_edge("D50"), melting_edge(LIMITERS[125])).extended


def test_many_pairs_at_once_are_what_each_is_alone():
    """216 pairs stacked, curves of different length, equal the same pairs one by one."""
    names, ratings = sorted(LINKS), sorted(LIMITERS)
    lower = stacked([link_edge(name) for name in names])
    upper = stacked([melting_edge(LIMITERS[rating]) for rating in ratings])
    first, second = np.divmod(np.arange(len(names) * len(ratings)), len(ratings))
    together = crossings(lower.at(first), upper.at(second))
    for pair, (i, j) in enumerate(zip(first, second, strict=True)):
        alone = crossings(link_edge(names[i]), melting_edge(LIMITERS[ratings[j]]))
        assert together.state[pair] == alone.state
        np.testing.assert_allclose(together.first[pair], alone.first, rtol=1e-12)
        assert together.extended[pair] == alone.extended


def test_edges_read_as_their_curves_do():
    """An edge gives the times of the curve it was made of, and its melting currents back."""
    current = np.geomspace(50.0, 1e5, 301)
    d50 = LINKS["D50"]
    np.testing.assert_allclose(edge_time(melting_edge(d50), current), melting_time(d50, current), rtol=1e-12)
    np.testing.assert_allclose(edge_time(clearing_edge(d50), current), clearing_time(d50, current), rtol=1e-12)
    np.testing.assert_allclose(
        edge_time(link_edge("D50"), current),
        clearing_time_by_tolerance(d50, current, TOLERANCE, ARCING_TIME),
        rtol=1e-12,
    )
    known = current[current > d50.current[0]]
    back = edge_current(melting_edge(d50), edge_time(melting_edge(d50), known))
    np.testing.assert_allclose(back, known, rtol=1e-10)
    assert np.isnan(edge_current(melting_edge(d50), np.array([301.0]))[0])
    assert np.isnan(edge_current(clearing_edge(d50), np.array([0.009]))[0])


def test_hot_and_mixed_liquid_move_the_crossing_as_computed_elsewhere():
    """Link of 50 A and limiter of 125 A at 85 degC: both hot 1574.29 A, cold link with hot limiter 1429.10 A [D]."""
    link, limiter = liquid_factor(232.0, 85.0), liquid_factor(961.0, 85.0)
    lower, upper = link_edge("D50"), melting_edge(LIMITERS[125])
    both = crossings(lower.moved(link, 1.0), upper.moved(limiter, 1.0))
    mixed = crossings(lower, upper.moved(limiter, 1.0))
    reverse = crossings(lower.moved(link, 1.0), upper)
    assert both.first == pytest.approx(1574.29, abs=0.005)
    assert mixed.first == pytest.approx(1429.10, abs=0.005)
    assert mixed.first < crossings(lower, upper).first < both.first < reverse.first


@pytest.mark.parametrize(("name", "rating"), [("D50", 125), ("D40", 80), ("D140", 200), ("D25", 65)])
def test_crossing_over_floats_is_the_exact_one(name, rating):
    """The table of crossings against the exact search at random shifts, within 2e-5; NaN where it is not single."""
    lower, upper = link_edge(name), melting_edge(LIMITERS[rating])
    table = crossing_by_shift(lower, upper)
    factors = np.random.default_rng(5).uniform(0.7, 1.1, (40, 2))
    for one, other in factors:
        exact = crossings(lower.moved(one, 1.0), upper.moved(other, 1.0))
        got = float(crossing_current(table, one, other))
        if state(exact) == "crosses once":
            assert got == pytest.approx(float(exact.first), rel=2e-5)
        else:
            assert np.isnan(got)
    np.testing.assert_array_equal(
        crossing_current(table, factors[:, 0], factors[:, 1]),
        [crossing_current(table, one, other) for one, other in factors],
    )


def test_crossing_over_ranges_encloses_every_point_of_them():
    """Liquid of 25 to 85 degC at the link, 40 to 105 at the limiter: the range holds every point."""
    table = crossing_by_shift(link_edge("D50"), melting_edge(LIMITERS[125]))
    link_liquid, limiter_liquid = Interval(25.0, 85.0), Interval(40.0, 105.0)
    found = crossing_current(table, liquid_factor(232.0, link_liquid), liquid_factor(961.0, limiter_liquid))
    rng = np.random.default_rng(7)
    points = crossing_current(
        table, liquid_factor(232.0, rng.uniform(25, 85, 500)), liquid_factor(961.0, rng.uniform(40, 105, 500))
    )
    assert np.all(found.contains(points))
    lowest = crossing_current(table, liquid_factor(232.0, 25.0), liquid_factor(961.0, 105.0))
    highest = crossing_current(table, liquid_factor(232.0, 85.0), liquid_factor(961.0, 40.0))
    assert found.lower <= lowest
    assert found.upper >= highest
    # The link's factor enters twice; halving the range takes the surplus away.
    assert found.lower > 0.8 * lowest


def test_table_answers_only_for_shifts_with_a_single_crossing():
    """A pair that crosses thrice where it stands, once when moved far: beside the exact search at 400 shifts."""
    lower = clearing_edge(curve((1, 10), (2, 5), (4, 0.5), (10, 0.4)))
    upper = melting_edge(curve((1, 20), (2, 4), (4, 3), (10, 0.1)))
    for base in np.geomspace(0.4, 2.5, 9):
        table = crossing_by_shift(lower, upper.moved(base, 1.0))
        for factor in np.geomspace(0.4, 2.5, 45):
            exact = crossings(lower, upper.moved(base * factor, 1.0))
            got = float(crossing_current(table, 1.0, factor))
            single = state(exact) == "crosses once" and got == pytest.approx(float(exact.first), rel=2e-5)
            assert single or np.isnan(got)


@pytest.mark.parametrize("base", [0.31, 0.40, 0.55, 1.2, 2.0, 4.0])
def test_table_is_of_the_stretch_where_the_pair_stands(base):
    """A pair that crosses thrice as drawn, once when moved to either side: known on the side where it stands."""
    lower = clearing_edge(curve((0.1, 1000), (1, 10), (2, 5), (4, 0.5), (10, 0.4), (100, 0.004)))
    drawn = melting_edge(curve((0.3, 2469), (1, 20), (2, 4), (4, 3), (10, 0.1), (30, 0.00123)))
    assert state(crossings(lower, drawn)) == "crosses several times"
    upper = drawn.moved(base, 1.0)
    exact = crossings(lower, upper)
    assert state(exact) == "crosses once"
    assert crossing_current(crossing_by_shift(lower, upper), 1.0, 1.0) == pytest.approx(float(exact.first), rel=2e-5)


def test_pair_without_a_single_crossing_is_not_known_over_ranges():
    """A pair that never crosses, or three times, gives NaN, not one of its crossings."""
    never = crossing_by_shift(clearing_edge(curve((1, 10), (10, 0.1))), melting_edge(curve((1, 9), (10, 0.01))))
    thrice = crossing_by_shift(
        clearing_edge(curve((1, 10), (2, 5), (4, 0.5), (10, 0.4))),
        melting_edge(curve((1, 20), (2, 4), (4, 3), (10, 0.1))),
    )
    for table in (never, thrice):
        assert np.isnan(crossing_current(table, 1.0, 1.0))


def test_wrong_edges_are_refused_in_words():
    """A limiter with an arcing time, no fuse at all: refused with the parameter's name."""
    with pytest.raises(ValueError, match=r"^upper: expected a melting edge, without arcing time$"):
        crossings(link_edge("D50"), link_edge("D65"))
    with pytest.raises(ValueError, match=r"^edge: an edge with an arcing time cannot be read backwards$"):
        edge_current(link_edge("D50"), np.array([1.0]))
    with pytest.raises(ValueError, match=r"^edges: expected at least one$"):
        stacked([])
