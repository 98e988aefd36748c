"""Physics: what a secondary fault looks like in the lines before the transformer. Arrays in, arrays out.

Lines are counted so that an earth fault is on L1 and a fault between two lines on L2 and L3. Which primary lines
pair with them depends on the clock number; the set of the three currents does not.
"""

from __future__ import annotations

from typing import Literal, NamedTuple, get_args

import numpy as np

from deadfront.physics.elements import winding_connection
from deadfront.physics.sequence import LineLineEarthCurrents
from deadfront.physics.types import Array

ROOT3 = float(np.sqrt(3.0))

Fault = Literal["three-phase", "line-line", "line-earth", "line-line-earth"]
Pattern = Literal["turned", "straight", "through", "unearthed"]

PATTERNS: dict[str, Pattern] = {
    "Dyn": "turned",
    "Yzn": "turned",
    "Yyn": "straight",
    "Dzn": "straight",
    "YNyn": "through",
    "Dd": "unearthed",
    "Yy": "unearthed",
}
"""How the secondary phases reach the primary lines.

turned     line = difference of two phases: a delta on one side, or a zigzag behind a star
straight   line = phase without its zero sequence
through    line = phase, zero sequence included
unearthed  line = phase; the secondary has no neutral
"""

LINE_SHARES: dict[tuple[Pattern, str], tuple[float, float, float]] = {
    ("turned", "three-phase"): (1.0, 1.0, 1.0),
    ("turned", "line-line"): (1.0 / ROOT3, 2.0 / ROOT3, 1.0 / ROOT3),
    ("turned", "line-earth"): (1.0 / ROOT3, 0.0, 1.0 / ROOT3),
    ("straight", "three-phase"): (1.0, 1.0, 1.0),
    ("straight", "line-line"): (0.0, 1.0, 1.0),
    ("straight", "line-earth"): (2.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0),
    ("through", "three-phase"): (1.0, 1.0, 1.0),
    ("through", "line-line"): (0.0, 1.0, 1.0),
    ("through", "line-earth"): (1.0, 0.0, 0.0),
    ("unearthed", "three-phase"): (1.0, 1.0, 1.0),
    ("unearthed", "line-line"): (0.0, 1.0, 1.0),
    ("unearthed", "line-earth"): (0.0, 0.0, 0.0),
}
"""Line current over fault current times ratio: turned [V: 1.0, 1.15 and 0.58 of the winding], others [calc]."""

WINDING_SHARES: dict[tuple[str, str], tuple[float, float, float]] = {
    ("Dyn", "three-phase"): (1.0 / ROOT3, 1.0 / ROOT3, 1.0 / ROOT3),
    ("Dyn", "line-line"): (0.0, 1.0 / ROOT3, 1.0 / ROOT3),
    ("Dyn", "line-earth"): (1.0 / ROOT3, 0.0, 0.0),
    ("Dzn", "three-phase"): (1.0 / ROOT3, 1.0 / ROOT3, 1.0 / ROOT3),
    ("Dzn", "line-line"): (1.0 / 3.0, 2.0 / 3.0, 1.0 / 3.0),
    ("Dzn", "line-earth"): (1.0 / 3.0, 0.0, 1.0 / 3.0),
    ("Dd", "three-phase"): (1.0 / ROOT3, 1.0 / ROOT3, 1.0 / ROOT3),
    ("Dd", "line-line"): (1.0 / 3.0, 2.0 / 3.0, 1.0 / 3.0),
    ("Dd", "line-earth"): (0.0, 0.0, 0.0),
}
"""Primary delta winding current over fault current times ratio; a star's windings carry the line currents [calc]."""


class LineCurrents(NamedTuple):
    """Currents in the three primary lines, or in the three primary windings."""

    line_1: Array
    """A rms."""
    line_2: Array
    """A rms."""
    line_3: Array
    """A rms."""


def primary_line_currents(fault: str, connection: str, fault_current: Array, ratio: Array) -> LineCurrents:
    """Currents in the primary lines during a secondary fault.

    Dyn: three-phase I/n in each; line-line 2/√3, 1/√3, 1/√3 of I/n; line-earth 1/√3, 1/√3, 0 of I/n

    fault          "three-phase", "line-line" or "line-earth"
    connection     "Dyn" or a vector group such as "Dyn11"
    fault_current  I    A rms, of that kind of fault, what the transformer itself carries     (cases,)
    ratio          n    primary over secondary rated voltage between lines     (cases,)
    returns        A rms in three lines                     (cases,) each
    holds          load neglected; Yyn: primary neutral not connected. YNyn: all zero sequence passes the primary
    raises         ValueError: no such fault or connection; "line-line-earth", which needs three currents
    source         phase-domain solution [calc]; line over winding current for Dyn as published [V]
    """
    shares = LINE_SHARES[_pattern(connection), _single_current(fault)]
    return _shared(shares, fault_current, ratio)


def primary_line_currents_of_line_line_earth(
    connection: str, currents: LineLineEarthCurrents, ratio: Array
) -> LineCurrents:
    """Currents in the primary lines during a secondary fault between two lines and earth.

    Dyn: |I2|, |I2 - I3|, |I3| over √3 n, the difference from I2 + I3 = I_E

    connection  "Dyn" or a vector group such as "Dyn11"
    currents    I2, I3, I_E    A rms                        (cases,) each
    ratio       n    primary over secondary rated voltage between lines     (cases,)
    returns     A rms in three lines                        (cases,) each
    holds       as `primary_line_currents`
    raises      ValueError: no such connection, or a secondary without neutral
    source      phase-domain solution [calc]
    """
    pattern = _pattern(connection)
    line_2, line_3, earth = (np.square(current) for current in currents)
    if pattern == "unearthed":
        raise ValueError(f"connection: a line-line-earth fault needs a secondary neutral, got {connection!r}")
    if pattern == "turned":
        squares: tuple[Array, Array, Array] = (line_2, 2.0 * (line_2 + line_3) - earth, line_3)
        divisor = ROOT3 * ratio
    elif pattern == "straight":
        # |2 I2 - I3|² = 6 I2² + 3 I3² - 2 I_E², and the same with 2 and 3 exchanged; |I_E| flows in L1.
        squares = (earth, 6.0 * line_2 + 3.0 * line_3 - 2.0 * earth, 6.0 * line_3 + 3.0 * line_2 - 2.0 * earth)
        divisor = 3.0 * ratio
    else:
        squares = (0.0 * line_2, line_2, line_3)
        divisor = ratio
    # A difference of large squares may fall a rounding error below zero.
    return LineCurrents(*(np.sqrt(np.maximum(square, 0.0)) / divisor for square in squares))


def primary_winding_currents(fault: str, connection: str, fault_current: Array, ratio: Array) -> LineCurrents:
    """Currents in the primary windings during a secondary fault.

    fault          "three-phase", "line-line" or "line-earth"
    connection     "Dyn" or a vector group such as "Dyn11"
    fault_current  I    A rms, of that kind of fault        (cases,)
    ratio          n    primary over secondary rated voltage between lines     (cases,)
    returns        A rms in three windings                  (cases,) each
    holds          as `primary_line_currents`
    raises         ValueError: no such fault or connection; "line-line-earth"
    source         phase-domain solution [calc]
    """
    kind, single = winding_connection(connection), _single_current(fault)
    shares = WINDING_SHARES.get((kind, single), LINE_SHARES[_pattern(connection), single])
    return _shared(shares, fault_current, ratio)


def largest_primary_line_current(fault: str, connection: str, fault_current: Array, ratio: Array) -> Array:
    """Current in the primary line that carries most during a secondary fault.

    fault          "three-phase", "line-line" or "line-earth"
    connection     "Dyn" or a vector group such as "Dyn11"
    fault_current  I    A rms, of that kind of fault        (cases,)
    ratio          n    primary over secondary rated voltage between lines     (cases,)
    returns        A rms                                    (cases,)
    holds          as `primary_line_currents`
    raises         ValueError: no such fault or connection; "line-line-earth"
    source         phase-domain solution [calc]
    """
    return max(LINE_SHARES[_pattern(connection), _single_current(fault)]) * fault_current / ratio


def line_over_winding(fault: str, connection: str) -> float:
    """Largest line current over largest winding current, per unit of each in a three-phase fault.

    The transformer's damage curve, drawn over line current, moves by this factor for the kind of fault.

    fault       "three-phase", "line-line" or "line-earth"
    connection  "Dyn" or a vector group such as "Dyn11"
    returns     1: Dyn 1.0, 1.155 and 0.577; NaN where the fault draws no primary current
    holds       as `primary_line_currents`
    raises      ValueError: no such fault or connection; "line-line-earth"
    source      published table for Dyn, YNyn and Dd [V]; use for the damage curve, C57.109 [M]
    """
    line = max(LINE_SHARES[_pattern(connection), _single_current(fault)])
    windings = primary_winding_currents(fault, connection, 1.0, 1.0)
    winding = max(windings) / max(primary_winding_currents("three-phase", connection, 1.0, 1.0))
    return float(line / winding) if winding > 0.0 else float("nan")


def _pattern(connection: str) -> Pattern:
    kind = winding_connection(connection)
    if kind not in PATTERNS:
        raise ValueError(f"connection: expected one of {', '.join(PATTERNS)}, got {connection!r}")
    return PATTERNS[kind]


def _single_current(fault: str) -> str:
    if fault == "line-line-earth":
        raise ValueError("fault: line-line-earth needs three currents, use primary_line_currents_of_line_line_earth")
    if fault not in get_args(Fault):
        raise ValueError(f"fault: expected one of {', '.join(get_args(Fault))}, got {fault!r}")
    return fault


def _shared(shares: tuple[float, float, float], fault_current: Array, ratio: Array) -> LineCurrents:
    return LineCurrents(*(share * fault_current / ratio for share in shares))
