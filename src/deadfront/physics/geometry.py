"""Physics: reactance of a three-phase circuit from the conductors' size and spacing. Arrays in, arrays out."""

from __future__ import annotations

import numpy as np

from deadfront.physics.types import Array

MAGNETIC_CONSTANT = 4e-7 * np.pi
"""Permeability of free space, H/m, as rounded in every line handbook (exact before 2019)."""

GEOMETRIC_MEAN_SHARE: dict[int, float] = {1: 0.7788, 7: 0.7256, 19: 0.7577, 37: 0.7678, 61: 0.7722}
"""Geometric mean radius over outer radius, by number of strands; 1 is solid [M; first is exp(-1/4), calc]."""


def geometric_mean_radius(strands: int, radius: Array) -> Array:
    """Geometric mean radius of a round conductor.

    GMR = k r

    strands  1 (solid), 7, 19, 37 or 61
    radius   r    m, outer                                  (cases,)
    returns  GMR  m                                         (cases,)
    holds    non-magnetic, concentric strands not compacted
    raises   ValueError: no share known for this number of strands
    source   line handbooks [M]
    """
    if strands not in GEOMETRIC_MEAN_SHARE:
        raise ValueError(f"strands: expected one of {', '.join(map(str, GEOMETRIC_MEAN_SHARE))}, got {strands}")
    return GEOMETRIC_MEAN_SHARE[strands] * radius


def geometric_mean_distance(spacing_12: Array, spacing_23: Array, spacing_31: Array) -> Array:
    """Geometric mean distance of three conductors.

    GMD = (d12 d23 d31)^(1/3)

    spacing_12  d12  m between centres                      (cases,)
    spacing_23  d23  m between centres                      (cases,)
    spacing_31  d31  m between centres                      (cases,)
    returns     GMD  m                                      (cases,)
    holds       transposed, or short enough not to matter
    raises      nothing
    source      line handbooks [M]
    """
    return np.cbrt(spacing_12 * spacing_23 * spacing_31)


def reactance_per_length(frequency: Array, mean_distance: Array, mean_radius: Array) -> Array:
    """Positive-sequence reactance of three single conductors.

    X' = 2π f · μ0/(2π) · ln(GMD/GMR)

    frequency      f    Hz                                  (cases,)
    mean_distance  GMD  m                                   (cases,)
    mean_radius    GMR  m                                   (cases,)
    returns        X'   ohm/m                               (cases,)
    holds          no steel around a single phase; screens without circulating current
    raises         nothing
    source         line handbooks [M; within 5 % of published 12/20 kV cables with assumed diameters]
    """
    return frequency * MAGNETIC_CONSTANT * np.log(mean_distance / mean_radius)
