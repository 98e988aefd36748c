"""Physics: what the letter and the number on a fuse promise, and no more. Names and curves in, limits out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics.curves import TimeCurrentCurve, melting_current, melting_time
from deadfront.tables import read


@dataclass(frozen=True, slots=True)
class MeltingGate:
    """A gate the melting curve must pass through: from least to most current, from earliest to latest time. A and s."""

    least_current: float
    most_current: float
    earliest: float
    latest: float
    tag: str


@dataclass(frozen=True, slots=True)
class Discrimination:
    """Whether one gG fuse operates before another melts, by the limits of their standard.

    current   1, current at 0.1 s: earliest melting of the upper over latest operating of the lower
    energy    1, I²t: least pre-arcing of the upper over largest operating of the lower; NaN below 16 A, where the
              standard's table has none
    """

    current: float
    energy: float


def letter_gate(letter: str, number: float) -> MeltingGate:
    """The one point that a letter fixes; between two fuses of the same letter and number all else may differ.

    letter     "E", "C" or "R"; structural
    number     A; of R the number itself, of which 100 times is meant; structural
    returns    current and time of the point
    holds      25 degC, no preload
    raises     ValueError: another letter, or a number not above zero. K on a limiter names the link it goes with, X and
               others promise nothing
    source     IEEE C37.46, C37.47, now C37.42 [M]
    """
    letters = sorted({row["letter"] for row in read("fuse-letters").rows})
    if letter not in letters:
        raise ValueError(f"letter: expected one of {', '.join(letters)}, others fix no point, got {letter!r}")
    if not number > 0.0:
        raise ValueError(f"number: expected above zero, got {number:g}")
    rows = read("fuse-letters").where(letter=letter).rows
    row = next(row for row in rows if not row["up_to_a"] or number <= float(row["up_to_a"]))
    least, most = (number * float(row[column]) for column in ("least_share", "most_share"))
    return MeltingGate(least, most, float(row["earliest_s"]), float(row["latest_s"]), row["tag"])


def link_gates(kind: str, rating: float) -> tuple[MeltingGate, ...]:
    """Gates of a K or T link, from long to short time. They are limits: never join them to a curve.

    kind       "K" or "T"; structural
    rating     A, one of the table; structural
    returns    three gates; below 6 A those of 10 s and 0.1 s have only an upper limit, the lower one is zero
    holds      25 degC, no preload
    raises     ValueError: no such link
    source     IEEE C37.42 [M; speed ratios V at both ends]
    """
    rows = [row for row in read("c37-42-kt-links").rows if row["kind"] == kind and float(row["rating_a"]) == rating]
    if not rows:
        raise ValueError(f"kind, rating: the table has no link {kind!r} of {rating:g} A")
    row = rows[0]
    columns = (("long", float(row["long_time_s"])), ("10s", 10.0), ("100ms", 0.1))
    return tuple(
        MeltingGate(float(row[f"least_{name}_a"] or 0.0), float(row[f"most_{name}_a"]), time, time, row["tag"])
        for name, time in columns
    )


def gate_problem(curve: TimeCurrentCurve, gate: MeltingGate) -> str | None:
    """What keeps a minimum-melting curve from passing a gate, as a sentence; None if it passes.

    curve      at 25 degC without preload; structural
    gate       `letter_gate` or `link_gates`
    returns    a sentence with what was expected and got, or None
    holds      passing says nothing about the rest of the curve
    raises     nothing
    source     as the gate
    """
    if gate.earliest < gate.latest:
        time = float(melting_time(curve, gate.least_current))
        if gate.earliest <= time <= gate.latest:
            return None
        window = f"{gate.earliest:g} to {gate.latest:g} s"
        return f"expected melting within {window} at {gate.least_current:g} A, got {time:g} s"
    current = float(melting_current(curve, gate.earliest, "smallest"))
    if gate.least_current <= current <= gate.most_current:
        return None
    got = f"got {current:g} A" if np.isfinite(current) else "the curve begins at a shorter time"
    return (
        f"expected a melting current of {gate.least_current:g} to {gate.most_current:g} A at {gate.earliest:g} s, {got}"
    )


def gg_discrimination(lower: float, upper: float) -> Discrimination:
    """Discrimination of two gG fuses in series; at least one in both numbers is the 1.6:1 rule.

    lower, upper  A, ratings of the table; structural
    returns    what the limits leave between the two
    holds      any two gG fuses of these ratings
    raises     LookupError: a rating the table does not have
    source     IEC 60269-1 gates and I²t limits [M; consistent for all 18 pairs 1.6 apart], rule [V, restated]
    """
    table = read("iec60269-gg-gates")
    small, large = (table.row(rated_a=f"{rating:g}") for rating in (lower, upper))
    energies = [text for text in (large["pre_arcing_min_a2s"], small["operating_max_a2s"]) if text]
    energy = float(energies[0]) / float(energies[1]) if len(energies) == 2 else float("nan")
    return Discrimination(float(large["lowest_100ms_a"]) / float(small["highest_100ms_a"]), energy)
