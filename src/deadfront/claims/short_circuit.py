"""Claims: the station withstands and interrupts every fault. A walk comes in; the terms of SC-01 to SC-09 go out."""

from __future__ import annotations

import numpy as np

from deadfront.claims import duties
from deadfront.claims.comparing import NotApplicable, Outcome, Term, claim, rule_by_practice, same_rule
from deadfront.claims.duties import ordinary, paralleled, term, words
from deadfront.claims.model import Rule, Step
from deadfront.claims.steps import at, clearing_steps, fault_steps
from deadfront.claims.wording import in_words
from deadfront.physics import adiabatic, iec60909
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, SECONDARY, SWITCH_BUS
from deadfront.study import elements, faults
from deadfront.study.clearing import Clearing, clear
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

HAZARD = "Faults that the station must withstand and interrupt"

C57_109_THERMAL = 1250.0
"""I2t of a liquid-filled transformer's thermal limit, I in per unit of rated current; IEEE C57.109 [M]."""


@claim(
    "SC-01",
    hazard=HAZARD,
    sentence="Every device on the MV side has a short-time and peak withstand at least equal to the worst fault there, for the time the upstream protection takes.",
    needs=("supply", "terminations", "switch"),
    rule=rule_by_practice(
        Rule("Short-time and peak withstand not below the fault, for its duration", "IEEE C37.74; IEEE 386", "M"),
        Rule("Rated short-time and peak withstand current not below the fault", "IEC 62271-1", "M"),
    ),
)
def medium_voltage_withstand(walk: Walk) -> Outcome:
    """Switch and connectors, thermal and peak."""
    return duties.medium_voltage_withstand(walk, ordinary(walk))


@claim(
    "SC-02",
    hazard=HAZARD,
    sentence="The MV switch may be closed onto the worst fault, as often as this site may have to.",
    needs=("supply", "switch"),
    rule=rule_by_practice(
        Rule("Fault-closing rating not below the peak of the fault; number of closings by class", "IEEE C37.74", "M"),
        Rule("Rated making current not below the peak; E1 two, E2 three, E3 five closings", "IEC 62271-103", "M"),
    ),
)
def switch_closes_onto_fault(walk: Walk) -> Outcome:
    """Making current, and the number of closings."""
    needed, allowed = (walk.inputs.entry(f"switch.{name}") for name in ("required_closings", "making_operations"))
    for name, value in (("required_closings", needed), ("making_operations", allowed)):
        if value is None:
            walk.inputs.number(f"switch.{name}")
    closings = Term(
        "MV switch, number of closings",
        float(needed or 1),  # type: ignore[arg-type]
        float(allowed or 1),  # type: ignore[arg-type]
        "1",
        len(walk.cases),
        (0,),
        words=lambda _case: "over its life between overhauls",
        evidence=lambda _case: (
            Step("n", "closings onto a fault the site may need", "entry of the file", "", str(needed), "switch.required_closings", "C"),
        ),
    )
    return [*duties.switch_making(walk, ordinary(walk)), closings]


@claim(
    "SC-03",
    hazard=HAZARD,
    sentence="The MV fuses interrupt the largest fault at their terminals at its X/R.",
    needs=("supply", "fuses"),
    rule=rule_by_practice(
        Rule("Interrupting rating not below the fault at its X/R", "IEEE C37.41, C37.42 family", "V"),
        Rule("Rated maximum breaking current not below the fault", "IEC 60282-1", "M"),
    ),
)
def fuses_interrupt(walk: Walk) -> Outcome:
    """The limiter; the expulsion link alone where there is no limiter."""
    return duties.fuse_interrupting(walk, ordinary(walk))


@claim(
    "SC-04",
    hazard=HAZARD,
    sentence="Each LV device interrupts the worst LV fault, motors and generators included, at its X/R.",
    needs=("supply", "transformer", "board"),
    rule=rule_by_practice(
        Rule("Multiplying factor times first-cycle current not above the interrupting rating", "IEEE C37.13, UL 489, UL 248", "V2"),
        Rule("Breaking capacity not below the fault, making capacity not below its peak", "IEC 60947-2", "M"),
    ),
)
def low_voltage_interrupts(walk: Walk) -> Outcome:
    """Main, feeders, tie and generator breakers."""
    return duties.interrupting(walk, ordinary(walk))


@claim(
    "SC-05",
    hazard=HAZARD,
    sentence="The LV bus bracing covers the worst peak.",
    needs=("supply", "transformer", "board"),
    rule=rule_by_practice(
        Rule("Bracing not below the fault, peak against peak", "UL 891 practice", "C"),
        Rule("Rated peak withstand current not below the peak", "IEC 61439-1", "M"),
    ),
)
def bus_is_braced(walk: Walk) -> Outcome:
    """Peak against peak."""
    return duties.bus_bracing(walk, ordinary(walk))


@claim(
    "SC-06",
    hazard=HAZARD,
    sentence="The transformer is inside its through-fault limit for every bolted LV fault until it is cleared.",
    needs=("supply", "fuses", "transformer", "board"),
    rule=rule_by_practice(
        Rule("I2t in the winding, per unit of rated current, not above 1250 s", "IEEE C57.109, thermal part", "M"),
        Rule("I2t in the winding not above that of the bolted through-fault for its rated duration", "IEC 60076-5", "V"),
    ),
)
def transformer_survives(walk: Walk) -> Outcome:
    """Faults before and behind the main, each until its own devices have cleared it."""
    rating, voltage = walk.inputs.number("transformer.rating"), walk.inputs.number("transformer.secondary_voltage")
    rated = rating / (np.sqrt(3.0) * voltage)
    limit = C57_109_THERMAL if walk.method == "north-american" else _iec_through_fault(walk)
    found = []
    for point in (SECONDARY, LV_BUS):
        for kind in _kinds(walk):
            total = faults.current(walk, point, kind, walk.method)
            clearing = clear(walk, point, kind, walk.method, total)
            supply = next(infeed for infeed in clearing.infeeds if infeed.name == "supply")
            value = np.square(supply.current / rated) * clearing.time
            found.append(_through_fault_term(walk, point, kind, clearing, value, limit, rated))
    return found


def _kinds(walk: Walk) -> tuple[Kind, ...]:
    """Kinds of low-voltage fault, to earth only where the neutral is earthed."""
    earthed = walk.inputs.word("transformer.neutral") == "earthed"
    return ("three-phase", "line-line", "line-earth") if earthed else ("three-phase", "line-line")


def _iec_through_fault(walk: Walk) -> Array:
    """I2t of the bolted fault at the terminals for its rated duration, per unit squared times s."""
    duration = walk.inputs.assume(
        "transformer.through_fault_duration",
        2.0,
        2.0,
        Assumed(
            "transformer.through_fault_duration",
            "The transformer is taken to withstand the bolted through-fault for 2 s.",
            "IEC 60076-5, default duration",
            "V",
            "Transformer specification.",
        ),
    )
    return duration / np.square(walk.inputs.number("transformer.impedance"))


def _through_fault_term(
    walk: Walk, point: str, kind: Kind, clearing: Clearing, value: Array, limit: Array, rated: Array
) -> Term:
    supply = next(infeed for infeed in clearing.infeeds if infeed.name == "supply")

    def steps(case: int) -> tuple[Step, ...]:
        current, time = at(walk, supply.current, case), at(walk, clearing.time, case)
        ratio = current / at(walk, rated, case)
        heat = Step("I2t", "heating of the winding, per unit of rated current", "(I / Ir)^2 t", f"({in_words(current, 'A')} / {in_words(at(walk, rated, case), 'A')})^2 x {in_words(time, 's')} = {ratio:.4g}^2 x {in_words(time, 's')}", in_words(at(walk, value, case), "s"), "IEEE C57.109; IEC 60076-5", "M")
        return (*fault_steps(walk, point, kind, case), *clearing_steps(walk, clearing, case), heat)

    fed = tuple(i for i in ordinary(walk) if walk.cases.main[i] > 0)
    where = walk.station.point(point).name
    return term(walk, f"Transformer, {kind} fault at {where}", value, limit, "s", fed, words=words(walk, kind), evidence=steps)


@claim(
    "SC-07",
    hazard=HAZARD,
    sentence="MV cable conductor and screen survive the worst fault until it is cleared.",
    needs=("supply",),
    rule=rule_by_practice(
        Rule("Current not above the conductor's and the screen's short-circuit curve", "ICEA P-32-382, P-45-482", "V"),
        Rule("Adiabatic short-circuit capacity of conductor and screen", "IEC 60949", "V"),
    ),
)
def medium_voltage_cable_survives(walk: Walk) -> Outcome:
    """Conductor at the largest fault, screen at the earth fault; a fault right behind the supply point is the worst."""
    paths = [path for path in ("mv_cable", "other_feed.cable") if walk.inputs.entry(path.split(".")[0]) is not None]
    if not paths:
        return NotApplicable("The file has no MV cable: the unit stands at the supply point.")
    found = []
    for path in paths:
        found.append(_conductor(walk, path, SWITCH_BUS, "three-phase"))
        if walk.inputs.word("supply.earthing") in ("solid", "impedance"):
            found.append(_screen(walk, path))
    return found


def _conductor(walk: Walk, path: str, point: str, kind: Kind) -> Term:
    """Required against actual cross-section of a phase conductor, fault at `point`."""
    current = faults.current(walk, point, kind, walk.method)
    clearing = clear(walk, point, kind, walk.method, current)
    k = _k_factor(walk, path)
    value = _required_area(walk, point, k, current, clearing.time)
    area = walk.inputs.number(f"{path}.conductor_area") * float(walk.inputs.entry(f"{path}.parallel") or 1)  # type: ignore[arg-type]
    steps = _area_steps(walk, point, kind, clearing, current, k, value)
    return term(walk, f"Conductor of {path}, {kind}", value, area, "m2", ordinary(walk), words=words(walk, kind), evidence=steps)


def _required_area(walk: Walk, point: str, k: Array, current: Array, time: Array) -> Array:
    """S = Ith sqrt(t) / k; the direct component counts by IEC 60909-0's m."""
    ratio = np.maximum(faults.reactance_ratio(walk, point, walk.method), 0.01)
    kappa = iec60909.peak_factor(1.0 / ratio)
    bounded = np.maximum(np.minimum(time, 1e6), 1e-4)
    thermal = iec60909.thermal_equivalent_current(current, kappa, walk.inputs.constant("frequency"), bounded)
    return np.where(np.less(time, 1e6), adiabatic.required_area(k, thermal, bounded), np.inf)


def _k_factor(walk: Walk, path: str) -> Array:
    """k of a phase conductor from its service to its limiting temperature."""
    insulation = walk.inputs.word(f"{path}.insulation")
    service = elements.conductor_temperature(walk, path, "operating_temperature", elements.INSULATION_SERVICE)
    return adiabatic.k_factor(walk.inputs.word(f"{path}.conductor"), service, elements.INSULATION_LIMIT[insulation])


def _screen(walk: Walk, path: str) -> Term:
    kind: Kind = "line-earth"
    current = faults.current(walk, SWITCH_BUS, kind, walk.method)
    clearing = clear(walk, SWITCH_BUS, kind, walk.method, current)
    k = adiabatic.k_factor(
        walk.inputs.word(f"{path}.screen"),
        walk.inputs.number(f"{path}.screen_temperature"),
        walk.inputs.number(f"{path}.screen_limit"),
    )
    value = _required_area(walk, SWITCH_BUS, k, current, clearing.time)
    steps = _area_steps(walk, SWITCH_BUS, kind, clearing, current, k, value)
    area = walk.inputs.number(f"{path}.screen_area")
    return term(walk, f"Screen of {path}, {kind}", value, area, "m2", ordinary(walk), words=words(walk, kind), evidence=steps)


def _area_steps(walk: Walk, point: str, kind: Kind, clearing: Clearing, current: Array, k: Array, value: Array):  # type: ignore[no-untyped-def]
    def steps(case: int) -> tuple[Step, ...]:
        factor = at(walk, k, case) * 1e-6
        numbers = f"Ith from {in_words(at(walk, current, case), 'A')}, t = {in_words(at(walk, clearing.time, case), 's')}, k = {factor:.4g} A s^0.5/mm2"
        area = Step("S", "cross-section needed", "Ith sqrt(t) / k", numbers, in_words(at(walk, value, case), "m2"), "IEC 60364-5-54, IEC 60949; k from its equation", "V")
        return (*fault_steps(walk, point, kind, case), *clearing_steps(walk, clearing, case), area)

    return steps


@claim(
    "SC-08",
    hazard=HAZARD,
    sentence="LV cables and the neutral or earth conductors survive the worst fault until it is cleared.",
    needs=("supply", "transformer", "board"),
    rule=rule_by_practice(
        Rule("Conductor heating until clearing not above its limit", "NEC practice; ICEA P-32-382", "C"),
        Rule("k2 S2 not below the let-through of the fault", "IEC 60364-4-43, -5-54", "V"),
    ),
)
def low_voltage_cables_survive(walk: Walk) -> Outcome:
    """Each feeder's cable for a fault at either end, its earth conductor, and the board's neutral bar."""
    found: list[Term] = []
    for name in walk.station.feeders():
        path = f"board.feeders.{name}.cable"
        if walk.inputs.entry(path) is not None:
            found.extend(_feeder_cable(walk, name, path))
    if walk.inputs.word("transformer.neutral") == "earthed":
        found.append(_neutral_bar(walk))
    return found or NotApplicable("The board has no feeder cables, and its neutral is not earthed.")


def _feeder_cable(walk: Walk, name: str, path: str) -> list[Term]:
    """Fault behind the feeder's device at either end of its cable: largest current, and longest time."""
    found = []
    end = f"feeder end {name}"
    parallel = float(walk.inputs.entry(f"{path}.parallel") or 1)  # type: ignore[arg-type]
    for point, where in ((LV_BUS, "near end"), (end, "far end")):
        for kind in _kinds(walk):
            current = faults.current(walk, point, kind, walk.method)
            clearing = clear(walk, end, kind, walk.method, current)
            k = _k_factor(walk, path)
            value = _required_area(walk, point, k, current, clearing.time)
            steps = _area_steps(walk, point, kind, clearing, current, k, value)
            area = walk.inputs.number(f"{path}.conductor_area") * parallel
            found.append(term(walk, f"Cable of feeder {name}, {kind} at its {where}", value, area, "m2", ordinary(walk), words=words(walk, kind), evidence=steps))
            if kind == "line-earth" and walk.inputs.entry(f"{path}.earth_conductor") is not None:
                found.append(_earth_conductor(walk, name, path, point, where, clearing, parallel))
    return found


def _earth_conductor(walk: Walk, name: str, path: str, point: str, where: str, clearing: Clearing, parallel: float) -> Term:
    kind: Kind = "line-earth"
    current = faults.current(walk, point, kind, walk.method)
    insulation = walk.inputs.word(f"{path}.insulation")
    service = elements.conductor_temperature(walk, path, "operating_temperature", elements.INSULATION_SERVICE)
    k = adiabatic.k_factor(walk.inputs.word(f"{path}.earth_conductor"), service, elements.INSULATION_LIMIT[insulation])
    value = _required_area(walk, point, k, current, clearing.time)
    area = walk.inputs.number(f"{path}.earth_area") * parallel
    steps = _area_steps(walk, point, kind, clearing, current, k, value)
    return term(walk, f"Earth conductor of feeder {name}, {kind} at its {where}", value, area, "m2", ordinary(walk), words=words(walk, kind), evidence=steps)


def _neutral_bar(walk: Walk) -> Term:
    kind: Kind = "line-earth"
    current = faults.current(walk, LV_BUS, kind, walk.method)
    clearing = clear(walk, LV_BUS, kind, walk.method, current)
    k = adiabatic.k_factor(
        walk.inputs.word("board.bus.neutral_conductor"),
        walk.inputs.number("board.bus.neutral_temperature"),
        walk.inputs.number("board.bus.neutral_limit"),
    )
    value = _required_area(walk, LV_BUS, k, current, clearing.time)
    steps = _area_steps(walk, LV_BUS, kind, clearing, current, k, value)
    area = walk.inputs.number("board.bus.neutral_area")
    return term(walk, f"Neutral or earth bar of the board, {kind}", value, area, "m2", ordinary(walk), words=words(walk, kind), evidence=steps)


@claim(
    "SC-09",
    hazard=HAZARD,
    sentence="The unit still holds with both supplies, the tie or the standby generator paralleled, where the file allows it.",
    needs=("supply", "transformer", "board"),
    rule=same_rule("The duties of SC-01 to SC-05 with every permitted parallel infeed", "common practice, no source", "C"),
)
def holds_when_paralleled(walk: Walk) -> Outcome:
    """The duties again, in the cases with two infeeds."""
    cases = paralleled(walk)
    if not cases:
        return NotApplicable("The file permits no two infeeds to be closed together.")
    return [
        *duties.medium_voltage_withstand(walk, cases),
        *duties.switch_making(walk, cases),
        *duties.fuse_interrupting(walk, cases),
        *duties.interrupting(walk, cases),
        *duties.bus_bracing(walk, cases),
    ]
