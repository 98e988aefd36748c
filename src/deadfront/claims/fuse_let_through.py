"""Claims: what the limiter lets through, the unit withstands. A walk comes in; the terms of OC-07 and OC-08 go out."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from deadfront.claims.comparing import NotApplicable, Outcome, OutsideModel, Questions, Term, claim, later, same_rule
from deadfront.claims.duties import medium_voltage_kinds
from deadfront.claims.fuse_load import HAZARD
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, fault_steps, reactance_step, seconds
from deadfront.claims.terms import Against, of_maximum_rule, standing, term
from deadfront.claims.wording import in_words
from deadfront.physics import let_through as physical
from deadfront.physics.types import Array
from deadfront.station.station import PRIMARY
from deadfront.study import fuse_entries, fuse_pair, let_through, ratings, secondary_faults
from deadfront.study.faults import Kind
from deadfront.study.let_through import LetThrough
from deadfront.study.walk import Walk

SOURCE = "bound from the steepest rise of the current"


def _unlimited(walk: Walk) -> Outcome | None:
    """Why nothing is let through by a limiter, or nothing is known of it."""
    if not fuse_entries.given(walk, "limiter"):
        return NotApplicable("The file has no current-limiting fuse.")
    if text := fuse_entries.unfit_curve(walk, "limiter"):
        return OutsideModel(text)
    return None


@claim(
    "OC-07",
    hazard="A tank that opens on an internal fault",
    needs=("supply", "fuses", "transformer"),
    sentence="An internal fault is cleared by the limiter before the tank reaches its withstand pressure.",
    rule=same_rule(
        "Arc energy until the limiter has cleared at most what the tank withstands closed",
        "common practice",
        "C",
    ),
)
def internal_fault_leaves_tank_closed(walk: Walk) -> Outcome:
    """Energy of an arc under liquid: of each kind of bolted fault at the primary terminals, and at the crossing."""
    if outcome := _unlimited(walk):
        return outcome
    makers = [later(_tank_energy, walk, kind) for kind in medium_voltage_kinds(walk, PRIMARY)]
    if fuse_pair.lacks(walk):
        return Questions(makers)
    if text := fuse_pair.unknown(walk):
        return OutsideModel(text)
    return Questions([*makers, later(_tank_energy_at_crossing, walk)])


def _tank_energy(walk: Walk, kind: Kind) -> Term:
    found, voltage = let_through.behind_limiter(walk, kind), let_through.internal_arc_voltage(walk)
    energy = let_through.arc_energy(walk, found.energy, found.clearing)

    def steps(case: int) -> tuple[Step, ...]:
        numbers = f"{in_words(at(walk, voltage, case), 'V')}, {seconds(walk, found.clearing, case)}"
        meaning, size = "bound of the arc energy until the limiter has cleared", in_words(at(walk, energy, case), "J")
        last = Step("E", meaning, "U sqrt(I2t t)", numbers, size, "integral of |i| at most sqrt(I2t t)", "D")
        return (*fault_steps(walk, PRIMARY, kind, case), _energy_step(walk, found, case), last)

    limit = walk.inputs.number("transformer.tank.arc_energy")
    subject = f"Tank, arc energy of an internal {kind} fault"
    return term(walk, subject, Against(energy, limit, "J"), secondary_faults.fed_cases(walk), steps, kind)


def _tank_energy_at_crossing(walk: Walk) -> Term:
    """The smallest internal fault that the limiter clears is the one that burns longest."""
    found, voltage = fuse_pair.lowest_crossing(walk, mixed=False), let_through.internal_arc_voltage(walk)
    heat, time = let_through.at_crossing(walk, found)
    energy = let_through.arc_energy(walk, heat, time)

    def steps(case: int) -> tuple[Step, ...]:
        crossing = amperes(walk, found.current, case)
        numbers = f"{in_words(at(walk, voltage, case), 'V')}, {crossing} for {seconds(walk, time, case)}"
        meaning, size = "bound of the arc energy until the limiter has cleared", in_words(at(walk, energy, case), "J")
        return (Step("E", meaning, "U sqrt(I2t t)", numbers, size, "integral of |i| at most sqrt(I2t t)", "D"),)

    subject = "Tank, arc energy of the smallest internal fault that the limiter clears"
    limit = walk.inputs.number("transformer.tank.arc_energy")
    return standing(subject, Against(energy, limit, "J"), partial(steps, 0))


def _energy_step(walk: Walk, found: LetThrough, case: int) -> Step:
    """I2t let through."""
    size, total = (in_words(at(walk, each, case), "A2s") for each in (found.energy, _total(walk)))
    numbers = (
        f"{total} of the limiter; {seconds(walk, found.clearing, case)} at {amperes(walk, found.prospective, case)}"
    )
    formula = "total clearing I2t; where not every closing angle is limited, at least I2 t of the clearing curve"
    return Step("I2t", "let through by the limiter", formula, numbers, size, "fuse data", "D")


def _total(walk: Walk) -> Array:
    together = fuse_entries.in_parallel(walk, "limiter")
    return physical.paralleled_energy(walk.inputs.number("fuses.limiter.total_energy"), together)


@claim(
    "OC-08",
    hazard=HAZARD,
    needs=("supply", "switch", "terminations", "fuses", "transformer"),
    sentence="Peak current and I2t let through by the limiter stay below what tank, switch and connectors withstand.",
    rule=same_rule("Cut-off current and let-through I2t at most the withstand of each part", "engineering", "D"),
)
def let_through_is_withstood(walk: Walk) -> Outcome:
    """Peak, effective current and I2t of each kind of bolted fault behind the limiter, in all that carries them."""
    return _unlimited(walk) or Questions(
        [
            later(part, walk, kind)
            for kind in medium_voltage_kinds(walk, PRIMARY)
            for part in (_peaks, _effective, _energies)
        ]
    )


def _peaks(walk: Walk, kind: Kind) -> list[Term]:
    found = let_through.behind_limiter(walk, kind)

    def steps(case: int) -> tuple[Step, ...]:
        threshold = amperes(walk, physical.threshold_at_crest(found.melting, walk.inputs.number("frequency")), case)
        melting = in_words(at(walk, found.melting, case), "A2s")
        frequency = in_words(at(walk, walk.inputs.number("frequency"), case), "Hz")
        numbers = f"W = {melting}, {frequency}, + {at(walk, found.allowance, case):.0%}, limits from {threshold}"
        formula = "(3 s W)^(1/3), s = sqrt(2) 2 pi f I sqrt(1 + (R/X)^2); at most the unlimited peak"
        cut = Step("ic", "peak let through", formula, numbers, amperes(walk, found.peak, case), SOURCE, "D")
        back, own = amperes(walk, found.fed_back, case), "peak that the board brings, in the tank only"
        board = Step("ib", own, "peak factor x its share of the fault", "", back, "partial currents", "D")
        return (*fault_steps(walk, PRIMARY, kind, case), reactance_step(walk, PRIMARY, case, kind), cut, board)

    cases = of_maximum_rule(walk, secondary_faults.fed_cases(walk))
    return [
        term(walk, f"{part}, peak let through, {kind}", Against(peak, limit, "A"), cases, steps, kind)
        for part, peak, limit in _peak_withstands(walk, found)
    ]


def _peak_withstands(walk: Walk, found: LetThrough) -> Iterator[tuple[str, Array, Array]]:
    """Parts, the peak in them, and their peak withstand, A; connectors of IEEE 386 have none of their own.

    In the tank the peaks of both sides add, whatever their instants: on the safe side.
    """
    yield "MV switch", found.peak, walk.inputs.number("switch.peak_withstand")
    if walk.inputs.given("terminations.peak_withstand"):
        yield "MV connectors", found.peak, walk.inputs.number("terminations.peak_withstand")
    yield "Tank", found.peak + found.fed_back, walk.inputs.number("transformer.tank.peak_current")


def _effective(walk: Walk, kind: Kind) -> Term:
    """Apparent rms current behind the limiter against the short-time current of the switch."""
    found = let_through.behind_limiter(walk, kind)
    apparent = np.minimum(physical.effective_current(found.peak), found.prospective)

    def steps(case: int) -> tuple[Step, ...]:
        numbers, size = (
            f"{amperes(walk, found.peak, case)} / {physical.EFFECTIVE_DIVISOR}",
            amperes(walk, apparent, case),
        )
        last = Step("Ie", "apparent rms current let through", "ic / 2.3, at most I", numbers, size, "up-over-down", "C")
        return (*fault_steps(walk, PRIMARY, kind, case), last)

    limit, cases = walk.inputs.number("switch.short_time.current"), secondary_faults.fed_cases(walk)
    subject = f"MV switch, effective current let through, {kind}"
    return term(walk, subject, Against(apparent, limit, "A"), of_maximum_rule(walk, cases), steps, kind)


def _energies(walk: Walk, kind: Kind) -> list[Term]:
    found = let_through.behind_limiter(walk, kind)

    def steps(case: int) -> tuple[Step, ...]:
        return (*fault_steps(walk, PRIMARY, kind, case), _energy_step(walk, found, case))

    cases = secondary_faults.fed_cases(walk)
    return [
        term(walk, f"{part}, I2t let through, {kind}", Against(found.energy, limit, "A2s"), cases, steps, kind)
        for part, limit in _energy_withstands(walk, found)
    ]


def _energy_withstands(walk: Walk, found: LetThrough) -> Iterator[tuple[str, Array]]:
    """Parts and their I2t withstand, A2s: of the connectors that of their short-time current for the clearing time."""
    short, lasts = (walk.inputs.number(f"switch.short_time.{name}") for name in ("current", "duration"))
    yield "MV switch", np.square(short) * lasts
    connectors, time = (
        ratings.short_time_current(walk, found.clearing),
        ratings.least_connector_time(walk, found.clearing),
    )
    yield "MV connectors", np.square(connectors) * time
    yield "Tank", walk.inputs.number("transformer.tank.let_through")
