"""Study: one medium-voltage fuse as the file gives it; entries and curves come in, its edges and limits go out."""

from __future__ import annotations

from typing import Literal

import numpy as np

from deadfront.physics import curves, fuse_pair, let_through
from deadfront.physics.types import Array
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk
from deadfront.tables import read

FuseName = Literal["bayonet", "limiter"]

FUSE_NAMES: dict[FuseName, str] = {"bayonet": "Draw-out expulsion link", "limiter": "Current-limiting fuse"}
"""The two fuses of the pair, and what they are called."""

TOLERANCE: dict[FuseName, tuple[float, str, str]] = {
    "bayonet": (0.20, "links of K and T type", "M"),
    "limiter": (0.10, "current-limiting fuses with silver elements", "C"),
}
"""1, of current, by which a fuse may melt late; of whom it is known, and how that was verified."""

ARCING_CYCLES = 0.8
"""Cycles an expulsion link arcs at most, until a current zero ends it [C]."""


AGEING_SHARE = 0.75
"""1, of its melting current, to which load points may take a limiter again and again: the strict end of 0.75 to 0.90,
for elements that age [C]. A link of which the file says nothing may be taken to its melting current."""

STAND_IN = "tin"
"""Element with which a walk goes on while the missing entries are gathered; its results are thrown away."""

ALIKE = 0.02
"""1, by which the frequency of a curve may differ from the network's: what a network's own may wander by, and more."""


def given(walk: Walk, name: FuseName) -> bool:
    """Whether the file has this fuse."""
    return walk.inputs.entry(f"fuses.{name}") is not None


def in_parallel(walk: Walk, name: FuseName) -> int:
    """Fuses side by side in each phase; one where the file says nothing, as its form states."""
    return walk.inputs.whole("fuses.limiters_in_parallel", otherwise=1) if name == "limiter" else 1


def isolates_only(walk: Walk) -> bool:
    """Whether the draw-out link interrupts nothing."""
    return walk.inputs.maybe_word("fuses.isolation_link") == "yes"


def melting_tolerance(walk: Walk, name: FuseName) -> Array:
    """By how much larger a current than the curve's may be needed to melt a fuse in the same time, 1."""
    value, of_whom, tag = TOLERANCE[name]
    path = f"fuses.{name}.melting_tolerance"
    text = f"The {FUSE_NAMES[name].lower()} is taken to melt at up to {value:.0%} more current than its curve shows."
    assumed = Assumed(path, text, f"custom for {of_whom}", tag, "Fuse data sheet: melting band.")
    return walk.inputs.assume(path, value, value, assumed)


def arcing_time(walk: Walk) -> Array:
    """How long the draw-out link arcs after it has melted, s."""
    path = "fuses.bayonet.arcing_time"
    if walk.inputs.given(path):
        return walk.inputs.number(path)
    text = f"The draw-out link is taken to arc for {ARCING_CYCLES} of a cycle after it has melted."
    confirm = "Fuse data sheet: total clearing curve."
    walk.inputs.note(Assumed(path, text, "custom for expulsion links, half to 0.8 of a cycle", "C", confirm))
    return ARCING_CYCLES / walk.inputs.lowest("frequency")  # the longest cycle


def clears_by_curve(walk: Walk, name: FuseName) -> bool:
    """Whether the file of a fuse gives clearing times; those of a link may follow from tolerance and arcing."""
    return walk.project.curves[walk.inputs.word(f"fuses.{name}.curve")].total_clearing is not None


def clearing_time(walk: Walk, name: FuseName, curve: curves.TimeCurrentCurve, current: Array) -> Array:
    """Latest clearing time of a fuse at the temperature of its curve, s; infinite where it does not melt."""
    if clears_by_curve(walk, name):
        return curves.clearing_time(curve, current)
    return curves.clearing_time_by_tolerance(curve, current, melting_tolerance(walk, name), arcing_time(walk))


HOUR = 3600.0
"""s, of melting at the smallest current of a general-purpose fuse; IEC 60282-1 [V, restated]. A curve that begins at a
shorter time does not say what melts the fuse in the end."""


def smallest_melting(walk: Walk) -> tuple[float, str | None]:
    """Smallest current that melts the limiters of a phase, A, and in words why that is not known, where it is not.

    The first point of the curve. Where it lies below what they interrupt that settles it; where it does not, and the
    curve begins within the hour, a smaller current may melt them all the same.
    """
    data, together = walk.project.curves[walk.inputs.word("fuses.limiter.curve")], in_parallel(walk, "limiter")
    first, times = data.current[0] * together, data.minimum_melting or data.total_clearing or (0.0,)
    if times[0] >= HOUR or first < walk.inputs.lowest("fuses.limiter.minimum_interrupting") * together:
        return first, None
    text = (
        f"The curve of the current-limiting fuse begins at {times[0]:g} s: what melts it in the long run is not known."
    )
    return first, text


# --- liquid and load ---


def reference_temperature(walk: Walk, name: FuseName) -> Array:
    """Temperature for which a fuse's curve and permitted load are published, degC."""
    path = f"fuses.{name}.reference_temperature"
    text = f"The curve of the {FUSE_NAMES[name].lower()} is taken as published for 25 degC, without load before."
    assumed = Assumed(path, text, "ANSI C37.42-1981", "V", "Fuse data sheet: conditions of the curve.")
    return walk.inputs.assume(path, curves.CURVE_TEMPERATURE, curves.CURVE_TEMPERATURE, assumed)


def melting_temperature(walk: Walk, name: FuseName) -> Array:
    """Melting temperature of a fuse's element, degC: the file's, or that of the metal it names."""
    path = f"fuses.{name}.melting_temperature"
    element = walk.inputs.maybe_word(f"fuses.{name}.element")
    if walk.inputs.given(path):
        return walk.inputs.number(path)
    if element is None:
        walk.inputs.number(f"fuses.{name}.element")  # says that it is missing
    row = read("fuse-elements").row(element=element or STAND_IN)
    value = float(row["melting_degc"])
    if row["tag"] == "C":  # no metal's own, but what is customary
        text = f"The {element} element of the {FUSE_NAMES[name].lower()} is taken to melt at {value:g} degC."
        walk.inputs.note(Assumed(path, text, "custom", "C", "Correction curve of the fuse."))
    return value


def liquid_factor(walk: Walk, name: FuseName, liquid: Array) -> Array:
    """Share of the published current at which a fuse melts in the same time in liquid of this temperature, 1."""
    metal = melting_temperature(walk, name)
    return curves.liquid_factor(metal, liquid) / curves.liquid_factor(metal, reference_temperature(walk, name))


def rated_current(walk: Walk) -> Array:
    """Primary line current of the transformer at its rating, A."""
    read_number = walk.inputs.number
    return read_number("transformer.rating") / (np.sqrt(3.0) * read_number("transformer.primary_voltage"))


def load_current(walk: Walk) -> Array:
    """Largest primary line current that is permitted for long, A."""
    return walk.inputs.number("transformer.permitted_load") * rated_current(walk)


def permitted_load(walk: Walk, name: FuseName) -> Array:
    """Current a fuse carries without end at its reference temperature, A, all fuses in parallel together."""
    path, together = f"fuses.{name}.permitted_load", in_parallel(walk, name)
    if walk.inputs.given(path):
        return let_through.paralleled_current(walk.inputs.number(path), together)
    if name == "bayonet":
        multiple, whence, tag = fuse_pair.LINK_LOAD_MULTIPLE, "ANSI C37.41, C37.42: links of K and T type", "V"
    else:
        multiple, whence, tag = fuse_pair.LIMITER_LOAD_SHARE, "custom for limiters in liquid at 85 degC", "C"
    text = f"The {FUSE_NAMES[name].lower()} is taken to carry {multiple:g} times its rating without end."
    walk.inputs.note(Assumed(path, text, whence, tag, "Fuse data sheet: permitted load in liquid."))
    return let_through.paralleled_current(multiple * walk.inputs.number(f"fuses.{name}.rating"), together)


def preload(walk: Walk, name: FuseName, first: float) -> float:
    """Least share of its melting time that a fuse keeps after the permitted load, 1; NaN where the load melts it.

    first   A, of the first point of its curve, beyond which nothing is known
    """
    path, inputs = f"fuses.{name}.preload", walk.inputs
    if inputs.given(path):
        return inputs.lowest(path)
    load = inputs.highest("transformer.permitted_load") * inputs.highest("transformer.rating")
    load = load / (np.sqrt(3.0) * inputs.lowest("transformer.primary_voltage"))
    metal = melting_temperature_end(walk, name)
    hot = curves.liquid_factor(metal, inputs.highest("transformer.liquid_temperature"))
    share = float(curves.preload_factor(load, hot * first * in_parallel(walk, name)))
    text = f"After the permitted load the {FUSE_NAMES[name].lower()} keeps {share:.1%} of its melting time."
    confirm = "Fuse data sheet: effect of preload."
    inputs.note(Assumed(path, text, "1 - (I/I_long)^2, the curve's first point standing for I_long", "D", confirm))
    return share


def melting_temperature_end(walk: Walk, name: FuseName) -> float:
    """Lowest melting temperature of an element, degC: the one that hot liquid moves most."""
    path = f"fuses.{name}.melting_temperature"
    if walk.inputs.given(path):
        return walk.inputs.lowest(path)
    return float(melting_temperature(walk, name))  # of a metal: a number


HIGHEST_OVER_NOMINAL: dict[str, tuple[float, str]] = {
    "north-american": (1.0585, "ANSI C84.1, range B"),
    "iec": (1.10, "IEC 60038, highest voltage of a medium-voltage system"),
}
"""Highest voltage in service over the nominal one, 1, where the file says nothing of it, and whence [M]."""


def highest_line_voltage(walk: Walk) -> Array:
    """Highest voltage between lines in service, V: the file's, that at the highest tap voltage, or the practice's."""
    if walk.inputs.given("supply.highest_voltage"):
        return walk.inputs.number("supply.highest_voltage")
    if not walk.inputs.given("transformer.highest_tap"):
        factor, whence = HIGHEST_OVER_NOMINAL[walk.method]
        text = f"The highest MV voltage in service is taken as {factor:g} times the nominal voltage."
        confirm = "Highest voltage of the system, from the utility."
        walk.inputs.note(Assumed("supply.highest_voltage", text, whence, "M", confirm))
        return factor * walk.inputs.number("supply.voltage")
    share = np.maximum(walk.inputs.number("transformer.highest_tap"), 1.0)
    text = "The highest MV voltage in service is taken as the nominal voltage times the highest tap voltage."
    confirm = "Highest voltage of the system, from the utility."
    walk.inputs.note(Assumed("supply.highest_voltage", text, "reading of the file", "C", confirm))
    return walk.inputs.number("supply.voltage") * share


def recovery_voltage(walk: Walk) -> Array:
    """Voltage across a fuse that has cleared, V: line to line, unless both stars and the supply are earthed."""
    connection = walk.inputs.word("transformer.connection").rstrip("0123456789")
    earthed = walk.inputs.word("supply.earthing") == "solid"
    return fuse_pair.recovery_voltage(highest_line_voltage(walk), connection, source_earthed=earthed)


def ageing_share(walk: Walk, name: FuseName) -> Array:
    """Share of its melting current to which inrush and cold load may take a fuse, 1."""
    path = f"fuses.{name}.ageing_share"
    if name == "bayonet" and not walk.inputs.given(path):
        return 1.0
    text = f"Inrush and cold load may take the limiter to {AGEING_SHARE:.0%} of its melting current."
    assumed = Assumed(path, text, "custom: elements age, 75 to 90 %", "C", "Fuse data sheet.")
    return walk.inputs.assume(path, AGEING_SHARE, AGEING_SHARE, assumed)


def too_hot(walk: Walk, name: FuseName) -> str | None:
    """In words, that the liquid would melt the element of a fuse without any current; None where it would not."""
    hottest, metal = walk.inputs.highest("transformer.liquid_temperature"), melting_temperature_end(walk, name)
    if hottest < metal:
        return None
    words = f"the element of the {FUSE_NAMES[name].lower()} melts at {metal:g} degC"
    return f"The liquid reaches {hottest:g} degC, and {words}: it has no current left to carry."


def unfit_curve(walk: Walk, name: FuseName) -> str | None:
    """In words, why a fuse's curve does not say how it melts in this network; None where it does."""
    path, inputs = f"fuses.{name}.reference_frequency", walk.inputs
    file = inputs.word(f"fuses.{name}.curve")
    if walk.project.curves[file].minimum_melting is None:
        return f"The curve of the {FUSE_NAMES[name].lower()}, {file}, has no melting times (column `min_melt_s`)."
    if not inputs.given(path):
        text = f"The curve of the {FUSE_NAMES[name].lower()} is taken as published for the network's frequency."
        inputs.note(Assumed(path, text, "reading of the file", "C", "Fuse data sheet: frequency of the curve."))
        return None
    published, network = inputs.lowest(path), inputs.lowest("frequency")
    if abs(published - network) <= ALIKE * network:
        return None
    return (
        f"The curve of the {FUSE_NAMES[name].lower()} is published for {published:g} Hz, and the network has "
        f"{network:g} Hz: its clearing and what it lets through are not known there."
    )
