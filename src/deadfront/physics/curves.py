"""Physics: time-current curves of fuses, read as straight lines in log-log. Arrays in, arrays out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from deadfront.physics.types import Array

CURVE_TEMPERATURE = 25.0
"""degC, at which published fuse curves are drawn, without preload [V, restated: ANSI C37.42-1981]."""

FEWEST_POINTS = 2

SAME_TIME = 1e-12
"""1, share by which two equal times of a curve are set apart where the curve is read backwards; far below any digit."""


@dataclass(frozen=True, slots=True)
class TimeCurrentCurve:
    """One fuse's published curve; constant data, never a range.

    current          A, rising                                   (points,)
    minimum_melting  s, the shortest time until the element melts, never rising along the current   (points,)
    total_clearing   s, the longest time until the current has ended, likewise                      (points,)
    """

    current: NDArray[np.float64]
    minimum_melting: NDArray[np.float64]
    total_clearing: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CurveProblem:
    """What is wrong with curve data, and in which row of it (counted from zero)."""

    row: int
    text: str


def melting_time(curve: TimeCurrentCurve, current: Array) -> Array:
    """Shortest time until the fuse melts.

    Straight line in (ln I, ln t); infinite left of the first point; right of the last one constant I²t,
    t_last (I_last / I)².

    current    I  A rms                           (cases,)
    returns    s                                  (cases,)
    holds      25 degC, no preload; below one cycle compare I²t, not times
    raises     nothing; for unsound data see `curve_problems`
    source     common practice [C]
    """
    last = curve.current[-1]
    beyond = np.square(last / np.maximum(current, last))
    return _read(curve.current, curve.minimum_melting, current) * beyond


def clearing_time(curve: TimeCurrentCurve, current: Array) -> Array:
    """Longest time until the fuse has ended the current.

    Straight line in (ln I, ln t); infinite left of the first point; right of the last one the time of the last point:
    a fuse waits for its current zero or limits, and the bottom of the curve, 0.01 s by convention, is all that is
    known there. (Half a cycle, 0.00833 s at 60 Hz, is the other convention, for a fuse in its limiting range.)

    current    I  A rms                           (cases,)
    returns    s                                  (cases,)
    holds      25 degC, no preload; the current must not exceed what the fuse can break
    raises     nothing; for unsound data see `curve_problems`
    source     IEEE 1584-2002, 4.6 [V] for the bottom; interpolation [C]
    """
    return _read(curve.current, curve.total_clearing, current)


def clearing_time_by_tolerance(curve: TimeCurrentCurve, current: Array, tolerance: Array, arcing_time: Array) -> Array:
    """Longest clearing time of a fuse of which only the minimum-melting curve is known: t_melt(I / (1 + e)) + t_arc.

    tolerance    e      1, of current: 0.20 expulsion links of K and T type [M], 0.10 silver elements [C]   (cases,)
    arcing_time  t_arc  s, expulsion link half to 0.8 of a cycle [C]                                        (cases,)
    current, returns, holds, raises: as `clearing_time`
    source       common practice [C]
    """
    return melting_time(curve, current / (1.0 + tolerance)) + arcing_time


def liquid_factor(melting_temperature: Array, liquid_temperature: Array) -> Array:
    """Share of its current at which a fuse in hot liquid melts in the same time.

    F = sqrt((T_melt - T_liquid) / (T_melt - 25))

    melting_temperature  degC, of the element: eutectic solder 183, tin 232, silver 961    (cases,)
    liquid_temperature   degC                     (cases,)
    returns    1, above one in cold liquid        (cases,)
    holds      liquid below the melting temperature, that above 26 degC; NaN otherwise
    raises     nothing
    source     engineering model, to be replaced by the correction curve of the fuse [D]
    """
    over = (melting_temperature - liquid_temperature) / np.maximum(melting_temperature - CURVE_TEMPERATURE, 1.0)
    holds = np.logical_and(np.greater(over, 0.0), np.greater(melting_temperature, CURVE_TEMPERATURE + 1.0))
    return np.where(holds, np.sqrt(np.maximum(over, 0.0)), np.nan)


def preload_factor(load: Array, long_time_melting: Array) -> Array:
    """Share of its melting time that a fuse keeps when it has carried load: 1 - (I_load / I_long)².

    load               A before the fault                      (cases,)
    long_time_melting  A that would melt it in the long run    (cases,)
    returns    1                                  (cases,)
    holds      times far below the fuse's own time constant (adiabatic); NaN where the load itself would melt it
    raises     nothing
    source     adiabatic model; 0.75 at full load of a fuse that melts at twice its rating: the "75 %" rule [D]
    """
    carried = load / long_time_melting
    return np.where(np.less(carried, 1.0), 1.0 - np.square(carried), np.nan)


def hot_melting_time(curve: TimeCurrentCurve, current: Array, liquid: Array, preload: Array) -> Array:
    """Shortest melting time of a fuse in hot liquid that has carried load.

    liquid     `liquid_factor`, shifts the whole curve left    (cases,)
    preload    `preload_factor`, shortens the time             (cases,)
    current, returns, raises: as `melting_time`
    source     engineering model [D]. Beware: hot is worst for inrush, cold is worst for the crossing of two fuses
    """
    return preload * melting_time(curve, current / liquid)


def melting_current(curve: TimeCurrentCurve, time: Array, flat: Literal["smallest", "largest"]) -> Array:
    """Current at which the minimum-melting curve shows a time: the curve read backwards.

    Straight line in (ln I, ln t); right of the last point constant I²t, I_last √(t_last / t).

    time       s                                  (cases,)
    flat       which current counts where the curve is level: "smallest" asks what a fuse survives, "largest" how much
               it may need; structural
    returns    A rms; NaN for a time longer than that of the first point, where the curve says nothing      (cases,)
    holds      25 degC, no preload
    raises     nothing
    source     common practice [C]
    """
    last = curve.minimum_melting[-1]
    current = _read_back(curve.current, curve.minimum_melting, time, flat)
    beyond = np.sqrt(np.maximum(last / time, 1.0))
    return np.where(np.less_equal(time, curve.minimum_melting[0]), current * beyond, np.nan)


def clearing_current(curve: TimeCurrentCurve, time: Array) -> Array:
    """Current from which the total-clearing curve promises to clear within a time; the curve read backwards.

    time       s                                  (cases,)
    returns    A rms; the first point for all longer times; NaN for a time below that of the last point     (cases,)
    holds      25 degC, no preload; the current must not exceed what the fuse can break
    raises     nothing
    source     common practice [C]
    """
    current = _read_back(curve.current, curve.total_clearing, time, "smallest")
    return np.where(np.less(time, curve.total_clearing[-1]), np.nan, current)


def hot_melting_current(curve: TimeCurrentCurve, time: Array, liquid: Array, preload: Array) -> Array:
    """Smallest current that melts a fuse within a time in hot liquid, after it has carried load.

    time       s                                  (cases,)
    liquid     `liquid_factor`, shifts the whole curve left    (cases,)
    preload    `preload_factor`, shortens the time             (cases,)
    returns    A rms; NaN where `melting_current` is           (cases,)
    holds      as `hot_melting_time`
    raises     nothing
    source     engineering model [D]
    """
    return liquid * melting_current(curve, time / preload, "smallest")


def curve_problems(
    current: Sequence[float], minimum_melting: Sequence[float], total_clearing: Sequence[float]
) -> list[CurveProblem]:
    """Everything that makes data unfit as a curve, in the order of the rows; empty if nothing does.

    current, minimum_melting, total_clearing  A and s, one number per row
    returns    problems, each with its row counted from zero
    raises     ValueError if the three differ in length
    source     a fuse melts no later at a higher current [C]
    """
    found = [] if len(current) >= FEWEST_POINTS else [CurveProblem(0, _too_short(len(current)))]
    before: tuple[float, float, float] | None = None
    for row, point in enumerate(zip(current, minimum_melting, total_clearing, strict=True)):
        texts = _unsound(point) or _against(before, point)
        found.extend(CurveProblem(row, text) for text in texts)
        before = before if _unsound(point) else point
    return found


def wide_gaps(times: Sequence[float], decades: float) -> list[CurveProblem]:
    """Neighbouring points of a curve too far apart for a straight line between them to be trusted.

    times      s, one per row, falling, above zero
    decades    largest step of time between two rows, in decades; above zero
    returns    problems, each with the row after the gap counted from zero; level and rising rows are none of them
    raises     ValueError: decades not above zero
    source     common practice: at least one point to a decade of time [C]
    """
    if not decades > 0.0:
        raise ValueError(f"decades: expected above zero, got {decades:g}")
    gaps = [float(np.log10(before / after)) for before, after in pairwise(times)]
    return [
        CurveProblem(
            row, f"expected a point at least every {decades:g} decades of time, got a step of {gap:.2g} decades"
        )
        for row, gap in enumerate(gaps, 1)
        if gap > decades * (1.0 + SAME_TIME)
    ]


def _too_short(points: int) -> str:
    return f"expected at least {FEWEST_POINTS} points, got {points}"


def _unsound(point: tuple[float, float, float]) -> list[str]:
    """What is wrong with one row by itself."""
    names = ("current", "minimum melting time", "total clearing time")
    found = [
        f"expected a {name} above zero and finite, got {value:g}"
        for name, value in zip(names, point, strict=True)
        if not (0.0 < value < float("inf"))
    ]
    if not found and point[2] < point[1]:
        found.append(f"expected a total clearing time of at least the melting time {point[1]:g} s, got {point[2]:g} s")
    return found


def _against(before: tuple[float, float, float] | None, point: tuple[float, float, float]) -> list[str]:
    """What is wrong with one row after the one before it."""
    if before is None:
        return []
    found = []
    if point[0] <= before[0]:
        found.append(f"expected a current above the {before[0]:g} A of the row before, got {point[0]:g} A")
    for name, one, other in zip(("melting", "clearing"), before[1:], point[1:], strict=True):
        if other > one:
            found.append(f"expected a {name} time of at most the {one:g} s of the row before, got {other:g} s")
    return found


def _read(knots: NDArray[np.float64], times: NDArray[np.float64], current: Array) -> Array:
    """Time at a current, straight in log-log; infinite left of the first knot, the last time right of the last one."""
    inside = np.log(np.maximum(current, knots[0]))
    time = np.exp(np.interp(inside, np.log(knots), np.log(times)))
    return np.where(np.less(current, knots[0]), np.inf, time)


def _read_back(
    currents: NDArray[np.float64], times: NDArray[np.float64], time: Array, flat: Literal["smallest", "largest"]
) -> Array:
    """Current at a time, straight in log-log; the first current left of the curve and the last one right of it."""
    rank = np.arange(len(times), dtype=np.float64)
    # Level stretches are tilted by a hair, away from the side that is asked for, so that the curve can be read back.
    tilted = -np.log(times) + SAME_TIME * (rank if flat == "smallest" else rank - rank[-1])
    return np.exp(np.interp(-np.log(time), tilted, np.log(currents)))
