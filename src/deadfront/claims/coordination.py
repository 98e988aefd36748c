"""Claims: the right device opens. A walk comes in; the terms of CO-04 and CO-06 go out."""

from __future__ import annotations

from deadfront.claims.arc_energy import low_voltage_places
from deadfront.claims.comparing import NotApplicable, Outcome, Term, claim, rule_by_practice, same_rule
from deadfront.claims.model import Rule, Step
from deadfront.claims.steps import at, clearing_steps, fault_steps
from deadfront.claims.wording import in_words
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, SECONDARY, feeder_end
from deadfront.study import arcs, devices, faults
from deadfront.study.clearing import Clearing, clear
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

HAZARD = "A device that does not open, or the wrong one"

REQUIRED_TIME_IEC = 5.0
"""Longest disconnection time of a distribution circuit in a TN system, s; IEC 60364-4-41 [M]."""


@claim(
    "CO-04",
    hazard=HAZARD,
    sentence="The smallest LV fault, line-line, to earth or arcing to earth, is cleared within the required time.",
    needs=("supply", "fuses", "transformer", "board"),
    rule=rule_by_practice(
        Rule("Smallest fault cleared within the time the project requires", "IEEE 242", "M"),
        Rule("Automatic disconnection within the required time", "IEC 60364-4-41", "M"),
    ),
)
def smallest_fault_is_cleared(walk: Walk) -> Outcome:
    """Bus and feeder ends; bolted line-line, bolted to earth, and the small arcing earth fault of the setting rule."""
    found: list[Term] = []
    points = [(LV_BUS, "board.required_clearing")]
    points += [(feeder_end(name), f"board.feeders.{name}.required_clearing") for name in walk.station.feeders()]
    for point, path in points:
        limit = _required_time(walk, path)
        for kind, current, label in _smallest_faults(walk, point):
            clearing = clear(walk, point, kind, walk.method, current)
            found.append(_time_term(walk, point, kind, label, clearing, current, limit))
    return found


def _required_time(walk: Walk, path: str) -> Array:
    """The time the file requires; in the IEC practice the rule's own where the file is silent."""
    if walk.inputs.given(path) or walk.method != "iec":
        return walk.inputs.number(path)
    text = f"{path} is taken as 5 s, the longest time for a distribution circuit in a TN system."
    assumed = Assumed(path, text, "IEC 60364-4-41", "M", "Design basis of the installation.")
    return walk.inputs.assume(path, REQUIRED_TIME_IEC, REQUIRED_TIME_IEC, assumed)


def _smallest_faults(walk: Walk, point: str) -> list[tuple[Kind, Array, str]]:
    """Kinds of small fault at a point, with their currents."""
    found: list[tuple[Kind, Array, str]] = [("line-line", faults.current(walk, point, "line-line", walk.method), "line-line")]
    if walk.inputs.word("transformer.neutral") != "earthed":
        return found
    found.append(("line-earth", faults.current(walk, point, "line-earth", walk.method), "line-earth"))
    share = walk.inputs.assume(
        "board.arcing_earth_share",
        0.38,
        0.38,
        Assumed(
            "board.arcing_earth_share",
            "The smallest arcing earth fault is taken as 38 % of the bolted three-phase fault: a setting rule of 480 V systems.",
            "IEEE 242, after Kaufmann and Page 1960",
            "M",
            "Setting calculation of the earth-fault protection.",
        ),
    )
    arcing = share * faults.current(walk, point, "three-phase", walk.method)
    found.append(("line-earth", arcing, "arcing to earth"))
    return found


def _time_term(walk: Walk, point: str, kind: Kind, label: str, clearing: Clearing, current: Array, limit: Array) -> Term:
    def steps(case: int) -> tuple[Step, ...]:
        first = fault_steps(walk, point, kind if label != "arcing to earth" else "three-phase", case)
        if label == "arcing to earth":
            numbers = f"{in_words(at(walk, current, case), 'A')}"
            first.append(Step("Iarc,e", "small arcing earth fault", "share of the bolted three-phase fault", "board.arcing_earth_share", numbers, "IEEE 242", "M"))
        return (*first, *clearing_steps(walk, clearing, case))

    fed = tuple(i for i in range(len(walk.cases)) if not walk.cases.parallel[i])
    where = walk.station.point(point).name
    return Term(
        f"{where}, {label} fault",
        clearing.time,
        limit,
        "s",
        len(walk.cases),
        fed,
        words=lambda case: walk.cases.words[case],
        evidence=steps,
    )


@claim(
    "CO-06",
    hazard=HAZARD,
    sentence="The device meant to protect people against an arc sees the smallest arcing current at each LV place of work.",
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=same_rule("Smallest arcing current not below the pickup of the fast element, tolerance included", "IEEE 1584 practice", "C"),
)
def fast_device_sees_smallest_arc(walk: Walk) -> Outcome:
    """Arcing current in the device, reduced and normal, against the pickup of its fast element or the supervision."""
    chosen = low_voltage_places(walk)
    if not chosen:
        return NotApplicable("The file names no LV place of work.")
    found: list[Term] = []
    for place in chosen:
        found.extend(_seen_terms(walk, place))
    return found or NotApplicable("Light alone trips at every place of work: no current has to be seen.")


def _seen_terms(walk: Walk, place: str) -> list[Term]:
    fast = devices.fast_element(walk, arcs.point_of(walk, place), covered=arcs.covered(walk, place), before_main=arcs.point_of(walk, place) == SECONDARY)
    if fast is None:
        return []
    state = arcs.states(walk, place)[0]
    found = []
    for electrodes in arcs.configurations(walk, place):
        arc = arcs.arc(walk, place, state, electrodes, "reduced")
        value = devices.current_in(walk, arc.clearing, fast)

        def steps(case: int, arc: arcs.Arc = arc, value: Array = value) -> tuple[Step, ...]:
            first = fault_steps(walk, arcs.point_of(walk, place), "three-phase", case)
            reduced = Step("Iarc,min", f"reduced arcing current, {arc.electrodes}", "IEEE 1584 eq. (1), (2), (25)", f"Ibf = {in_words(at(walk, arc.bolted_current, case), 'A')}", in_words(at(walk, arc.arcing_current, case), "A"), "IEEE 1584-2018", "M")
            seen = Step("I", f"arcing current in {fast.device}", "its share, at its own voltage", "", in_words(at(walk, value, case), "A"), "partial currents", "D")
            return (*first, reduced, seen)

        cases = tuple(i for i in arcs.live_cases(walk, place) if fast.counts(walk, i))
        if cases:
            found.append(
                Term(
                    f"{place}, {electrodes}, {fast.device}, {fast.element}",
                    value,
                    fast.pickup,
                    "A",
                    len(walk.cases),
                    cases,
                    words=lambda case: walk.cases.words[case],
                    evidence=steps,
                    at_least=True,
                )
            )
    return found
