"""Tests of deadfront.intervals.mapping: cells that hold, fail or are crossed by the boundary."""

import re

import numpy as np
import pytest

from deadfront.intervals import FAILS, HOLDS, UNDECIDED, Effort, chart


def margin(x):
    """Holds inside an ellipse whose size depends on the third input, in two columns of which one is easier."""
    inside = 1.0 - np.square(x[0] / 2.0) - np.square(x[1]) - 0.1 * x[2]
    return np.concatenate([inside, inside + 1.0], axis=1)


BOX = ([-3.0, -1.5, 0.0], [3.0, 1.5, 1.0])


def true_state(first, second):
    """Whether the margin holds at a place, whatever the third input is."""
    return 1.0 - np.square(first / 2.0) - np.square(second) - 0.1 >= 0.0


def test_cells_are_decided_as_dense_points_say():
    """Every point of a cell that holds does, every point of one that fails does; the boundary takes few cells."""
    found = chart(margin, BOX, (0, 1), 2)
    assert found.state.shape == found.least.shape == (32, 32)
    share = np.linspace(0.0, 1.0, 7)
    for j in range(32):
        for i in range(32):
            first = found.first_edges[i] + share[:, None] * (found.first_edges[i + 1] - found.first_edges[i])
            second = found.second_edges[j] + share[None, :] * (found.second_edges[j + 1] - found.second_edges[j])
            holds = true_state(first, second)
            assert found.state[j, i] != HOLDS or holds.all()
            assert found.state[j, i] != FAILS or not holds.any()
    assert 0 < np.count_nonzero(found.state == UNDECIDED) < 130
    assert np.count_nonzero(found.state == HOLDS) > 200
    assert np.count_nonzero(found.state == FAILS) > 500


def test_the_first_input_runs_along_the_last_axis():
    """A margin that only the first input moves changes from column to column."""
    found = chart(lambda x: x[0] - 0.5, ([0.0, 0.0], [1.0, 1.0]), (0, 1), depth=2)
    line = [FAILS, UNDECIDED, HOLDS, HOLDS]  # the second cell ends at 0.5, where the margin just holds
    assert found.state.tolist() == [line] * 4
    swapped = chart(lambda x: x[0] - 0.5, ([0.0, 0.0], [1.0, 1.0]), (1, 0), depth=2)
    assert swapped.state.tolist() == [[state] * 4 for state in line]


def test_the_least_margin_is_that_at_the_middle_of_the_cell():
    """With the third input at its worst end, known by hand."""
    found = chart(margin, BOX, (0, 1), 2, depth=3)
    first = 0.5 * (found.first_edges[1:] + found.first_edges[:-1])
    second = 0.5 * (found.second_edges[1:] + found.second_edges[:-1])
    known = 1.0 - np.square(first[None, :] / 2.0) - np.square(second[:, None]) - 0.1
    assert found.least == pytest.approx(known)


def test_a_hole_in_the_model_does_not_hold():
    """NaN is neither proved nor failed for sure."""
    found = chart(lambda x: np.where(x[0] > 0.5, np.nan, 1.0) + 0.0 * x[1], ([0.0, 0.0], [1.0, 1.0]), (0, 1), depth=2)
    assert set(found.state[:, 2:].ravel().tolist()) == {UNDECIDED}
    assert set(found.state[:, 0].ravel().tolist()) == {HOLDS}


def test_out_of_budget_the_rest_is_undecided():
    """What was decided stays decided."""
    full, short = chart(margin, BOX, (0, 1), 2), chart(margin, BOX, (0, 1), 2, effort=Effort(budget=100))
    assert short.boxes <= 100
    told = short.state != UNDECIDED
    assert told.any()
    assert not told.all()
    assert (short.state[told] == full.state[told]).all()


@pytest.mark.parametrize(
    ("inputs", "depth", "sentence"),
    [
        ((0, 0), 3, "inputs: expected two different inputs with a width, got (0, 0)"),
        ((0, 3), 3, "inputs: expected two different inputs with a width, got (0, 3)"),
        ((0, 1), 11, "depth: expected 0 to 10, got 11"),
    ],
)
def test_a_chart_of_what_is_no_range_is_refused(inputs, depth, sentence):
    """Two different inputs with a width, and no more cells than can be drawn."""
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        chart(margin, ([-3.0, -1.5, 0.0, 1.0], [3.0, 1.5, 1.0, 1.0]), inputs, 2, depth)
