"""Study: devices as they stand on log-log paper. A walk and a scale come in, one characteristic per device goes out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from deadfront.physics import damage_curve, reflection
from deadfront.physics.curves import TimeCurrentCurve, clearing_time_by_tolerance
from deadfront.physics.impedance import magnitude
from deadfront.physics.types import Array
from deadfront.station.station import PRIMARY, Device
from deadfront.study import devices, earliest, fuse_entries, network, utility
from deadfront.study.clearing import first
from deadfront.study.drawing import SHORTEST, Characteristic, Edge, Role, Values, cut, traced
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName, arcing_time, clears_by_curve, melting_tolerance
from deadfront.study.inputs import MissingEntryError
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

LEAST_MULTIPLE = 2.0
"""Multiple of rated current below which a current is a load, not a fault; as `damage_curve.thermal_damage_time`."""

RESTRAINED = np.ones(1)
"""A zone-interlocked trip is drawn with its set delay: as it waits while the device below signals."""

_PER_PIECE = 12
"""Points put between two of a curve file where an arcing time bends the line."""


@dataclass(frozen=True, slots=True)
class View:
    """How a device's own amperes stand on the sheet, and up to where.

    factor   amperes of the sheet for one of the device's own
    largest  A of the sheet, beyond which the device sees nothing
    words    how one became the other
    """

    factor: float
    largest: float
    words: str


def text_of(walk: Walk, path: str) -> str:
    """A number as the file writes it; empty where it gives none."""
    quantity = walk.project.quantities.get(path)
    return "" if quantity is None else quantity.text


def scalar(value: Array) -> float:
    """A result of a walk at one point that is the same in every operating case."""
    return float(np.asarray(value, dtype=np.float64).ravel()[0])


# --- upstream ---


def upstream(walk: Walk, device: Device, element: Literal["phase", "earth"], view: View) -> Characteristic:
    """Utility protection of one supply: from the earliest trip of its relay to the latest opening of its breaker.

    raises    MissingEntryError: the file does not say how it is set
    """
    path = f"{device.path}.protection"
    fuse = walk.inputs.maybe_word(f"{path}.fuse") if element == "phase" else None
    if fuse is not None:
        edges = _fuse_edges(devices.curve(walk, fuse), view)
        return Characteristic("Upstream fuse", (fuse,), "upstream", edges, True, view.words)
    if walk.inputs.entry(f"{path}.{element}") is None:
        raise MissingEntryError(f"{path}.{element}")
    name = f"Upstream {element} relay" + ("" if device.key == "supply A" else ", other feed")

    def time(late: bool) -> Callable[[Values], Values]:
        ask = utility.latest if late else utility.earliest
        return _asked(lambda carried: _of(ask(walk, device.path, carried), element), view, element == "earth")

    low = _below(scalar(walk.inputs.number(f"{path}.{element}.pickup")) * view.factor / 2.0, view)
    band = tuple(traced(words, time(late), low, view.largest) for words, late in _BAND)
    role: Role = "upstream" if element == "phase" else "upstream earth"
    return Characteristic(name, _relay_words(walk, path, element), role, band, True, view.words)


_BAND = (("earliest", False), ("latest", True))


def _below(low: float, view: View) -> float:
    """Where a line starts. Raises ValueError where it would start beyond what the device sees."""
    if low >= view.largest:
        raise ValueError("it does not act at any current of this sheet")
    return low


def fast_shots(walk: Walk, device: Device, view: View) -> Characteristic:
    """The fast shots of a recloser. Raises MissingEntryError where the file does not say how they are set."""
    own = f"{device.path}.protection"
    path = f"{own}.reclosing.fast"
    low = _below(scalar(walk.inputs.number(f"{path}.pickup")) * view.factor / 2.0, view)

    def time(late: bool) -> Callable[[Values], Values]:
        ask = utility.latest_fast_shots if late else utility.earliest_fast_shots
        return _asked(lambda carried: ask(walk, own, carried.phase), view, False)

    band = tuple(traced(words, time(late), low, view.largest) for words, late in _BAND)
    shots = walk.inputs.entry(f"{own}.reclosing.fast_shots")
    name = "Upstream fast shots" + (f", {shots}" if shots else "")
    return Characteristic(name, _relay_words(walk, own, "reclosing.fast"), "upstream", band, True, view.words)


def _of(operations: Iterable[devices.Operation], element: str) -> list[devices.Operation]:
    """Those of the phase elements, or those of the earth elements."""
    return [one for one in operations if ("earth" in one.element) == (element == "earth")]


def _asked(
    ask: Callable[[Carried], Sequence[devices.Operation]], view: View, residual: bool
) -> Callable[[Values], Values]:
    """The first of a device's operations at currents of the sheet, in the phases or as residual current."""

    def time(current: Values) -> Values:
        own = (current / view.factor)[:, np.newaxis]
        nothing = np.zeros_like(own)
        carried = Carried(nothing, own, 1.0) if residual else Carried(own, nothing, 1.0)
        return np.broadcast_to(np.asarray(first(ask(carried)), dtype=np.float64), own.shape)[:, 0].copy()

    return time


def _relay_words(walk: Walk, path: str, element: str) -> tuple[str, ...]:
    """Settings of a relay as the file writes them."""
    own = f"{path}.{element}"
    delay = text_of(walk, f"{own}.definite_time") or f"dial {text_of(walk, f'{own}.time_dial')}"
    curve = re.sub(r"\b(iec|ieee|us)\b", lambda word: word[0].upper(), walk.inputs.word(f"{own}.curve"))
    words = [f"{curve}, {text_of(walk, f'{own}.pickup')}, {delay}"]
    if walk.inputs.given(f"{own}.instantaneous"):
        words.append(f"from {text_of(walk, f'{own}.instantaneous')} in {text_of(walk, f'{own}.instantaneous_time')}")
    return (*words, f"breaker {text_of(walk, f'{path}.breaker_opening')}")


# --- fuses ---


def fuse(walk: Walk, name: FuseName, view: View) -> Characteristic:
    """One medium-voltage fuse: minimum melting to total clearing, as far as it interrupts.

    raises    MissingEntryError: the file gives no curve or no interrupting rating
    """
    path, together = f"fuses.{name}", fuse_entries.in_parallel(walk, name)
    if name == "bayonet" and fuse_entries.isolates_only(walk):
        raise ValueError("it only isolates and interrupts nothing")
    curve = devices.curve(walk, walk.inputs.word(f"{path}.curve"))
    late = None if clears_by_curve(walk, name) else _late_by_tolerance(walk, name, curve)
    highest = scalar(walk.inputs.number(f"{path}.interrupting")) * view.factor
    view = replace(view, factor=view.factor * together)
    edges = list(_fuse_edges(curve, view, late))
    edges[1] = cut(edges[1], 0.0, min(highest, view.largest))
    words = [text_of(walk, f"{path}.rating") + (f", {together} in parallel" if together > 1 else "")]
    if name == "limiter":
        lowest = scalar(walk.inputs.number(f"{path}.minimum_interrupting")) * view.factor
        below = cut(edges[1], 0.0, lowest)
        edges[1] = cut(edges[1], lowest, view.largest)
        edges.append(Edge("below its smallest interrupting current", below.current, below.time, "fine"))
        words.append(f"interrupts {text_of(walk, f'{path}.minimum_interrupting')} to")
        words.append(text_of(walk, f"{path}.interrupting"))
    else:
        words.append(f"interrupts up to {text_of(walk, f'{path}.interrupting')}")
    title = FUSE_NAMES[name] + (f" {words[0]}" if words[0] else "")
    about = (" ".join(words[1:]), "minimum melting to total clearing")
    return Characteristic(title, about, "link" if name == "bayonet" else "limiter", tuple(edges), True, view.words)


def hot_melting(walk: Walk, name: FuseName, view: View) -> Edge:
    """Minimum melting of a fuse in the hottest liquid after its permitted load: where inrush is worst.

    raises    MissingEntryError: the file does not give the liquid, the element or the load
              ValueError: the load alone would melt it
    """
    curve = devices.curve(walk, walk.inputs.word(f"fuses.{name}.curve"))
    liquid = walk.inputs.highest("transformer.liquid_temperature")
    share = fuse_entries.preload(walk, name, float(curve.current[0]))
    if np.isnan(share):
        raise ValueError("the permitted load alone melts it in hot liquid")
    factor = scalar(fuse_entries.liquid_factor(walk, name, liquid)) * fuse_entries.in_parallel(walk, name)
    melting = _fuse_edges(
        TimeCurrentCurve(curve.current * factor, curve.minimum_melting * share, curve.total_clearing), view
    )
    return replace(melting[0], meaning=f"melting in liquid at {liquid:g} °C after load", weight="fine")


def _fuse_edges(curve: TimeCurrentCurve, view: View, late: Edge | None = None) -> tuple[Edge, Edge]:
    """Both edges of a curve file on the sheet; melting goes on with constant I²t below its last point."""
    melting = Edge("minimum melting", curve.current, curve.minimum_melting)
    if melting.time[-1] > SHORTEST:
        last = melting.current[-1] * np.sqrt(melting.time[-1] / SHORTEST)
        melting = Edge(melting.meaning, np.append(melting.current, last), np.append(melting.time, SHORTEST))
    clearing = late or Edge("total clearing", curve.current, curve.total_clearing)
    return _seen(melting, view), _seen(clearing, view)


def _seen(edge: Edge, view: View) -> Edge:
    """An edge in amperes of the sheet, up to the largest current."""
    return cut(Edge(edge.meaning, edge.current * view.factor, edge.time, edge.weight), 0.0, view.largest)


def _late_by_tolerance(walk: Walk, name: FuseName, curve: TimeCurrentCurve) -> Edge:
    """Clearing edge of a link of which only melting is published."""
    tolerance, arcing = scalar(melting_tolerance(walk, name)), scalar(arcing_time(walk))
    knots = np.log(curve.current * (1.0 + tolerance))
    current = np.exp(np.interp(np.arange((len(knots) - 1) * _PER_PIECE + 1) / _PER_PIECE, np.arange(len(knots)), knots))
    current[0] = np.nextafter(curve.current[0] * (1.0 + tolerance), np.inf)  # left of it the curve says nothing
    time = clearing_time_by_tolerance(curve, current, tolerance, arcing)
    return Edge("melting with tolerance and arcing", current, np.asarray(time, dtype=np.float64))


# --- low voltage ---


def breaker(walk: Walk, device: Device, element: Literal["phase", "earth"], view: View) -> Characteristic:
    """A low-voltage breaker or fuse: from the earliest decision of its trip to the latest opening.

    raises    MissingEntryError: the file does not say how it is set, or it has no earth element
    """
    path = device.path
    if element == "earth" and walk.inputs.entry(f"{path}.trip.earth") is None:
        raise MissingEntryError(f"{path}.trip.earth")

    def time(late: bool) -> Callable[[Values], Values]:
        def ask(carried: Carried) -> list[devices.Operation]:
            if late:
                return _of(devices.low_voltage(walk, path, device.name, carried), element)
            waiting = earliest.low_voltage(walk, path, carried, RESTRAINED)
            return [devices.Operation(device.name, waiting.element, carried.phase, waiting.time, ())]

        return _asked(ask, view, element == "earth")

    low = _below(_start(walk, path, element) * view.factor, view)
    unknown = earliest.without_earliest(walk, path) is not None
    edges = tuple(traced(words, time(late), low, view.largest) for words, late in _BAND[1 if unknown else 0 :])
    role: Role = "main" if device.key == "main" else "feeder"
    title = f"{device.name} {text_of(walk, f'{path}.rating')}".rstrip()
    about = _trip_words(walk, path, element) + (("latest; how early it may act is not known",) if unknown else ())
    return Characteristic(title, about, role, edges, not unknown, view.words)


def _start(walk: Walk, path: str, element: str) -> float:
    """A current at which the device surely does nothing yet, A."""
    file = walk.inputs.maybe_word(f"{path}.curve")
    if file is not None:
        return float(devices.curve(walk, file).current[0]) * 0.99
    if (
        walk.inputs.maybe_word(f"{path}.fuse_class") == "gG"
        or walk.inputs.entry(f"{path}.thermal_magnetic") is not None
    ):
        return walk.inputs.lowest(f"{path}.rating")
    paths = [f"{path}.trip.earth.pickup"]
    if element == "phase":
        paths = [f"{path}.trip.{name}" for name in ("long_time.pickup", "short_time.pickup", "instantaneous")]
    return min(scalar(walk.inputs.number(each)) for each in paths if walk.inputs.given(each)) / 2.0


def _trip_words(walk: Walk, path: str, element: str) -> tuple[str, ...]:
    """Settings of a trip as the file writes them, or its curve file."""
    file = walk.inputs.maybe_word(f"{path}.curve")
    if file is not None:
        return (file,)
    if walk.inputs.maybe_word(f"{path}.fuse_class") == "gG":
        return ("class gG, between the gates of its standard",)
    if walk.inputs.entry(f"{path}.thermal_magnetic") is not None:
        own = f"{path}.thermal_magnetic"
        return (f"thermal-magnetic, {walk.inputs.word(f'{own}.standard')}, {text_of(walk, f'{own}.magnetic')}",)
    words = []
    for name in ("long_time", "short_time") if element == "phase" else ("earth",):
        own = f"{path}.trip.{name}"
        if walk.inputs.entry(own) is not None:
            ramp = text_of(walk, f"{own}.ramp_to")
            flat = f"{name.replace('_', ' ')} {text_of(walk, f'{own}.pickup')}, {text_of(walk, f'{own}.delay')}"
            words.append(f"{flat}, ramp to {ramp}" if ramp else flat)
    if element == "phase" and walk.inputs.given(f"{path}.trip.instantaneous"):
        words.append(f"instantaneous {text_of(walk, f'{path}.trip.instantaneous')}")
    opening = text_of(walk, f"{path}.opening")
    return (*words, f"opening {opening}") if opening else tuple(words)


# --- transformer ---


def through_fault_limit(walk: Walk, kinds: tuple[str, ...], view: View) -> Characteristic:
    """How long the transformer stands a through-fault, as its primary lines see it, shifted by its connection.

    `view.factor` is the sheet's amperes for one in the primary line that carries most; a kind of fault whose winding
    carries more than its line shows is a line of its own.
    """
    connection = walk.inputs.word("transformer.connection")
    largest = 1.0 / scalar(walk.inputs.number("transformer.impedance"))
    multiple, time, words = _withstand(walk, largest)
    rated = rated_primary_current(walk) * view.factor
    edges = []
    for kind in kinds:
        shift = reflection.line_over_winding(kind, connection)
        meaning = f"limit for a {kind} fault" if len(kinds) > 1 else ""
        edges.append(Edge(meaning, multiple * rated * shift, time, "limit"))
    plate = ", ".join(filter(None, (text_of(walk, f"transformer.{e}") for e in ("rating", "impedance"))))
    return Characteristic(f"Transformer {connection}", (plate, *words), "transformer", tuple(edges), False, view.words)


def rated_primary_current(walk: Walk) -> float:
    """Rated current in the primary lines, A."""
    rating, voltage = (scalar(walk.inputs.number(f"transformer.{e}")) for e in ("rating", "primary_voltage"))
    return float(rating / (np.sqrt(3.0) * voltage))


def _withstand(walk: Walk, largest: float) -> tuple[Values, Values, tuple[str, ...]]:
    """Multiples of rated current, times, and words of the limit, up to the largest through-fault."""
    if walk.method == "iec":
        path = "transformer.through_fault_duration"
        given = walk.inputs.given(path)
        duration = scalar(walk.inputs.number(path)) if given else damage_curve.MECHANICAL_TIME
        words = f"IEC 60076-5: bolted fault for {duration:g} s" + ("" if given else ", the default")
        multiple = np.geomspace(LEAST_MULTIPLE, largest, 30)
        return multiple, duration * np.square(largest / multiple), (words,)
    category = damage_curve.transformer_category(scalar(walk.inputs.number("transformer.rating")), 3)
    if category.name not in damage_curve.OWN_IMPEDANCE_ALONE:
        largest = 1.0 / (1.0 / largest + _source_impedance(walk))
    frequent = False
    if category.knee_frequent != category.knee_infrequent:
        frequent = walk.inputs.word("transformer.faults_expected") == "frequent"
    knee = category.knee_frequent if frequent else category.knee_infrequent
    steps = () if knee is None else (knee * largest * (1.0 - 1e-9), knee * largest)
    multiple = np.sort(np.append(np.geomspace(LEAST_MULTIPLE, largest, 120), steps))
    time = damage_curve.damage_time(category, multiple, largest, frequent=frequent)
    words = f"C57.109, category {category.name}, {'frequent' if frequent else 'infrequent'} faults"
    return multiple, np.asarray(time, dtype=np.float64), (words,)


def _source_impedance(walk: Walk) -> float:
    """Largest impedance before the transformer in any operating case, per unit of its own rating."""
    ahead = magnitude(network.thevenin(walk, PRIMARY, walk.method).impedance)
    rating, voltage = (scalar(walk.inputs.number(f"transformer.{e}")) for e in ("rating", "primary_voltage"))
    return float(np.max(np.asarray(ahead, dtype=np.float64))) * rating / voltage**2
