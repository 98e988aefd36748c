"""Tests of deadfront.intervals.breaking: the proved reach of one input and the place where the margin flips."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Effort, Path, break_point, decide

FINE = Effort(tolerance=1e-6)


def circle(x):
    """Holds inside a circle of radius two."""
    return 4.0 - np.square(x[0]) - np.square(x[1])


@pytest.mark.parametrize(("limit", "flip"), [(5.0, np.sqrt(3.0)), (-5.0, -np.sqrt(3.0))])
def test_the_reach_meets_the_flip_known_by_hand(limit, flip):
    """With the other input anywhere in -1..1 the circle is left at the root of three, in both directions."""
    found = break_point(circle, ([-0.5, -1.0], [0.5, 1.0]), Path(0, 0.0, limit), effort=FINE)
    assert found.close
    assert abs(found.reach) <= abs(flip) <= abs(found.flip)
    assert abs(found.flip - found.reach) <= 1e-6 * 5.0 + 1e-12
    assert circle([np.float64(v) for v in found.witness]) == found.value < 0.0
    assert found.column == 0


def test_up_to_the_reach_the_margin_is_shown_and_at_the_flip_it_is_not():
    """The same two boxes, decided anew."""
    found = break_point(circle, ([-0.5, -1.0], [0.5, 1.0]), Path(0, 0.5, 5.0))
    assert decide(circle, [-0.5, -1.0], [found.reach - 1e-9, 1.0]).verdict == "shown"
    assert decide(circle, [-0.5, -1.0], [found.flip, 1.0]).verdict == "refuted"


def test_an_input_that_never_breaks_reaches_the_limit():
    """No flip: the whole path is proved."""
    found = break_point(lambda x: 1.0 + np.square(x[0]), ([0.0], [1.0]), Path(0, 1.0, 1e6))
    assert (found.reach, found.flip, found.witness, found.value, found.close) == (1e6, None, None, None, True)


def test_a_margin_that_fails_at_once_has_no_reach():
    """Refuted at the start: reach and flip are the start."""
    found = break_point(lambda x: x[0] - 5.0, ([0.0], [1.0]), Path(0, 1.0, 2.0))
    assert found.flip == 1.0
    assert found.reach == pytest.approx(1.0)


def test_an_early_dip_counts_though_the_margin_recovers():
    """The nearest flip is found, not a later one: the margin fails in a narrow valley and holds again behind it."""

    def margin(x):
        return 1.0 - 1.5 * np.exp(-np.square((x[0] - 3.0) / 0.05))

    found = break_point(margin, ([0.0], [1.0]), Path(0, 1.0, 10.0), effort=FINE)
    true = 3.0 - 0.05 * np.sqrt(np.log(1.5))
    assert found.reach <= true <= found.flip <= true + 1e-5


def test_a_jump_is_a_flip():
    """A fuse that no longer operates below its first point: the reach stops there."""

    def margin(x):
        return 2.0 - np.interp(x[0], [100.0, 200.0], [1.0, 0.1], left=np.inf) + 0.0 * x[1]

    found = break_point(margin, ([150.0, 0.0], [180.0, 1.0]), Path(0, 150.0, 50.0), effort=FINE)
    assert found.flip < 100.0 <= found.reach <= 100.0 + 1e-3
    assert found.value == -np.inf


def test_the_end_of_the_model_is_a_flip():
    """Where the margin is NaN it is not shown, so the reach ends; the value says so."""

    def margin(x):
        return np.where(x[0] > 2.0, np.nan, 1.0)

    found = break_point(margin, ([0.0], [1.0]), Path(0, 1.0, 3.0), effort=FINE)
    assert np.isnan(found.value)
    assert found.reach <= 2.0 <= found.flip <= 2.0 + 1e-5


def test_all_columns_count():
    """The first column to fail sets the flip and is named."""
    limits = np.array([[5.0, 2.0, 3.0]])
    found = break_point(lambda x: limits - x[0], ([0.0], [1.0]), Path(0, 1.0, 10.0), 3, FINE)
    assert found.column == 1
    assert found.reach <= 2.0 <= found.flip


def test_a_small_budget_gives_a_smaller_reach_and_says_so():
    """Out of boxes: what is proved stays proved."""

    def margin(x):
        return 30.0 - sum(
            np.square(v) - 2.0 * np.cos(3.0 * v) * np.sin(5.0 * w) for v, w in zip(x, x[::-1], strict=True)
        )

    small = break_point(margin, ([-1.0] * 3, [1.0] * 3), Path(0, 1.0, 9.0), effort=Effort(budget=10, tolerance=1e-5))
    large = break_point(margin, ([-1.0] * 3, [1.0] * 3), Path(0, 1.0, 9.0), effort=Effort(tolerance=1e-5))
    assert large.close
    assert not small.close
    assert small.reach <= large.reach <= large.flip


@settings(max_examples=40, deadline=None)
@given(slope=st.floats(0.1, 3.0), curve=st.floats(0.0, 1.0), height=st.floats(0.1, 5.0))
def test_the_reach_never_passes_a_failing_point(slope, curve, height):
    """Random falling margins with a wave: dense points up to the reach all hold."""

    def margin(x):
        return height - slope * x[0] - curve * np.sin(4.0 * x[0] * x[1])

    found = break_point(margin, ([0.0, 0.5], [0.0, 1.0]), Path(0, 0.0, 20.0))
    points = np.meshgrid(np.linspace(0.0, found.reach, 400)[:-1], np.linspace(0.5, 1.0, 50))
    assert (margin(points) >= 0.0).all()
    assert found.close


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        (Path(2, 0.0, 1.0), "input: expected 0 to 1, got 2"),
        (Path(-1, 0.0, 1.0), "input: expected 0 to 1, got -1"),
        (Path(0, 1.0, 1.0), "limit: expected a finite end away from the start 1.0, got 1.0"),
        (Path(0, 1.0, np.inf), "limit: expected a finite end away from the start 1.0, got inf"),
    ],
)
def test_a_path_that_is_none_is_refused(path, sentence):
    """No such input, no length, no end."""
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        break_point(circle, ([-0.5, -1.0], [0.5, 1.0]), path)
