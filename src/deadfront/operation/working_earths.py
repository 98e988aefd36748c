"""Operation: how much a temporary earth carries. Currents and durations as arrays in, fusing currents and sizes out.

Physics: the adiabatic melting of a copper cable; floats or arrays, no `if` on a value.
"""

from __future__ import annotations

import numpy as np

from deadfront.physics.types import Array
from deadfront.tables import read

_MELTING = 1083.0
"""Melting point of copper, degC (ASTM F855 note, V)."""
_AMBIENT = 40.0
"""Starting temperature, degC (ASTM F855 note, V)."""
_ZERO = 234.0
"""Kelvin-like offset of copper's resistance, degC (Onderdonk, ASTM F855 note, V)."""
_DIVISOR = 33.0
"""Onderdonk's constant for areas in circular mils (ASTM F855 note, V)."""
_AREA_LEFT = 0.98
"""The share of the area that the calculation counts on (ASTM F855 note, V)."""

CYCLE = 1.0 / 60.0
"""Seconds in a cycle of the table's 15 and 30 cycles."""

ASYMMETRIC = 1.8
"""X/R above which the high-asymmetry rating applies: more than 20 % asymmetry (ASTM F855, V)."""


SHARING = 0.9
"""What each of two parallel sets may carry, as a share of one alone: they share unevenly (common practice, C)."""

MOST_SETS = 2
"""More sets in parallel than this have no rule here."""


def fusing_current(area: Array, duration: Array) -> Array:
    """Current at which a copper cable melts, A.

    I = 0.98 A √( log10((Tm − Ta)/(234 + Ta) + 1) / (33 t) )      Onderdonk

    area      A   circular mils            scalar or array
    duration  t   s                        scalar or array
    returns   I   A, symmetrical           broadcast shape
    holds     adiabatic: up to a few seconds; 40 to 1083 degC
    raises    nothing
    source    ASTM F855 note, method V; 20 of 21 printed ultimate currents are this cut to whole kA
    """
    rise = np.log10((_MELTING - _AMBIENT) / (_ZERO + _AMBIENT) + 1)
    return _AREA_LEFT * area * np.sqrt(rise / (_DIVISOR * duration))


def withstand_current(size: str, duration: float, x_over_r: float) -> float:
    """Current a temporary earth of a size may carry and be used again, A; NaN beyond 30 cycles.

    size      as in the table, for example `4/0`
    duration  s, of the backup clearing; the next longer column is taken
    x_over_r  of the fault; above 1.8 no more than the high-asymmetry rating
    holds     up to 30 cycles of 60 Hz; with much asymmetry up to 15 cycles, the only column printed for it
    raises    LookupError: no such size
    source    ASTM F855, V
    """
    row = read("astm-f855-grounds").row(size=size)
    short, longer = float(row["withstand_15_cycles_ka"]), float(row["withstand_30_cycles_ka"])
    plain = np.where(duration <= 15 * CYCLE, short, np.where(duration <= 30 * CYCLE, longer, np.nan))
    high = np.where(duration <= 15 * CYCLE, float(row["x_over_r_30_15_cycles_ka"]), np.nan)
    # The reference does not say why the high-asymmetry column prints more than the plain one: the smaller is kept.
    return 1000.0 * float(np.where(x_over_r > ASYMMETRIC, np.minimum(plain, high), plain))


def sizes() -> tuple[str, ...]:
    """The sizes of the table, smallest first."""
    return tuple(row["size"] for row in read("astm-f855-grounds").rows)


def grade_of(size: str) -> int:
    """The grade of a cable of a size, 1 to 7; LookupError for a size that the table has not."""
    return int(read("astm-f855-grounds").row(size=size)["grade"])
