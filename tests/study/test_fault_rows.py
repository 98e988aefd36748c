"""Rows of the fault table against hand calculations on the unit of the worked example W13."""

import numpy as np
import pytest
from study_files import NORTH_AMERICAN, edited, walk

from deadfront.study.tables import fault_rows

BARE = {"motors": None, "board.tie": None}
THREE_PHASE = 26732.19
"""A at 480 V through the transformer: 480 V / sqrt(3) over source and transformer in series."""

IN_THE_LINE = THREE_PHASE * 480 / 13800


def lines(base, point, kind):
    """Currents in the three MV lines in the row of the largest fault, by the method of the practice."""
    rows = fault_rows(lambda _points: walk(base), np.zeros((1, 0)))
    (found,) = (r for r in rows if (r.point, r.kind, r.extreme, r.governs) == (point, kind, "maximum", True))
    return found.primary_lines


@pytest.mark.parametrize("point", ["Transformer secondary terminals", "LV bus"])
@pytest.mark.parametrize(
    "base", [edited(NORTH_AMERICAN, {"board.tie": None}), edited(NORTH_AMERICAN, BARE)], ids=["with motors", "alone"]
)
def test_mv_lines_carry_what_the_supply_brings(base, point):
    """26 732 A x 480 / 13 800 = 929.8 A in each line, whether or not motors run and whichever side of the main."""
    assert lines(base, point, "three-phase") == pytest.approx([IN_THE_LINE] * 3, rel=1e-4)


def test_an_earth_fault_at_the_terminals_shows_in_two_lines():
    """Behind the delta 28 120 A to earth is 28 120 / sqrt(3) x 480 / 13 800 = 564.7 A in two lines, none in a third."""
    found = sorted(lines(edited(NORTH_AMERICAN, BARE), "Transformer secondary terminals", "line-earth"))
    assert found == pytest.approx([0.0, 564.7, 564.7], rel=1e-3, abs=1e-6)
