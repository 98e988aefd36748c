"""Physics: the currents that a switch and its fuses hand to each other. Curves in, currents out."""

from __future__ import annotations

from deadfront.physics.curves import TimeCurrentCurve, clearing_current, melting_current
from deadfront.physics.types import Array

TRANSFER_SHARE = 0.9
"""1, share of the fuse-initiated opening time at which the melting curve shows the transfer current;
IEC 62271-105, earlier IEC 60420 [V, restated]."""

EXTERNAL_RELAY_TIME = 0.02
"""s, of an external relay, added to the release-initiated opening time; IEC 62271-105 [M]."""

TWO_PHASE_SHARE = 0.87
"""1, current in the two phases left after the first fuse has cleared, of the three-phase current: √3/2 as the standard
rounds it; IEC 62271-105 [V, restated]."""


def transfer_current(curve: TimeCurrentCurve, opening: Array) -> Array:
    """Largest three-phase current at which the switch, opened by a striker, still breaks the last two phases.

    curve      A and s, of the fuse; structural
    opening    T0  s, fuse-initiated opening time of the switch    (cases,)
    returns    A rms, of the *minimum* pre-arcing curve at 0.9 T0; NaN where that curve says nothing    (cases,)
    holds      by convention: for curves steeper or flatter than I⁴ the physics gives other shares, `transfer_share`
    raises     nothing
    source     IEC 62271-105, earlier IEC 60420 [V, restated]
    """
    return melting_current(curve, TRANSFER_SHARE * opening, "largest")


def take_over_current(curve: TimeCurrentCurve, opening: Array, relay: Array) -> Array:
    """Current at which the release-tripped switch hands over to the fuses.

    curve      A and s, of the fuse; structural
    opening    s, shortest release-initiated opening time          (cases,)
    relay      s, of an external relay, 0.02 [M]; zero without one             (cases,)
    returns    A rms, of the *longest* operating curve; NaN where the fuse never clears as fast    (cases,)
    holds      largest fuse of the combination
    raises     nothing
    source     IEC 62271-105 [M]
    """
    return clearing_current(curve, opening + relay)


def transfer_share(steepness: float, tolerance: float) -> float:
    """Melting time of the first fuse over the opening time at which the second one melts just as the switch opens.

    (T2 - T1) / T1 = ((1 + 2x)^a - 1) / 0.87^a, set to T0 / T1

    steepness  a  1, of the melting curve I^a t = constant; structural
    tolerance  x  1, by which fuses of one type scatter both ways, in current; structural
    returns    1: 0.91 for a = 4 and x = 0.065, the 0.9 of the rule (0.89 with √3/2 unrounded); 1.49 and 0.59 for
               a = 3 and 5
    holds      slow second fuse, 0.87 of the current
    raises     ValueError: steepness or tolerance not above zero
    source     derivation [D] of the rule in IEC 62271-105
    """
    if not (steepness > 0.0 and tolerance > 0.0):
        raise ValueError(f"steepness, tolerance: expected above zero, got {steepness:g} and {tolerance:g}")
    return float(TWO_PHASE_SHARE**steepness / ((1.0 + 2.0 * tolerance) ** steepness - 1.0))
