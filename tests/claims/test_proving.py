"""Tests of a proof over a field: made-up makers whose least margins are known, in, under and beside each other."""

from __future__ import annotations

import numpy as np
import pytest

from deadfront.claims.boxes import Box
from deadfront.claims.comparing import Term
from deadfront.claims.proving import DECISION, Field, prove
from deadfront.intervals import Effort
from deadfront.project.quantities import Quantity

CLOSE = Effort(budget=20_000, refinement=2_000, tolerance=1e-3)


def term(subject, value, count, cases):
    """A term with limit one: its margin is one less its value."""
    return Term(subject, value, 1.0, "1", count, tuple(cases), lambda case: f"case {case}", lambda _case: ())


def field(values, cases, ranges):
    """A field of makers `values(x, weights)`, over ranges of x; `cases` weights the operating cases of all."""
    paths = tuple(f"x{i}" for i in range(len(ranges)))
    box = Box(paths, tuple(Quantity(low, (low + high) / 2, high, "", "ratio") for low, high in ranges))
    weights = np.array(cases)

    def terms_at(given, maker, chosen):
        these = weights if chosen is None else weights[list(chosen)]
        x = [given.get(path, quantity.centre) for path, quantity in zip(paths, box.quantities, strict=True)]
        return [term(f"maker {maker}", values[maker](x, these), len(these), range(len(these)))]

    return Field(box, (paths,) * len(values), terms_at)


def wavy(x, w):
    """Not monotone in any input; least margins lie inside."""
    return w * (0.9 - np.square(x[0] - 0.31) - np.square(x[1] - 0.47) * (1.0 + 0.5 * x[0]))


def crossed(x, w):
    """x and 1 - x meet: a range that counts twice."""
    return w * (x[0] * (1.0 - x[0]) * 3.0 + 0.1 * x[1])


WEIGHTS = [0.2, 0.3, 0.95, 0.4, 0.97, 1.0, 0.1]


@pytest.mark.parametrize("effort", [Effort(tolerance=5e-2, refinement=64), CLOSE], ids=["quick", "close"])
@pytest.mark.parametrize("order", [(wavy, crossed), (crossed, wavy)], ids=["first", "last"])
@pytest.mark.parametrize("shift", [0.0, 0.05, -0.3])
def test_the_bound_lies_below_the_least_margin_and_near_it(order, shift, effort):
    """Makers settled at once, by halves or by slopes, in whichever cases: the bound holds, within the tolerance."""
    weights = [w + shift * w for w in WEIGHTS]
    found = prove(field(order, weights, [(0.0, 1.0), (0.0, 1.0)]), effort)
    x = np.linspace(0.0, 1.0, 401)
    grid = [x[:, None, None], x[None, :, None]]
    least = min(float((1.0 - np.asarray(maker(grid, np.array(weights)))).min()) for maker in order)
    assert found.bound <= least + 1e-12
    assert found.worst.margin == pytest.approx(least, abs=2e-2)
    assert found.worst.margin - found.bound <= effort.allowed_gap(found.worst.margin) + 1e-9
    assert found.worst.case == WEIGHTS.index(1.0)


@pytest.mark.parametrize("share", [0.9, 0.999, 1.001, 1.1, 2.0])
def test_a_decision_is_the_verdict_of_a_proof_for_fewer_boxes(share):
    """Whoever asks only for the sign gets the same sign, a true bound, and no closer one than it needs."""
    asked = field((wavy, crossed), [share / 0.9, 0.3], [(0.0, 1.0), (0.0, 1.0)])
    quick, decided = prove(asked, CLOSE), prove(asked, DECISION)
    assert (quick.bound >= 0.0) == (decided.bound >= 0.0) == (share < 1.0)
    assert (quick.worst.margin < 0.0) == (decided.worst.margin < 0.0)
    assert decided.bound <= quick.worst.margin
    assert share >= 1.0 or decided.boxes <= quick.boxes


def test_a_maker_is_bounded_over_the_ranges_it_reads():
    """A maker of one range is bounded on pieces of that range alone, beside one that reads six."""

    def narrow(x, w):
        return w * x[0] * (1.0 - x[0]) * 3.9

    def wide(x, w):
        return w * 0.1 * sum(x[1:], start=x[0])

    ranges = [(0.0, 1.0)] * 6
    whole = field((narrow, wide), [1.0], ranges)
    apart = Field(whole.box, (("x0",), whole.box.paths), whole.terms_at)
    found = prove(apart, CLOSE)
    assert found.worst.margin == pytest.approx(1.0 - 3.9 / 4.0, abs=1e-4)
    assert found.bound <= 1.0 - 3.9 / 4.0
    assert found.bound == pytest.approx(found.worst.margin, abs=2e-3)


@pytest.mark.parametrize("place", [0.0101, 0.1234, 0.4567, 0.5003, 0.8765, 0.9971])
@pytest.mark.parametrize("case", range(7))
def test_a_spike_that_no_sample_meets_is_found(case, place):
    """One case fails in a millionth of the box, beside cases of wide ranges that are settled earlier: it is refuted."""

    def maker(x, w):
        away = np.square((x[0] - place) / 5e-4) + np.square((x[1] - 1.0 + place) / 5e-3)
        spike = np.where(w > 0.5, np.exp(-away), 0.0)
        return 0.4 + 0.7 * spike + np.where(w > 0.5, 0.0, w) * 3.0 * x[0] * (1.0 - x[0]) * (1.0 + 0.2 * x[1])

    weights = [0.02, 0.1, 0.16, 0.1, 0.14, 0.16, 0.08]
    weights[case] = 1.0
    found = prove(field((maker,), weights, [(0.0, 1.0), (0.0, 1.0)]), Effort(tolerance=5e-2, refinement=64))
    assert found.worst.case == case
    assert -0.1 - 1e-12 <= found.worst.margin < 0.0
    assert found.bound <= -0.1 + 1e-12
    assert found.worst.inputs[0] == pytest.approx(place, abs=1e-3)
