"""Claims: shown means proved, on the demonstrations and on limits set close to the true worst case."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from claim_files import BARE, DEFINITIONS, NORTH_AMERICAN, judged
from study_files import subject

from deadfront.claims.judging import examine
from deadfront.claims.report import subject_of
from deadfront.intervals import Dual, Effort, Interval
from deadfront.project.reading import load

EXAMPLES = Path(__file__).parents[2] / "examples"
UNITS = tuple(
    EXAMPLES / name for name in ("kestrel-point/unit.yaml", "kestrel-point/repaired.yaml", "tarn-edge/unit.yaml")
)
CHEAP = Effort(budget=1, refinement=0)
"""Enough to have the makers of a claim; its verdict is not looked at."""
RANGES = {
    "supply.fault_power": "60 MVA .. 150 MVA",
    "supply.x_over_r": "8 .. 12",
    "transformer.impedance": "5 % .. 6 %",
    "board.tie.fault_current": "10 kA .. 14 kA",
}


@cache
def unit(file):
    """A demonstration, ready to be judged."""
    return subject_of(load(file))


@pytest.mark.parametrize("identifier", sorted(DEFINITIONS))
@pytest.mark.parametrize("file", UNITS, ids=lambda f: f"{f.parent.name}-{f.stem}")
def test_every_margin_runs_on_ranges_and_on_slopes(file, identifier):
    """No claim falls back to samples: a maker that reads ranges gives a range of the margin, and slopes of it."""
    claim, judged_by = examine(DEFINITIONS[identifier], unit(file), CHEAP)
    assert not claim.coverage.startswith("sampled")
    if judged_by is None:
        return
    field = judged_by.field
    low, high = field.box.lower, field.box.upper
    ranges = {p: Interval(low[[i]][:, None], high[[i]][:, None]) for i, p in enumerate(field.box.paths)}
    slopes = {path: Dual.variable(value, i) for i, (path, value) in enumerate(ranges.items())}
    for maker in field.makers:
        expected = (Interval, Dual) if field.paths[maker] else (np.ndarray, np.ndarray)
        for values, kind in zip((ranges, slopes), expected, strict=True):
            margins = [term.margin() for term in field.terms_at(values, maker, None) if term.cases]
            assert not margins or any(isinstance(margin, kind) for margin in margins)


POINTS = {
    "supply.fault_power": " VA",
    "supply.x_over_r": "",
    "transformer.impedance": " %",
    "board.tie.fault_current": " A",
}


@pytest.mark.parametrize(
    ("identifier", "changes"),
    [
        ("SC-01", {"switch.short_time.current": "6 kA"}),
        ("SC-04", {"board.feeders.pumps.interrupting": "30 kA"}),
        ("SC-05", {"board.bus.short_time.current": "30 kA"}),
        ("AE-01", {"operation.places.bus section.clothing": "4 cal/cm2"}),
        ("AE-02", {"operation.places.line side.clothing": "25 cal/cm2"}),
        ("CO-04", {"board.required_clearing": "200 ms"}),
    ],
)
def test_a_refutation_is_reproduced_by_a_file_of_points(identifier, changes):
    """The worst point, put into a file without ranges, gives the same value and margin."""
    found = judged(identifier, {**RANGES, **changes}, NORTH_AMERICAN)
    assert found.verdict == "refuted"
    assert found.coverage == "proved"
    points = {
        path: f"{value * (100.0 if POINTS[path] == ' %' else 1.0):.17g}{POINTS[path]}"
        for path, value in found.worst_case.inputs.items()
        if path in POINTS
    }
    assert points
    again = judged(identifier, {**RANGES, **points, **changes}, NORTH_AMERICAN)
    assert again.verdict == "refuted"
    assert again.margin == pytest.approx(found.margin, rel=1e-9)
    assert again.value == pytest.approx(found.value, rel=1e-9)


ARC = {
    "supply.fault_power": "60 MVA .. 150 MVA",
    "operation.places.line side.working_distance": "600 mm .. 650 mm",
}


@cache
def dense_maximum():
    """Largest energy of AE-02 on a grid over its ranges, closed in on three times; J/m2, and the power there."""
    _, judged_by = examine(DEFINITIONS["AE-02"], subject(BARE, ARC), CHEAP)
    field = judged_by.field
    low, high = field.box.lower.copy(), field.box.upper.copy()
    best, where = -np.inf, low
    for _ in range(4):
        axes = [np.linspace(a, b, 41 if a < b else 1) for a, b in zip(low, high, strict=True)]
        points = np.stack([g.ravel() for g in np.meshgrid(*axes, indexing="ij")], axis=1)
        for maker in field.makers:
            for term in field.at(points, maker):
                energy = np.broadcast_to(np.asarray(term.chosen(term.value)), (len(points), len(term.cases))).max(
                    axis=1
                )
                if energy.max() > best:
                    best, where = float(energy.max()), points[int(energy.argmax())]
        reach = (high - low) / 40.0
        low, high = np.maximum(field.box.lower, where - reach), np.minimum(field.box.upper, where + reach)
    return best, dict(zip(field.box.paths, where, strict=True))


@pytest.mark.parametrize(("share", "verdict"), [(1.001, "shown"), (0.999, "refuted")])
def test_a_limit_a_thousandth_beside_the_true_maximum_is_decided_rightly(share, verdict):
    """Clothing 0.1 % above the largest arc energy is shown to be enough, 0.1 % below it is refuted."""
    largest, _ = dense_maximum()
    clothing = f"{largest * share / 41840.0:.12g} cal/cm2"
    found = judged("AE-02", {**ARC, "operation.places.line side.clothing": clothing}, BARE)
    assert found.verdict == verdict, found.reason


SAMPLED = (
    (UNITS[0], "AE-01"),
    (UNITS[0], "SC-01"),
    (UNITS[0], "SC-05"),
)


@pytest.mark.long
@pytest.mark.parametrize(("file", "identifier"), SAMPLED, ids=lambda v: getattr(v, "parent", Path(str(v))).name)
def test_a_million_random_points_stay_above_the_proved_bound(file, identifier):
    """And the worst point of the proof is worse than the worst of them, or as bad."""
    claim, judged_by = examine(DEFINITIONS[identifier], unit(file))
    field, least = judged_by.field, np.inf
    random = np.random.default_rng(20260731)
    for _ in range(100):
        points = field.box.lower + random.random((10_000, len(field.box.paths))) * (field.box.upper - field.box.lower)
        for maker in field.makers:
            margins = [np.asarray(term.margin()).min() for term in field.at(points, maker) if term.cases]
            least = min([least, *map(float, margins)])
    print(f"\n{identifier}: bound {claim.bound:.5f}, worst point {claim.margin:.5f}, worst of 1e6 samples {least:.5f}")
    assert claim.bound <= least
    assert claim.margin <= least + 0.01 * max(1.0, abs(least))


def test_a_result_says_how_hard_it_was_tried():
    """Less effort is another effort: with one box a claim that needs more is left open, never shown."""
    unit_of = unit(UNITS[0])
    claim, _ = examine(DEFINITIONS["SC-01"], unit_of, replace(CHEAP, tolerance=1e-6))
    assert claim.verdict == "open"
    assert "Undecided" in claim.reason
