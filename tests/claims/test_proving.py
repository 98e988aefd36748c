"""Tests of a proof over a field: made-up makers whose least margins are known, in, under and beside each other."""

from __future__ import annotations

import numpy as np
import pytest

from deadfront.claims.boxes import Box
from deadfront.claims.comparing import Term
from deadfront.claims.field import Field
from deadfront.claims.proving import DECISION, prove
from deadfront.intervals import BOX, Effort, work_done
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


def widened(x, w):
    """x/(1 + x) of a range over decades, written so that the range counts four times; greatest at its upper end."""
    share = x[0] * x[1] / (x[0] + 1.0) / x[1]
    return w * (0.5 * share + 0.3 * (x[1] / x[0]) / (x[1] / x[0] + 1.0 / x[0]))


def wild(x, w):
    """0.6 everywhere, in a form in which each of two ranges over decades stands above and below a stroke."""
    return w * 0.6 * (x[0] / x[1]) * (x[1] / x[0]) * (1.0 + 0.01 * x[2])


DECADES = [(0.01, 1000.0), (0.01, 100.0), (0.0, 1.0)]


@pytest.mark.parametrize(
    ("maker", "share"), [(widened, 1.0), (widened, 1.24), (widened, 1.27), (wild, 0.9), (wild, 1.6), (wild, 1.66)]
)
def test_ranges_over_decades_are_decided(maker, share):
    """Trap: bounds thousands of limits off, of which slopes do not say which range holds them there."""
    rng = np.random.default_rng(3)
    found = prove(field((maker,), [share], DECADES), Effort(tolerance=5e-2, refinement=64))
    points = [np.exp(rng.uniform(np.log(low), np.log(high), (20_000, 1))) for low, high in DECADES[:2]]
    least = float((1.0 - maker([*points, rng.uniform(0.0, 1.0, (20_000, 1))], np.array([share]))).min())
    assert found.bound <= least
    assert (found.worst.margin < 0.0) == (share in (1.27, 1.66))
    assert found.worst.margin < 0.0 or found.bound >= 0.0


@pytest.mark.parametrize("seed", range(12))
def test_no_random_point_lies_below_the_bound_of_random_ranges(seed):
    """Random sums of quotients over random ranges, some over decades, with budgets from too small to ample."""
    rng = np.random.default_rng(seed)
    low = 10.0 ** rng.uniform(-3.0, 2.0, 5)
    ranges = list(zip(low, low * 10.0 ** rng.permutation([0.1, 0.1, 0.1, 1.0, 3.0]), strict=True))
    powers, weights = rng.integers(-1, 2, (3, 5)), rng.uniform(-1.0, 1.0, 3)

    def maker(x, w):
        parts = []
        for row in powers:
            part = 1.0
            for one, power in zip(x, row, strict=True):
                part = part * one if power > 0 else part / one if power < 0 else part
            parts.append(part / (1.0 + part))
        return w * sum((c * part for c, part in zip(weights, parts, strict=True)), start=0.4)

    asked = field((maker,), [1.0, 0.5], ranges)
    points = np.exp(rng.uniform(np.log([a for a, _ in ranges]), np.log([b for _, b in ranges]), (50_000, 5)))
    least = float((1.0 - maker([points[:, [i]] for i in range(5)], np.array([1.0, 0.5]))).min())
    bounds = [prove(asked, Effort(budget=n, refinement=64, tolerance=5e-2)).bound for n in (1, 300, 20_000)]
    assert max(bounds) <= least + 1e-12
    assert least < 0.1 or bounds[2] >= 0.0


def test_a_budget_gives_the_same_bound_each_time_and_a_larger_one_no_worse():
    """Boxes are counted by what is computed, not by a clock: the same bytes on a busy machine."""

    def maker(x, w):
        return w * 0.9 * (x[0] / x[1]) * (x[1] / x[0]) * (x[2] / x[3]) * (x[3] / x[2])

    asked = field((maker,) * 3, [1.0, 0.7], [(0.01, 1000.0)] * 4)
    found = [prove(asked, Effort(budget=n, tolerance=5e-2)) for n in (100, 100, 1_000)]
    assert (found[0].bound, found[0].boxes, found[0].influence) == (found[1].bound, found[1].boxes, found[1].influence)
    assert found[0].bound <= found[2].bound <= 0.1 + 1e-9
    assert found[0].bound < 0.0 < found[0].worst.margin


def test_a_claim_costs_its_budget_however_many_makers_it_has():
    """Eight makers that nothing decides share what one would have had."""

    def maker(x, w):
        return w * 0.9 * (x[0] / x[1]) * (x[1] / x[0]) * (x[2] / x[3]) * (x[3] / x[2])

    for makers in (1, 8):
        asked, before = field((maker,) * makers, [1.0] * 6, [(0.01, 1000.0)] * 4), work_done()
        prove(asked, Effort(budget=400, tolerance=5e-2))
        assert 200 < (work_done() - before) / BOX < 800


def test_an_undecided_claim_names_the_range_that_holds_its_bound():
    """One range counts in a term that cancels; the other moves the margin, and is not to blame."""

    def maker(x, w):
        return w * (0.5 + 0.3 * x[1]) * (x[0] / (x[0] + 1.0)) * ((x[0] + 1.0) / x[0])

    found = prove(field((maker,), [1.0], [(0.001, 1e6), (0.0, 1.0)]), Effort(budget=30, tolerance=5e-2))
    assert found.bound < 0.0 < found.worst.margin
    assert found.influence["x0"] > 3.0 * found.influence["x1"]


def test_more_ranges_than_an_array_has_axes():
    """Trap: a file may have hundreds of ranges, an array of numpy no more than 64 axes."""
    found = prove(field((lambda x, w: w * 0.01 * sum(x, start=0.0),), [1.0], [(0.0, 1.0)] * 90))
    assert found.worst.margin == pytest.approx(0.1)
    assert 0.0 <= found.bound <= 0.1


def test_a_device_that_never_operates_anywhere_in_a_wide_range_ends_the_search():
    """An endless value in a corner of ranges over decades is found by a middle of the boxes, and refutes."""

    def maker(x, w):
        return w * np.where(np.less(x[0] * x[1], 2e-4), np.inf, 0.5 * (x[0] / x[1]) * (x[1] / x[0]))

    found = prove(field((maker,), [1.0], [(0.01, 1000.0)] * 2))
    assert (found.worst.margin, found.bound) == (-np.inf, -np.inf)
