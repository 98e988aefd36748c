"""Claims: the right device opens. A walk comes in; the terms of CO-04 and CO-06 go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from deadfront.claims.arc_energy import leaves_model, low_voltage_places
from deadfront.claims.comparing import (
    NotApplicable,
    Outcome,
    Questions,
    Term,
    claim,
    later,
    rule_by_practice,
    same_rule,
)
from deadfront.claims.model import Rule, Step
from deadfront.claims.steps import amperes, at, clearing_steps, fault_steps, shared_steps, where_of
from deadfront.claims.terms import Against, term
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, feeder_end
from deadfront.study import arcs, fault_sizes, faults, network
from deadfront.study.clearing import Clearing, clear
from deadfront.study.fast_elements import FastElement, current_seen, fast_elements
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

HAZARD = "A device that does not open, or the wrong one"

REQUIRED_TIME_IEC = 5.0
"""Longest disconnection time of a distribution circuit in a TN system, s; IEC 60364-4-41 [M]."""


@claim(
    "CO-04",
    hazard=HAZARD,
    needs=("supply", "fuses", "transformer", "board"),
    sentence="The smallest LV fault, line-line, to earth or arcing to earth, is cleared within the required time.",
    rule=rule_by_practice(
        Rule("Smallest fault cleared within the time the project requires", "IEEE 242", "M"),
        Rule("Automatic disconnection within the required time", "IEC 60364-4-41", "M"),
    ),
)
def smallest_fault_is_cleared(walk: Walk) -> Outcome:
    """Bus and feeder ends; bolted line-line, bolted to earth, and the small arcing earth fault of the setting rule.

    In every operating case in which such a fault draws current, parallel infeeds included: each device then sees less.
    """
    points = [(LV_BUS, "board.required_clearing")]
    points += [(feeder_end(name), f"board.feeders.{name}.required_clearing") for name in walk.station.feeders()]
    return Questions(
        [
            later(_time_term, walk, point, label, _required_time(walk, path))
            for point, path in points
            for label in _smallest_faults(walk)
        ]
    )


def _required_time(walk: Walk, path: str) -> Array:
    """The time the file requires; in the IEC practice the rule's own where the file is silent."""
    if walk.inputs.given(path) or walk.method != "iec":
        return walk.inputs.number(path)
    text = f"{path} is taken as 5 s, the longest time for a distribution circuit in a TN system."
    assumed = Assumed(path, text, "IEC 60364-4-41", "M", "Design basis of the installation.")
    return walk.inputs.assume(path, REQUIRED_TIME_IEC, REQUIRED_TIME_IEC, assumed)


SmallFaultLabel = Literal["line-line", "line-earth", "arcing to earth"]


@dataclass(frozen=True, slots=True)
class _SmallFault:
    """A kind of small fault, its current A, and what it is called."""

    kind: Kind
    current: Array
    label: str


def _smallest_faults(walk: Walk) -> tuple[SmallFaultLabel, ...]:
    """Kinds of small fault; to earth only where the neutral is earthed."""
    earthed = walk.inputs.word("transformer.neutral") == "earthed"
    return ("line-line", "line-earth", "arcing to earth") if earthed else ("line-line",)


def _small_fault(walk: Walk, point: str, label: SmallFaultLabel) -> _SmallFault:
    """A kind of small fault at a point, with its current."""
    if label != "arcing to earth":
        return _SmallFault(label, faults.current(walk, point, label, walk.method), label)
    arcing = fault_sizes.arcing_share(walk) * fault_sizes.shared(walk, point, "line-earth")
    return _SmallFault("line-earth", arcing, label)


def _time_term(walk: Walk, point: str, label: SmallFaultLabel, limit: Array) -> Term:
    fault = _small_fault(walk, point, label)
    clearing = clear(walk, point, fault.kind, walk.method, fault.current)

    def steps(case: int) -> tuple[Step, ...]:
        if fault.label != "arcing to earth":
            return (*fault_steps(walk, point, fault.kind, case), *clearing_steps(walk, clearing, case))
        share, whole = fault_sizes.arcing_share(walk), fault_sizes.shared(walk, point, "line-earth")
        numbers, size = (
            f"{at(walk, share, case):.4g} x {amperes(walk, whole, case)}",
            amperes(walk, fault.current, case),
        )
        arc = Step("Iarc,e", "smallest arcing earth fault", fault_sizes.FORMULA, numbers, size, "IEEE 242", "M")
        return (*shared_steps(walk, point, "line-earth", case), arc, *clearing_steps(walk, clearing, case))

    cases = network.live(walk, point, to_earth=fault.kind == "line-earth")
    subject = f"{where_of(walk, point)}, {fault.label} fault"
    return term(walk, subject, Against(clearing.time, limit, "s"), cases, steps)


@claim(
    "CO-06",
    hazard=HAZARD,
    needs=("supply", "fuses", "transformer", "board", "operation"),
    sentence=(
        "The device meant to protect people against an arc sees the smallest arcing current at each LV place of work."
    ),
    rule=same_rule(
        "Smallest arcing current not below the pickup of the fast element, tolerance included",
        "IEEE 1584 practice",
        "C",
    ),
    leaves_model=leaves_model(low_voltage_places),
)
def fast_device_sees_smallest_arc(walk: Walk) -> Outcome:
    """Reduced arcing current in each infeed's device, against the pickup of its fast element or the supervision."""
    chosen = low_voltage_places(walk)
    if not chosen:
        return NotApplicable("The file names no LV place of work.")
    makers = [
        later(_seen_terms, walk, place, electrodes)
        for place in chosen
        for electrodes in arcs.configurations(walk, place)
    ]
    return Questions(makers, "Light alone trips at every place of work: no current has to be seen.")


def _seen_terms(walk: Walk, place: str, electrodes: str) -> list[Term]:
    state, point = arcs.states(walk, place)[0], arcs.point_of(walk, place)
    arc = arcs.arc(walk, place, state, electrodes, "reduced")
    found = []
    for fast in fast_elements(walk, point, arc.clearing, arcs.situation(walk, place, state)):
        cases = _fed_cases(walk, place, arc.clearing, fast)
        if cases:
            found.append(_seen_term(walk, arc, fast, cases))
    return found


def _fed_cases(walk: Walk, place: str, clearing: Clearing, fast: FastElement) -> tuple[int, ...]:
    """Operating cases in which the element's infeed feeds the place."""
    live = arcs.live_cases(walk, place)
    if fast.infeed is None:
        return live
    connected = clearing.infeed(fast.infeed).connected
    return tuple(i for i in live if connected[i] > 0.0)


def _seen_term(walk: Walk, arc: arcs.Arc, fast: FastElement, cases: tuple[int, ...]) -> Term:
    value = current_seen(arc.clearing, fast)

    def steps(case: int) -> tuple[Step, ...]:
        first = fault_steps(walk, arcs.point_of(walk, arc.place), "three-phase", case)
        bolted, arcing = amperes(walk, arc.bolted_current, case), amperes(walk, arc.arcing_current, case)
        meaning, formula = f"reduced arcing current, {arc.electrodes}", "IEEE 1584 eq. (1), (2), (25)"
        reduced = Step("Iarc,min", meaning, formula, f"Ibf = {bolted}", arcing, "IEEE 1584-2018", "M")
        meaning, size = f"arcing current in {fast.device}", amperes(walk, value, case)
        seen = Step("I", meaning, "its share, at the voltage where it is measured", "", size, "partial currents", "D")
        return (*first, reduced, seen)

    subject = f"{arc.place}, {arc.electrodes}, {fast.device}, {fast.element}"
    return term(walk, subject, Against(value, fast.pickup, "A", at_least=True), cases, steps)
