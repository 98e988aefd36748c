"""Claims: fuses of a catalogue as numbers. Rows come in; links and limiters to be examined go out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np

from deadfront.physics import fuse_pair as physical
from deadfront.physics.curves import CURVE_TEMPERATURE, liquid_factor, preload_factor
from deadfront.physics.fuse_candidates import Duty, Limiter, Link
from deadfront.project.catalogue import CatalogueFuse
from deadfront.study.devices import constant_curve
from deadfront.study.fuse_entries import AGEING_SHARE, ALIKE, ARCING_CYCLES, TOLERANCE
from deadfront.tables import read

End = Literal["low", "centre", "high"]

TESTED_RATIO = 15.0
"""X/R up to which a rating is taken as tested, as SC-03 assumes it [V]."""


def link_of(fuse: CatalogueFuse, duty: Duty, frequency: float) -> Link:
    """A link at the ends of its entries that are worst for a pair; what its claims assume stands in for what it lacks.

    frequency   Hz, lowest of the network
    """
    arcing = None
    if fuse.curve.total_clearing is None:
        arcing = _number(fuse, "arcing_time", "high", lambda: ARCING_CYCLES / frequency)
    return Link(
        curve=constant_curve(fuse.curve),
        tolerance=_number(fuse, "melting_tolerance", "high", lambda: TOLERANCE["bayonet"][0]),
        arcing_time=arcing,
        carried=_carried(fuse, physical.LINK_LOAD_MULTIPLE),
        melting_temperature=_melting_temperature(fuse),
        reference=_number(fuse, "reference_temperature", "centre", lambda: CURVE_TEMPERATURE),
        preload=_preload(fuse, duty, 1),
        ageing_share=_number(fuse, "ageing_share", "low", lambda: 1.0),
        interrupting=_number(fuse, "interrupting", "low"),
        voltage=_number(fuse, "voltage", "low"),
        holds=published_for(fuse, frequency),
    )


def limiter_of(fuse: CatalogueFuse, duty: Duty, frequency: float) -> Limiter:
    """A limiter at the ends of its entries that are worst for a pair, likewise."""
    return Limiter(
        curve=constant_curve(fuse.curve),
        carried=_carried(fuse, physical.LIMITER_LOAD_SHARE),
        melting_temperature=_melting_temperature(fuse),
        reference=_number(fuse, "reference_temperature", "centre", lambda: CURVE_TEMPERATURE),
        preload=_preload(fuse, duty, duty.together),
        ageing_share=_number(fuse, "ageing_share", "low", lambda: AGEING_SHARE),
        least_interrupting=_number(fuse, "minimum_interrupting", "high"),
        most_interrupting=_number(fuse, "interrupting", "low"),
        tested_ratio=_number(fuse, "test_x_over_r", "low", lambda: TESTED_RATIO),
        melting_energy=_number(fuse, "melting_energy", "low"),
        voltage=_number(fuse, "voltage", "low"),
        holds=published_for(fuse, frequency),
    )


def published_for(fuse: CatalogueFuse, frequency: float) -> bool:
    """Whether a curve is published for a network's frequency; one that says nothing is taken to be."""
    return abs(_number(fuse, "reference_frequency", "low", lambda: frequency) - frequency) <= ALIKE * frequency


def _number(fuse: CatalogueFuse, entry: str, end: End, otherwise: Callable[[], float] = lambda: np.nan) -> float:
    """One end of an entry; without it what is assumed instead, or NaN."""
    quantity = fuse.quantities.get(entry)
    return float(otherwise() if quantity is None else getattr(quantity, end))


def _carried(fuse: CatalogueFuse, multiple: float) -> float:
    return _number(fuse, "permitted_load", "low", lambda: multiple * _number(fuse, "rating", "low"))


def _melting_temperature(fuse: CatalogueFuse) -> float:
    """The entry, or that of the metal the catalogue names."""
    element = fuse.entries.get("element")
    metal = float(read("fuse-elements").row(element=element)["melting_degc"]) if element else np.nan
    return _number(fuse, "melting_temperature", "low", lambda: metal)


def _preload(fuse: CatalogueFuse, duty: Duty, together: int) -> float:
    """The entry, or the share that follows from the load and the first point of the curve."""
    hot = liquid_factor(_melting_temperature(fuse), duty.liquid[1])
    first = hot * fuse.curve.current[0] * together
    return _number(fuse, "preload", "low", lambda: float(preload_factor(duty.load, first)))
