"""Tests of deadfront.intervals.ways: proved reaches of several inputs at once, against roots known by hand."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Effort, decide
from deadfront.intervals.ways import Way, ways_out

EFFORT = Effort(budget=4000)
BOX = (np.array([-0.5, -1.0]), np.array([0.5, 1.0]))


def circle(x):
    """Holds inside a circle of radius two."""
    return 4.0 - np.square(x[0]) - np.square(x[1])


def out(number, start, limit, *, enough=np.inf, tolerance=1e-4):
    """A way out of the box."""
    return Way(number, start, limit, enough, tolerance)


def reached(margin, ways, box=BOX, columns=1, effort=EFFORT):
    """What is reached along some ways, with every column alive."""
    return ways_out(margin, box, ways, np.ones((len(ways), columns), dtype=bool), effort)


def test_every_way_meets_the_flip_known_by_hand():
    """Along the first input the circle ends at the root of 3, along the second at that of 3.75; both directions."""
    ways = [out(0, 0.5, 5.0), out(0, -0.5, -5.0), out(1, 1.0, 5.0), out(1, -1.0, -5.0)]
    for found, way, root in zip(reached(circle, ways), ways, np.sqrt([3.0, 3.0, 3.75, 3.75]), strict=True):
        assert abs(found.reach) <= root <= abs(found.flip) <= abs(found.reach) + way.tolerance
        assert circle([np.float64(value) for value in found.witness]) < 0.0


def test_up_to_the_reach_the_margin_is_shown_and_at_the_flip_it_is_not():
    """The same two boxes, decided anew."""
    found = reached(circle, [out(0, 0.5, 5.0)])[0]
    assert decide(circle, [-0.5, -1.0], [found.reach - 1e-9, 1.0]).verdict == "shown"
    assert decide(circle, [-0.5, -1.0], [found.flip, 1.0]).verdict == "refuted"


def test_a_way_alone_gives_what_it_gives_among_others():
    """The reach of one way is not the business of another."""
    ways = [out(0, 0.5, 5.0), out(1, 1.0, 5.0), out(0, -0.5, -1.0)]
    together = reached(circle, ways)
    alone = [reached(circle, [way])[0] for way in ways]
    for one, two in zip(together, alone, strict=True):
        assert one.reach == pytest.approx(two.reach, abs=2e-4)
        assert (one.flip is None) == (two.flip is None)


def test_a_column_counts_only_on_the_ways_on_which_it_is_alive():
    """The second column ends at one, but matters to the second way only."""

    def margin(x):
        return np.concatenate([circle(x) + 0.0 * x[0], 1.0 - x[0] + 0.0 * x[1]], axis=-1)

    ways = [out(0, 0.5, 5.0), out(0, 0.5, 5.0)]
    first, second = ways_out(margin, BOX, ways, np.array([[True, False], [True, True]]), EFFORT)
    assert first.reach == pytest.approx(np.sqrt(3.0), abs=1e-3)
    assert 1.0 - 1e-4 <= second.reach <= 1.0 <= second.flip


def test_what_holds_everywhere_reaches_the_limit():
    """No flip: the whole way is proved."""
    found = reached(lambda x: 1.0 + np.square(x[0]) + 0.0 * x[1], [out(0, 0.5, 1e6)])[0]
    assert (found.reach, found.flip, found.witness) == (1e6, None, None)


def test_nothing_is_proved_beyond_what_is_enough():
    """A way that another part of a claim has cut short costs only what lies before the cut."""
    whole, cut = reached(circle, [out(0, 0.5, 5.0), out(0, 0.5, 5.0, enough=0.1)])
    assert 0.6 <= cut.reach < whole.reach
    assert cut.boxes < whole.boxes


def test_an_early_dip_counts_though_the_margin_recovers():
    """The nearest flip is found: the margin fails in a narrow valley and holds again behind it."""

    def margin(x):
        return 1.0 - 1.5 * np.exp(-np.square((x[0] - 3.0) / 0.05)) + 0.0 * x[1]

    found = reached(margin, [out(0, 1.0, 10.0)])[0]
    true = 3.0 - 0.05 * np.sqrt(np.log(1.5))
    assert found.reach <= true <= found.flip <= true + 1e-3


def test_a_jump_and_the_end_of_the_model_are_flips():
    """A fuse below its first point; NaN is never shown."""

    def jump(x):
        return 2.0 - np.interp(x[0], [100.0, 200.0], [1.0, 0.1], left=np.inf) + 0.0 * x[1]

    box = (np.array([150.0, 0.0]), np.array([180.0, 1.0]))
    found = reached(jump, [out(0, 150.0, 50.0)], box)[0]
    assert found.flip < 100.0 <= found.reach <= 100.0 + 1e-3
    ends = reached(lambda x: np.where(x[0] > 2.0, np.nan, 1.0) + 0.0 * x[1], [out(0, 1.0, 3.0)])[0]
    assert ends.reach <= 2.0 <= ends.flip <= 2.0 + 1e-3


def test_a_budget_too_small_proves_less_and_never_more():
    """Of a margin that needs many boxes less is proved with few, and still nothing wrong."""

    def margin(x):
        return 1.2 + np.sin(9.0 * x[0] * x[1]) - x[0] * x[0] / 40.0

    few = reached(margin, [out(0, 0.5, 5.0)], effort=Effort(budget=16))[0]
    many = reached(margin, [out(0, 0.5, 5.0)], effort=Effort(budget=20_000))[0]
    assert few.reach < many.reach <= many.flip
    assert many.flip <= few.reach + 5.0


@settings(max_examples=25, deadline=None)
@given(st.floats(0.6, 4.0), st.floats(-2.0, 2.0), st.floats(0.1, 3.0))
def test_no_point_before_the_reach_fails(end, slope, bend):
    """Random margins with a product in them: a dense grid up to the reach finds no failure."""

    def margin(x):
        return end - x[0] + slope * x[1] * (x[0] - 0.5) + 0.1 * bend * np.sin(x[0] * x[1])

    found = reached(margin, [out(0, 0.5, 6.0)], effort=Effort(budget=600))[0]
    first, second = np.meshgrid(np.linspace(0.5, found.reach, 60), np.linspace(-1.0, 1.0, 41))
    before = first < found.reach
    assert (margin([first, second])[before] >= -1e-12).all()


@pytest.mark.parametrize(
    ("way", "words"),
    [
        (out(2, 0.0, 1.0), "input: expected 0 to 1, got 2"),
        (out(0, 1.0, 1.0), "limit: expected a finite end away from the start 1.0, got 1.0"),
        (out(0, 0.0, np.inf), "limit: expected a finite end away from the start 0.0, got inf"),
    ],
)
def test_nonsense_is_refused_in_words(way, words):
    """The sentence names the parameter and the value."""
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        reached(circle, [way])
