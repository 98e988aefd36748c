"""Claims: switch and fuses as one combination. A walk comes in; the terms of OC-11 go out."""

from __future__ import annotations

from functools import partial

import numpy as np

from deadfront.claims.comparing import (
    Maker,
    NotApplicable,
    Outcome,
    OutsideModel,
    Questions,
    Term,
    claim,
    later,
    same_rule,
)
from deadfront.claims.fuse_load import HAZARD
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, fault_steps, seconds
from deadfront.claims.terms import Against, standing, term
from deadfront.physics import let_through
from deadfront.physics import switch_fuse as physical
from deadfront.physics.curves import TimeCurrentCurve
from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import devices, fuse_entries, secondary_faults
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

STANDARD = "IEC 62271-105"


@claim(
    "OC-11",
    hazard=HAZARD,
    needs=("supply", "switch", "fuses", "transformer"),
    sentence=(
        "Transfer and take-over current of the fused switch are within its ratings, and the transfer current lies "
        "below the bolted LV fault."
    ),
    rule=same_rule(
        "Transfer current, read at 0.9 of the fuse-initiated opening time, at most the rated one and below the bolted "
        "LV fault; take-over current at most the rated one; a fuse that melts below its minimum opens the switch",
        STANDARD,
        "M",
    ),
)
def fused_switch_takes_over(walk: Walk) -> Outcome:
    """Transfer current against rating and fault, take-over current, and the striker."""
    if walk.inputs.word("switch.fused") == "no":
        return NotApplicable("Switch and fuses are no combination: nothing is handed from one to the other.")
    if not fuse_entries.given(walk, "limiter"):
        return NotApplicable("The file has no current-limiting fuse for the switch to take over from.")
    if text := fuse_entries.unfit_curve(walk, "limiter"):
        return OutsideModel(text)
    if walk.inputs.word("switch.striker") == "no":
        unknown = fuse_entries.smallest_melting(walk)[1]
        return OutsideModel(unknown) if unknown else Questions([later(_without_striker, walk)])
    makers: list[Maker] = [later(_transfer, walk), later(_fault_above_transfer, walk)]
    if walk.inputs.given("switch.release_opening"):
        makers.append(later(_take_over, walk))
    return Questions(makers)


def _curve(walk: Walk) -> TimeCurrentCurve:
    return devices.curve(walk, walk.inputs.word("fuses.limiter.curve"))


def _transfer_current(walk: Walk) -> Array:
    """Transfer current of the fuses of a phase together, A."""
    one = physical.transfer_current(_curve(walk), walk.inputs.number("switch.fuse_opening"))
    return let_through.paralleled_current(one, fuse_entries.in_parallel(walk, "limiter"))


def _transfer_step(walk: Walk, case: int) -> Step:
    opening = seconds(walk, walk.inputs.number("switch.fuse_opening"), case)
    size = amperes(walk, _transfer_current(walk), case)
    formula = "minimum pre-arcing curve at 0.9 T0"
    return Step("Itr", "transfer current", formula, f"T0 = {opening}", size, f"{STANDARD}, earlier IEC 60420", "V")


def _transfer(walk: Walk) -> Term:
    """Transfer current against what the switch breaks when a striker opens it."""
    value, limit = _transfer_current(walk), walk.inputs.number("switch.transfer_current")
    evidence = partial(_transfer_evidence, walk)
    return standing("Fused switch, transfer current", Against(value, limit, "A"), evidence)


def _transfer_evidence(walk: Walk) -> tuple[Step, ...]:
    return (_transfer_step(walk, 0),)


def _fault_above_transfer(walk: Walk) -> Term:
    """Bolted LV fault on the MV side above the transfer current: then the fuses clear it alone."""
    fault = secondary_faults.primary_line(walk, "three-phase")

    def steps(case: int) -> tuple[Step, ...]:
        size = amperes(walk, fault, case)
        seen = Step("ITF", "bolted LV fault on the MV side", "I / n", "", size, "turns ratio", "V")
        return (*fault_steps(walk, SECONDARY, "three-phase", case), seen, _transfer_step(walk, case))

    against = Against(fault, _transfer_current(walk), "A", at_least=True)
    subject = "Bolted LV fault against the transfer current"
    return term(walk, subject, against, secondary_faults.fed_cases(walk), steps, "three-phase")


def _take_over(walk: Walk) -> Term:
    """Take-over current against what the switch breaks when its release opens it."""
    opening = walk.inputs.number("switch.release_opening")
    path, value = "switch.release_relay", physical.EXTERNAL_RELAY_TIME
    text = f"The external relay of the fused switch is taken to need {value:g} s."
    relay = walk.inputs.assume(path, value, value, Assumed(path, text, STANDARD, "M", "Relay data sheet."))
    one = physical.take_over_current(_curve(walk), opening, relay)
    current = let_through.paralleled_current(one, fuse_entries.in_parallel(walk, "limiter"))

    def steps(case: int) -> tuple[Step, ...]:
        numbers = f"{seconds(walk, opening, case)} + {seconds(walk, relay, case)}"
        formula, size = "longest operating curve at opening and relay time", amperes(walk, current, case)
        return (Step("Ito", "take-over current", formula, numbers, size, STANDARD, "M"),)

    limit = walk.inputs.number("switch.take_over_current")
    return standing("Fused switch, take-over current", Against(current, limit, "A"), partial(steps, 0))


def _without_striker(walk: Walk) -> Term:
    """Without a striker the fuse alone must break every current that melts it."""
    together = fuse_entries.in_parallel(walk, "limiter")
    melts = fuse_entries.smallest_melting(walk)[0]
    minimum = let_through.paralleled_current(walk.inputs.number("fuses.limiter.minimum_interrupting"), together)

    def steps(case: int) -> tuple[Step, ...]:
        size = amperes(walk, np.asarray(melts), case)
        meaning, formula = "smallest current that melts the fuse", "first point of its curve"
        numbers = f"I3 = {at(walk, minimum, case):.4g} A"
        return (Step("I1", meaning, formula, numbers, size, "curve of the file", "V"),)

    subject = "Fuse whose striker does not open the switch: smallest current that melts it"
    return standing(subject, Against(melts, minimum, "A", at_least=True), partial(steps, 0))
