"""Physics: what a current-limiting fuse lets through, peak and energy. Arrays in, arrays out."""

from __future__ import annotations

import numpy as np

from deadfront.physics.north_american import peak_factor_ieee551
from deadfront.physics.types import Array

ROOT2 = float(np.sqrt(2.0))

EFFECTIVE_DIVISOR = 2.3
"""1, peak let through over the rms current that has this peak at a low power factor; up-over-down method [C]."""


def cut_off_current(prospective: Array, melting_i2t: Array, frequency: Array, x_over_r: Array) -> Array:
    """Highest peak before a current-limiting fuse has melted: (3 s W)^(1/3).

    No current rises faster than s = √2 2πf I √(1 + (R/X)²), the crest voltage over the inductance; held until W is
    spent, that gives the highest peak W allows.

    prospective  I    A rms, symmetrical                   (cases,)
    melting_i2t  W    A²s, largest melting energy          (cases,)
    frequency    f    Hz                                   (cases,)
    x_over_r     X/R  1, above zero; infinite gives the customary form (3 √2 2πf I W)^(1/3)       (cases,)
    returns      A peak, above every possible one; far above below the threshold, see `let_through_peak`   (cases,)
    holds        arc voltage above source voltage at melting; where that is low add 5 to 10 % [C]
    raises       nothing
    source       [D]: bound proved, met within 5 % by the worst closing angle from twice the threshold up. The customary
                 form without R/X lies up to 0.7 % too low at X/R 5, for large I
    """
    rise = ROOT2 * 2.0 * np.pi * frequency * prospective * np.sqrt(1.0 + 1.0 / np.square(x_over_r))
    return np.cbrt(3.0 * rise * melting_i2t)


def prospective_peak(prospective: Array, x_over_r: Array) -> Array:
    """Peak of a fully offset current that nothing limits.

    prospective  A rms, symmetrical                        (cases,)
    x_over_r     1, above zero                             (cases,)
    returns      A peak                                    (cases,)
    holds        as `north_american.peak_factor_ieee551`; the form at half a cycle lies 1.1 % lower at X/R 4.9
    raises       nothing
    source       IEEE 551-2006 [M; checked against the exact solution]
    """
    return peak_factor_ieee551(x_over_r) * prospective


def let_through_peak(prospective: Array, melting_i2t: Array, frequency: Array, x_over_r: Array) -> Array:
    """Highest peak let through at any closing angle: the smaller of cut-off and unlimited peak.

    prospective  A rms, symmetrical                        (cases,)
    melting_i2t  A²s, largest melting energy               (cases,)
    frequency    Hz                                        (cases,)
    x_over_r     1, above zero                             (cases,)
    returns      A peak                                    (cases,)
    holds        as `cut_off_current`
    raises       nothing
    source       [D]
    """
    cut = cut_off_current(prospective, melting_i2t, frequency, x_over_r)
    return np.minimum(cut, prospective_peak(prospective, x_over_r))


def threshold_at_crest(melting_i2t: Array, frequency: Array) -> Array:
    """Prospective current from which the fuse cuts the first peak of a fault at voltage crest: √(4 f W).

    melting_i2t  W  A²s                                    (cases,)
    frequency    f  Hz                                     (cases,)
    returns      A rms: 15.5 √W at 60 Hz                   (cases,)
    holds        symmetrical current
    raises       nothing
    source       [D]
    """
    return np.sqrt(4.0 * frequency * melting_i2t)


def threshold_fully_offset(melting_i2t: Array, frequency: Array) -> Array:
    """Prospective current from which the fuse cuts the first peak of a fully offset fault: √(2 f W / 3).

    melting_i2t  W  A²s                                    (cases,)
    frequency    f  Hz                                     (cases,)
    returns      A rms: 6.3 √W at 60 Hz                    (cases,)
    holds        no resistance; below it no fault at all is limited
    raises       nothing
    source       [D]
    """
    return np.sqrt(2.0 * frequency * melting_i2t / 3.0)


def total_i2t(melting_i2t: Array, arcing_i2t: Array) -> Array:
    """Energy let through: melting and arcing I²t, A²s.

    melting_i2t  A²s                                       (cases,)
    arcing_i2t   A²s, at the voltage in question           (cases,)
    returns      A²s; some 2 to 4 times melting at rated voltage, less at lower voltage [C]       (cases,)
    holds        the arcing part must come from the catalogue; total at rated voltage is an upper bound below it
    raises       nothing
    source       definition
    """
    return melting_i2t + arcing_i2t


def unlimited_i2t(prospective: Array, x_over_r: Array, frequency: Array, time: Array) -> Array:
    """I²t of a fully offset current that nothing limits: integral of (√2 I (e^(-t/τ) - cos ωt))², τ = (X/R) / ω.

    prospective  I    A rms, symmetrical                   (cases,)
    x_over_r     X/R  1, above zero                        (cases,)
    frequency    f    Hz                                   (cases,)
    time         t    s                                    (cases,)
    returns      A²s: up to three times I² t in the first half cycle       (cases,)
    holds        direct component of √2 I, an upper bound of what closing at any angle gives at low resistance
    raises       nothing
    source       integrated [D]. Beware: I² t with the symmetrical current is far too low while the offset lasts
    """
    omega = 2.0 * np.pi * frequency
    decay = omega / x_over_r
    fallen = np.exp(-decay * time)
    direct = (1.0 - np.square(fallen)) / (2.0 * decay)
    alternating = 0.5 * time + np.sin(2.0 * omega * time) / (4.0 * omega)
    sine, cosine = np.sin(omega * time), np.cos(omega * time)
    mixed = (decay + fallen * (omega * sine - decay * cosine)) / (np.square(decay) + np.square(omega))
    return 2.0 * np.square(prospective) * (direct + alternating - 2.0 * mixed)


def let_through_i2t(prospective: Array, clearing: Array, total: Array, threshold: Array) -> Array:
    """Largest I²t that passes a current-limiting fuse at one prospective current.

    Where every closing angle is limited the catalogue's total; below, the larger of that and I² t of the clearing
    curve. An offset adds nothing there: the fuse melts earlier, at the same heat.

    prospective  I  A rms, symmetrical                     (cases,)
    clearing     t  s, of the total clearing curve at that current      (cases,)
    total        A²s, largest total clearing I²t of the catalogue       (cases,)
    threshold    A rms, `threshold_at_crest`               (cases,)
    returns      A²s                                       (cases,)
    holds        as the catalogue: its voltage, its frequency
    raises       nothing
    source       [D]. Beware: a fuse that melts late lets through more than its catalogue's total
    """
    below = np.minimum(prospective, threshold)  # changes no number: a range across the threshold stays narrow
    late = np.maximum(total, np.square(below) * clearing)
    return np.where(np.greater_equal(prospective, threshold), total, late)


def arc_energy(arc_voltage: Array, i2t: Array, time: Array) -> Array:
    """Energy of an arc that burns until a fuse has cleared: U √(W t).

    arc_voltage  U  V, taken as constant                   (cases,)
    i2t          W  A²s, let through                       (cases,)
    time         t  s, until cleared                       (cases,)
    returns      J, an upper bound: the integral of |i| is at most √(W t)                 (cases,)
    holds        one arc
    raises       nothing
    source       Cauchy and Schwarz [D]
    """
    return arc_voltage * np.sqrt(i2t * time)


def effective_current(peak: Array) -> Array:
    """Apparent rms current behind a fuse: peak let through / 2.3.

    peak       A, let through                              (cases,)
    returns    A rms                                       (cases,)
    holds      low power factor. Beware: for duties only; √(I²t / t) is another quantity and gives no peak
    raises     nothing
    source     up-over-down method [C]
    """
    return peak / EFFECTIVE_DIVISOR


def paralleled_energy(melting_i2t: Array, fuses: int) -> Array:
    """Melting energy of equal fuses in parallel, by the square of their number.

    melting_i2t  A²s, of one; likewise arcing and total I²t              (cases,)
    fuses        equal in type and rating; structural
    returns      A²s; the peak let through rises by 4^(1/3) for two      (cases,)
    holds        current shared equally
    raises       ValueError: fewer than one
    source       [D]
    """
    return melting_i2t * _several(fuses) ** 2


def paralleled_current(current: Array, fuses: int) -> Array:
    """Rated, melting or minimum interrupting current of equal fuses in parallel: all rise with their number.

    current    A, of one                                   (cases,)
    fuses      equal in type and rating; structural
    returns    A                                           (cases,)
    holds      current shared equally. Beware: minimum interrupting current doubles too
    raises     ValueError: fewer than one
    source     [D]
    """
    return current * _several(fuses)


def _several(fuses: int) -> int:
    if fuses < 1:
        raise ValueError(f"fuses: expected at least one, got {fuses}")
    return fuses
