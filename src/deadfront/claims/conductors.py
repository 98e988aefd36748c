"""Claims: conductors, screens and earth bars until a fault is cleared. A walk comes in; terms go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.claims.comparing import Evidence, Maker, Term, later
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, clearing_steps, earth_step, fault_steps, seconds, where_of
from deadfront.claims.terms import Against, Cases, term
from deadfront.claims.wording import in_words
from deadfront.physics import adiabatic
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, SUPPLY_A, SUPPLY_B, SWITCH_BUS, feeder_end
from deadfront.study import elements, faults, through
from deadfront.study.clearing import Clearing, clear
from deadfront.study.faults import TO_EARTH, Kind
from deadfront.study.ratings import INSTANT
from deadfront.study.walk import Walk

LONGEST = 1e6
"""Time beyond which no cross-section is said to suffice, s: the models end long before."""

ICEA_METALS = ("copper", "aluminium")


@dataclass(frozen=True, slots=True)
class _Heating:
    """A fault that heats a conductor: where, which kind, how it is cleared; the current A in it, and until when, s."""

    point: str
    kind: Kind
    clearing: Clearing
    current: Array
    time: Array


def lv_kinds(walk: Walk) -> tuple[Kind, ...]:
    """Kinds of low-voltage fault, to earth only where the neutral is earthed."""
    return faults.KINDS if walk.inputs.word("transformer.neutral") == "earthed" else ("three-phase", "line-line")


def k_factor(walk: Walk, material: str, start: Array, end: Array) -> Array:
    """Adiabatic factor of a conductor, A s^0.5/m2: the formula of the practice.

    North American: ICEA P-32-382 and P-45-482, which lie 0.8 % (copper) and 1.8 % (aluminium) below IEC; for other
    metals, which they do not name, that of IEC 60949.
    """
    if walk.method == "north-american" and material in ICEA_METALS:
        return adiabatic.icea_withstand_current(material, 1.0, 1.0, start, end)
    return adiabatic.k_factor(material, start, end)


# --- medium voltage ---


def medium_voltage_cables(walk: Walk, cases: Cases) -> list[Maker]:
    """Conductor and screen of each MV cable of the file, in the cases in which its supply feeds."""
    found: list[Maker] = []
    for path, letter, point in (("mv_cable", "A", SUPPLY_A), ("other_feed.cable", "B", SUPPLY_B)):
        supply = f"supply {letter}"
        if walk.station.has(supply) and elements.medium_voltage_cable_given(walk, path):
            fed = tuple(i for i in cases if walk.cases.mask(supply)[i] > 0.0)
            together = elements.cables_in_parallel(walk, path)
            found.append(later(_medium_voltage_cable, walk, path, (point, supply), 1, fed))
            found.append(later(_medium_voltage_cable, walk, path, (SWITCH_BUS, f"cable {letter}"), together, fed))
    return found


def _medium_voltage_cable(walk: Walk, path: str, at: tuple[str, str], together: int, cases: Cases) -> list[Term]:
    """A fault in the cable right behind its supply heats one cable of several; one at the unit heats them together.

    `at` is the point and the device through which the cable's own supply feeds it.
    """
    if not cases:
        return []
    conductor, screen = (walk.inputs.number(f"{path}.{name}") * together for name in ("conductor_area", "screen_area"))
    heating = _from_supply(walk, at, "three-phase")
    found = [_term(walk, f"Conductor of {path},", heating, (_phase_k(walk, path), conductor), cases)]
    bound = ", double earth fault bounded by the" if faults.unearthed(walk, at[0]) else ","
    for kind in _screen_kinds(walk, at[0]):
        heating = _from_supply(walk, at, kind, by_screen=True)
        found.append(_term(walk, f"Screen of {path}{bound}", heating, (screen_k(walk, path), screen), cases))
    return found


def _screen_kinds(walk: Walk, point: str) -> tuple[Kind, ...]:
    """Faults whose current returns by the screen.

    In an isolated or resonant network the double earth fault: two phases through the screen, at most the fault between
    two lines, cleared by the phase protection [D: bound; IEC 60909-3 has the current itself].
    """
    return ("line-line",) if faults.unearthed(walk, point) else TO_EARTH


def _from_supply(walk: Walk, at: tuple[str, str], kind: Kind, *, by_screen: bool = False) -> _Heating:
    """What a supply sends through its cable, until its own protection has opened."""
    point, device = at
    total = faults.current(walk, point, kind, walk.method)
    clearing = clear(walk, point, kind, walk.method, total)
    carried = through.infeeds(walk, point, kind, walk.method, total)[device]
    current = carried.residual if by_screen and kind in TO_EARTH else carried.phase
    return _Heating(point, kind, clearing, current, clearing.infeed(device.replace("cable", "supply")).time)


def screen_k(walk: Walk, path: str) -> Array:
    """k of a cable's screen from its service to its limiting temperature, A s^0.5/m2."""
    start, end = (walk.inputs.number(f"{path}.screen_{name}") for name in ("temperature", "limit"))
    return k_factor(walk, walk.inputs.word(f"{path}.screen"), start, end)


def _phase_k(walk: Walk, path: str) -> Array:
    """k of a phase conductor from its service to its limiting temperature."""
    return k_factor(walk, walk.inputs.word(f"{path}.conductor"), *_span(walk, path))


def _span(walk: Walk, path: str) -> tuple[Array, float]:
    """Temperatures of a cable in service, and at the end of a fault by its insulation, degC."""
    service = elements.conductor_temperature(walk, path, "operating_temperature", elements.INSULATION_SERVICE)
    return service, elements.INSULATION_LIMIT[walk.inputs.word(f"{path}.insulation")]


# --- low voltage ---


def low_voltage_cables(walk: Walk, cases: Cases) -> list[Maker]:
    """Each feeder's cable, its earth conductor, and the neutral or earth bar of the board."""
    found: list[Maker] = []
    for name in walk.station.feeders():
        found.extend(_feeder_cable(walk, name, cases))
    if walk.inputs.word("transformer.neutral") == "earthed":
        found.extend(later(_neutral_bar, walk, kind, cases) for kind in TO_EARTH)
    return found


def _feeder_cable(walk: Walk, name: str, cases: Cases) -> list[Maker]:
    """Fault behind the feeder's device at either end of its cable: largest current, and longest time.

    Near the device a fault in one of several parallel cables flows through that one; beyond their far end all share it.
    """
    together = elements.cables_in_parallel(walk, f"board.feeders.{name}.cable")
    return [
        later(_feeder_fault, walk, name, at, kind, cases)
        for at in ((LV_BUS, 1), (feeder_end(name), together))
        for kind in lv_kinds(walk)
    ]


def _feeder_fault(walk: Walk, name: str, at: tuple[str, int], kind: Kind, cases: Cases) -> list[Term]:
    """Phase conductor, and for a fault to earth the earth conductor; `at` is the place and the cables that share."""
    path, (point, together) = f"board.feeders.{name}.cable", at
    line = faults.current(walk, point, kind, walk.method)
    clearing = clear(walk, feeder_end(name), kind, walk.method, line)
    heating = _Heating(point, kind, clearing, line, clearing.time)
    area = walk.inputs.number(f"{path}.conductor_area") * together
    found = [_term(walk, f"Cable of feeder {name},", heating, (_phase_k(walk, path), area), cases)]
    if kind in TO_EARTH:
        earth = faults.earth_current(walk, point, kind, walk.method)
        heating = _Heating(point, kind, clearing, earth, clearing.time)
        withstand = (earth_k(walk, path), walk.inputs.number(f"{path}.earth_area") * together)
        found.append(_term(walk, f"Earth conductor of feeder {name},", heating, withstand, cases))
    return found


def earth_k(walk: Walk, path: str) -> Array:
    """k of a feeder's earth conductor, A s^0.5/m2."""
    return k_factor(walk, walk.inputs.word(f"{path}.earth_conductor"), *_span(walk, path))


def _neutral_bar(walk: Walk, kind: Kind, cases: Cases) -> Term:
    start, end = (walk.inputs.number(f"board.bus.neutral_{name}") for name in ("temperature", "limit"))
    k = k_factor(walk, walk.inputs.word("board.bus.neutral_conductor"), start, end)
    clearing = clear(walk, LV_BUS, kind, walk.method, faults.current(walk, LV_BUS, kind, walk.method))
    earth = faults.earth_current(walk, LV_BUS, kind, walk.method)
    heating = _Heating(LV_BUS, kind, clearing, earth, clearing.time)
    withstand = (k, walk.inputs.number("board.bus.neutral_area"))
    return _term(walk, "Neutral or earth bar of the board,", heating, withstand, cases)


# --- one conductor ---


def _term(walk: Walk, subject: str, heating: _Heating, withstand: tuple[Array, Array], cases: Cases) -> Term:
    """Required against actual cross-section; `withstand` is k and the area; the subject ends before the fault."""
    k, area = withstand
    value = required_area(walk, heating.point, k, heating.current, heating.time)
    subject = f"{subject} {heating.kind} fault at {where_of(walk, heating.point)}"
    return term(walk, subject, Against(value, area, "m2"), cases, _evidence(walk, heating, k, value), heating.kind)


def required_area(walk: Walk, point: str, k: Array, current: Array, time: Array) -> Array:
    """S = Ith sqrt(t) / k, m2; the direct component counts by IEC 60909-0's m T. Infinite where nothing clears."""
    bounded = np.maximum(np.minimum(time, LONGEST), INSTANT)
    longer = bounded + faults.direct_component_time(walk, point, walk.method, bounded)
    area = np.where(np.greater_equal(time, LONGEST), np.inf, adiabatic.required_area(k, current, longer))
    return np.where(np.less_equal(current, 0.0), 0.0, area)  # without current nothing is heated, however long it lasts


def _evidence(walk: Walk, heating: _Heating, k: Array, value: Array) -> Evidence:
    def steps(case: int) -> tuple[Step, ...]:
        size, time = amperes(walk, heating.current, case), seconds(walk, heating.time, case)
        numbers = f"Ith from {size}, t = {time}, k = {at(walk, k, case) * 1e-6:.4g} A s^0.5/mm2"
        source = "ICEA P-32-382, P-45-482" if walk.method == "north-american" else "IEC 60364-5-54, IEC 60949"
        area = in_words(at(walk, value, case), "m2")
        last = Step("S", "cross-section needed", "Ith sqrt(t) / k", numbers, area, source, "V")
        found = fault_steps(walk, heating.point, heating.kind, case)
        if heating.kind == "line-line-earth":
            found.append(earth_step(walk, heating.point, heating.kind, case))
        return (*found, *clearing_steps(walk, heating.clearing, case), last)

    return steps
