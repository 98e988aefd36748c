"""Claims: an arc cannot hurt the people who are allowed to be there. A walk comes in; AE-01, -02, -04, -08 go out."""

from __future__ import annotations

from collections.abc import Callable

from deadfront.claims.comparing import NotApplicable, Outcome, Term, claim, same_rule
from deadfront.claims.model import Step
from deadfront.claims.steps import at, clearing_steps, fault_steps
from deadfront.claims.wording import in_words
from deadfront.physics import ieee1584
from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import arcs, network
from deadfront.study.arcs import Arc, State
from deadfront.study.walk import Walk

HAZARD = "An arc that hurts the people who are allowed to be there"
MODEL = "IEEE 1584-2018"


@claim(
    "AE-01",
    hazard=HAZARD,
    sentence="At each LV place of work behind the main, the incident energy at the working distance stays within the clothing worn there, for maximum, minimum and reduced arcing current.",
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=same_rule("Incident energy not above the arc rating of the clothing", f"{MODEL}; NFPA 70E 130.5", "M"),
)
def energy_within_clothing(walk: Walk) -> Outcome:
    """Every low-voltage place but the line side of the main, in the state it is meant to be in."""
    return _energies(walk, lambda point: point != SECONDARY, "The file names no LV place of work behind the main.")


@claim(
    "AE-02",
    hazard=HAZARD,
    sentence="On the line side of the LV main, where only the MV side clears, the incident energy at the working distance stays within the clothing worn there.",
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=same_rule("Incident energy not above the arc rating of the clothing", f"{MODEL}; NFPA 70E 130.5", "M"),
)
def energy_before_main_within_clothing(walk: Walk) -> Outcome:
    """The places between the transformer and the main."""
    return _energies(walk, lambda point: point == SECONDARY, "The file names no place of work on the line side of the main.")


def low_voltage_places(walk: Walk) -> list[str]:
    """Places of work on the low-voltage side."""
    return [place for place in _named_places(walk) if network.side(walk, arcs.point_of(walk, place)) == "lv"]


def _named_places(walk: Walk) -> tuple[str, ...]:
    found = arcs.places(walk)
    if not found:
        walk.inputs.number("operation.places")
    return found


def _energies(walk: Walk, wanted: Callable[[str], bool], none: str) -> Outcome:
    chosen = [place for place in low_voltage_places(walk) if wanted(arcs.point_of(walk, place))]
    if not chosen:
        return NotApplicable(none)
    found: list[Term] = []
    for place in chosen:
        limit = walk.inputs.number(f"operation.places.{place}.clothing")
        found.extend(_energy_terms(walk, place, arcs.states(walk, place)[0], limit))
    return found


def _energy_terms(walk: Walk, place: str, state: State, limit: Array) -> list[Term]:
    return [_energy_term(walk, arc, limit) for arc in _arcs(walk, place, state)]


def _arcs(walk: Walk, place: str, state: State) -> list[Arc]:
    """Every arc of a place in a state: each electrode configuration, normal and reduced arcing current."""
    return [
        arcs.arc(walk, place, state, electrodes, kind)
        for electrodes in arcs.configurations(walk, place)
        for kind in ("normal", "reduced")
    ]


def _subject(arc: Arc) -> str:
    state = "" if arc.state == "no detection" else f", {arc.state}"
    return f"{arc.place}, {arc.electrodes}, {arc.kind} arcing current{state}"


def _energy_term(walk: Walk, arc: Arc, limit: Array) -> Term:
    return Term(
        _subject(arc),
        arc.energy,
        limit,
        "J/m2",
        len(walk.cases),
        arcs.live_cases(walk, arc.place),
        words=lambda case: walk.cases.words[case],
        evidence=lambda case: tuple(_arc_steps(walk, arc, case)),
    )


def _arc_steps(walk: Walk, arc: Arc, case: int) -> list[Step]:
    """From the bolted current over the arcing current and its clearing time to the energy."""
    setting = arcs.setting(walk, arc.place, arc.electrodes)
    distance, gap = in_words(at(walk, setting.working_distance, case), "m"), in_words(at(walk, setting.gap, case), "m")
    currents = arcs.arcing_currents(walk, arc.place, arc.electrodes)
    final, reduced = at(walk, currents.final, case), at(walk, currents.reduced, case)
    time = in_words(at(walk, arc.time, case), "s")
    steps = fault_steps(walk, arcs.point_of(walk, arc.place), "three-phase", case)
    steps.append(Step("Iarc", f"arcing current, {arc.electrodes}, gap {gap}", "eq. (1), (25); above 600 V interpolated, (16) to (18)", f"Ibf = {in_words(at(walk, arc.bolted_current, case), 'A')}", in_words(final, "A"), MODEL, "M"))
    if arc.kind == "reduced":
        variation = at(walk, ieee1584.variation_factor(setting.voltage, setting.electrodes), case)
        steps.append(Step("Iarc,min", "reduced arcing current", "Iarc (1 - 0.5 VarCf)", f"{in_words(final, 'A')} x (1 - 0.5 x {variation:.4g})", in_words(reduced, "A"), f"{MODEL}, eq. (2)", "V"))
    steps.extend(clearing_steps(walk, arc.clearing, case))
    uncapped = at(walk, arc.uncapped_time, case)
    if uncapped > at(walk, arc.time, case):
        steps.append(Step("T", "time of exposure", "the person has moved away", f"the arc itself lasts {in_words(uncapped, 's')}", time, "operation.places.*.exposure_limit", "C"))
    steps.append(Step("CF", "enclosure factor", "eq. (11) to (15)", "1 in the open", f"{at(walk, ieee1584.enclosure_factor(setting), case):.4g}", MODEL, "M"))
    steps.append(Step("E", f"incident energy at {distance}", "eq. (3) to (6)", f"T = {time}, D = {distance}, G = {gap}", f"{in_words(at(walk, arc.energy, case), 'J/m2')} ({at(walk, arc.energy, case) / 1e4:.4g} J/cm2)", MODEL, "M"))
    steps.append(Step("AFB", "arc-flash boundary, 1.2 cal/cm2", "eq. (7) to (10)", "", in_words(at(walk, arc.boundary, case), "m"), MODEL, "M"))
    return steps


@claim(
    "AE-04",
    hazard=HAZARD,
    sentence="The arc-flash boundary of each LV place of work lies inside the area that is kept clear.",
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=same_rule("Boundary at 1.2 cal/cm2 inside the area kept clear", "NFPA 70E 130.5; CSA Z462", "V2"),
)
def boundary_inside_area_kept_clear(walk: Walk) -> Outcome:
    """Every low-voltage place, in the state it is meant to be in."""
    chosen = low_voltage_places(walk)
    if not chosen:
        return NotApplicable("The file names no LV place of work.")
    found: list[Term] = []
    for place in chosen:
        limit = walk.inputs.number(f"operation.places.{place}.kept_clear")
        found.extend(_boundary_term(walk, arc, limit) for arc in _arcs(walk, place, arcs.states(walk, place)[0]))
    return found


def _boundary_term(walk: Walk, arc: Arc, limit: Array) -> Term:
    return Term(
        _subject(arc),
        arc.boundary,
        limit,
        "m",
        len(walk.cases),
        arcs.live_cases(walk, arc.place),
        words=lambda case: walk.cases.words[case],
        evidence=lambda case: tuple(_arc_steps(walk, arc, case)),
    )


@claim(
    "AE-08",
    hazard=HAZARD,
    sentence="With the arc detection out of service, or the maintenance setting on, the incident energy is known and is answered by the clothing or by no work.",
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=same_rule("Energy known for each state of the protection, and the work rule that answers it", "common practice, no source", "C"),
)
def energy_known_in_other_states(walk: Walk) -> Outcome:
    """Detection out of service against what is worn then; maintenance setting against the ordinary clothing."""
    found: list[Term] = []
    others = [(place, state) for place in low_voltage_places(walk) for state in arcs.states(walk, place)[1:]]
    if not others:
        return NotApplicable("No place of work has arc detection or a maintenance setting.")
    for place, state in others:
        limit = _limit_in_state(walk, place, state)
        found.extend(_energy_terms(walk, place, state, limit))
    return found


NO_WORK = 1e12
"""Limit where the work rule forbids the place in that state: the energy only has to be known, J/m2."""


def _limit_in_state(walk: Walk, place: str, state: State) -> Array:
    path = f"operation.places.{place}"
    if state == "maintenance setting on":
        return walk.inputs.number(f"{path}.clothing")
    if walk.inputs.maybe_word(f"{path}.without_detection") == "no work":
        return NO_WORK
    return walk.inputs.number(f"{path}.without_detection")

