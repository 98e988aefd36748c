"""Claims: an arc cannot hurt the people who are allowed to be there. A walk comes in; AE-01, -02, -04, -08 go out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np

from deadfront.claims.comparing import (
    Maker,
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
from deadfront.claims.steps import amperes, at, clearing_steps, fault_steps
from deadfront.claims.terms import Against, term
from deadfront.claims.wording import in_words
from deadfront.physics import ieee1584
from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import arcs, network
from deadfront.study.arcs import Arc, CurrentKind, State
from deadfront.study.walk import Walk

HAZARD = "An arc that hurts the people who are allowed to be there"
MODEL = "IEEE 1584-2018"

Result = Literal["energy", "boundary", "known"]
"""What of an arc is held against its limit; `known`: only that its energy has an end."""


def low_voltage_places(walk: Walk) -> list[str]:
    """Places of work on the low-voltage side."""
    return [place for place in _named_places(walk) if network.side(walk, arcs.point_of(walk, place)) == "lv"]


def leaves_model(places: Callable[[Walk], Sequence[str]]) -> Callable[[Walk], str | None]:
    """What says which entries of some places leave the range of the model, in words; None where none does."""
    return lambda walk: " ".join(text for place in places(walk) if (text := arcs.refusal(walk, place))) or None


def _named_places(walk: Walk) -> tuple[str, ...]:
    found = arcs.places(walk)
    if not found:
        walk.inputs.number("operation.places")
    return found


def _behind_main(walk: Walk) -> list[str]:
    return [place for place in low_voltage_places(walk) if arcs.point_of(walk, place) != SECONDARY]


def _before_main(walk: Walk) -> list[str]:
    return [place for place in low_voltage_places(walk) if arcs.point_of(walk, place) == SECONDARY]


def _in_other_states(walk: Walk) -> list[tuple[str, State]]:
    """Places with each state of their protection but the one they are meant to be in."""
    return [(place, state) for place in low_voltage_places(walk) for state in arcs.states(walk, place)[1:]]


WITHIN_CLOTHING = rule_by_practice(
    Rule("Incident energy not above the arc rating of the clothing", f"{MODEL}; NFPA 70E 130.5", "M"),
    Rule("Incident energy not above the arc rating of the clothing", f"{MODEL}; common practice, no source", "C"),
)


@claim(
    "AE-01",
    hazard=HAZARD,
    sentence=(
        "At each LV place of work behind the main, the incident energy at the working distance "
        "stays within the clothing worn there, for maximum, minimum and reduced arcing current."
    ),
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=WITHIN_CLOTHING,
    leaves_model=leaves_model(_behind_main),
)
def energy_within_clothing(walk: Walk) -> Outcome:
    """Every low-voltage place but the line side of the main, in the state it is meant to be in."""
    return _energies(walk, _behind_main(walk), "The file names no LV place of work behind the main.")


@claim(
    "AE-02",
    hazard=HAZARD,
    sentence=(
        "On the line side of the LV main, where only the MV side clears, the incident energy at the "
        "working distance stays within the clothing worn there."
    ),
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=WITHIN_CLOTHING,
    leaves_model=leaves_model(_before_main),
)
def energy_before_main_within_clothing(walk: Walk) -> Outcome:
    """The places between the transformer and the main."""
    return _energies(walk, _before_main(walk), "The file names no place of work on the line side of the main.")


def _energies(walk: Walk, chosen: Sequence[str], none: str) -> Outcome:
    if not chosen:
        return NotApplicable(none)
    found: list[Maker] = []
    for place in chosen:
        limit = walk.inputs.number(f"operation.places.{place}.clothing")
        found.extend(_every_arc(walk, place, arcs.states(walk, place)[0], ("energy", limit)))
    return Questions(found, none)


def _every_arc(walk: Walk, place: str, state: State, what: tuple[Result, Array]) -> list[Maker]:
    """Energy or boundary of every arc of a place in a state, against its limit.

    Each electrode configuration, normal and reduced arcing current.
    """
    return [
        later(_arc_term, walk, (place, state, electrodes, kind), what)
        for electrodes in arcs.configurations(walk, place)
        for kind in ("normal", "reduced")
    ]


def _arc_term(walk: Walk, which: tuple[str, State, str, CurrentKind], what: tuple[Result, Array]) -> Term:
    arc, (result, limit) = arcs.arc(walk, *which), what
    against = {
        "energy": lambda: Against(arc.energy, limit, "J/m2"),
        "boundary": lambda: Against(arc.boundary, limit, "m"),
        "known": lambda: Against(_unknown(arc.energy), limit, "1", quantity="energies without end"),
    }[result]()
    subject = _subject(arc) + (", no work then, 0 where the energy is known" if result == "known" else "")
    cases = arcs.live_cases(walk, arc.place)
    return term(walk, subject, against, cases, lambda case: tuple(_arc_steps(walk, arc, case)))


def _unknown(energy: Array) -> Array:
    """0 where an energy has an end, 2 where it has none, NaN outside the model."""
    return np.where(np.isnan(energy), np.nan, np.where(np.less(energy, np.inf), 0.0, 2.0))


def _subject(arc: Arc) -> str:
    state = "" if arc.state == "no detection" else f", {arc.state}"
    return f"{arc.place}, {arc.electrodes}, {arc.kind} arcing current{state}"


def _arc_steps(walk: Walk, arc: Arc, case: int) -> list[Step]:
    """From the bolted current over the arcing current and its clearing time to the energy."""
    setting = arcs.setting(walk, arc.place, arc.electrodes)
    distance, gap = in_words(at(walk, setting.working_distance, case), "m"), in_words(at(walk, setting.gap, case), "m")
    time, uncapped = at(walk, arc.time, case), at(walk, arc.uncapped_time, case)
    steps = fault_steps(walk, arcs.point_of(walk, arc.place), "three-phase", case)
    steps += _current_steps(walk, arc, case, gap)
    steps += clearing_steps(walk, arc.clearing, case)
    if uncapped > time:
        numbers, source = f"the arc itself lasts {in_words(uncapped, 's')}", "operation.places.*.exposure_limit"
        size = in_words(time, "s")
        steps.append(Step("T", "time of exposure", "the person has moved away", numbers, size, source, "C"))
    factor = f"{at(walk, ieee1584.enclosure_factor(setting), case):.4g}"
    steps.append(
        Step("CF", "enclosure factor", "eq. (11) to (15) by the box; without one CF = 1", "", factor, MODEL, "M")
    )
    energy = at(walk, arc.energy, case)
    numbers = f"T = {in_words(time, 's')}, D = {distance}, G = {gap}"
    size = energy_in_words(energy)
    steps.append(Step("E", f"incident energy at {distance}", "eq. (3) to (6)", numbers, size, MODEL, "M"))
    reach = in_words(at(walk, arc.boundary, case), "m")
    steps.append(Step("AFB", "arc-flash boundary, 1.2 cal/cm2", "eq. (7) to (10)", "", reach, MODEL, "M"))
    return steps


def energy_in_words(energy: float) -> str:
    """Incident energy in cal/cm2 with J/cm2 beside it; the second only of a number that there is."""
    words = in_words(energy, "J/m2")
    return f"{words} ({energy / 1e4:.4g} J/cm2)" if np.isfinite(energy) else words


def _current_steps(walk: Walk, arc: Arc, case: int, gap: str) -> list[Step]:
    """Arcing current, and the reduced one where that burns."""
    currents = arcs.arcing_currents(walk, arc.place, arc.electrodes)
    final = amperes(walk, currents.final, case)
    meaning, numbers = (
        f"arcing current, {arc.electrodes}, gap {gap}",
        f"Ibf = {amperes(walk, arc.bolted_current, case)}",
    )
    formula = "eq. (1), (25); above 600 V interpolated, (16) to (18)"
    steps = [Step("Iarc", meaning, formula, numbers, final, MODEL, "M")]
    if arc.kind == "reduced":
        setting = arcs.setting(walk, arc.place, arc.electrodes)
        variation = at(walk, ieee1584.variation_factor(setting.voltage, setting.electrodes), case)
        numbers, size = f"{final} x (1 - 0.5 x {variation:.4g})", amperes(walk, currents.reduced, case)
        formula, source = "Iarc (1 - 0.5 VarCf)", f"{MODEL}, eq. (2)"
        steps.append(Step("Iarc,min", "reduced arcing current", formula, numbers, size, source, "V"))
    return steps


@claim(
    "AE-04",
    hazard=HAZARD,
    sentence="The arc-flash boundary of each LV place of work lies inside the area that is kept clear.",
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=rule_by_practice(
        Rule("Boundary at 1.2 cal/cm2 inside the area kept clear", "NFPA 70E 130.5; CSA Z462", "V2"),
        Rule("Boundary at 1.2 cal/cm2 inside the area kept clear", f"{MODEL}; EN 50110-1 sets no boundary", "C"),
    ),
    leaves_model=leaves_model(low_voltage_places),
)
def boundary_inside_area_kept_clear(walk: Walk) -> Outcome:
    """Every low-voltage place, in the state it is meant to be in."""
    chosen = low_voltage_places(walk)
    if not chosen:
        return NotApplicable("The file names no LV place of work.")
    found: list[Maker] = []
    for place in chosen:
        limit = walk.inputs.number(f"operation.places.{place}.kept_clear")
        found.extend(_every_arc(walk, place, arcs.states(walk, place)[0], ("boundary", limit)))
    return Questions(found)


@claim(
    "AE-08",
    hazard=HAZARD,
    sentence=(
        "With the arc detection out of service, or the maintenance setting on, the incident energy is "
        "known and is answered by the clothing or by no work."
    ),
    needs=("supply", "fuses", "transformer", "board", "operation"),
    rule=same_rule(
        "Energy known for each state of the protection, and the work rule that answers it",
        "common practice, no source",
        "C",
    ),
    leaves_model=leaves_model(lambda walk: list(dict.fromkeys(place for place, _ in _in_other_states(walk)))),
)
def energy_known_in_other_states(walk: Walk) -> Outcome:
    """Detection out of service against what is worn then; maintenance setting against the ordinary clothing."""
    found: list[Maker] = []
    others = _in_other_states(walk)
    if not others:
        return NotApplicable("No place of work has arc detection or a maintenance setting.")
    for place, state in others:
        found.extend(_every_arc(walk, place, state, _answer_in_state(walk, place, state)))
    return Questions(found)


def _answer_in_state(walk: Walk, place: str, state: State) -> tuple[Result, Array]:
    """What answers the energy in a state: the clothing worn then; or no work is done, and it only has to be known."""
    path = f"operation.places.{place}"
    if state == "maintenance setting on":
        return "energy", walk.inputs.number(f"{path}.clothing")
    if walk.inputs.maybe_word(f"{path}.without_detection") == "no work":
        return "known", 1.0
    return "energy", walk.inputs.number(f"{path}.without_detection")
