"""Claims: what a transformer's windings stand until a fault behind it is cleared. A walk comes in; terms go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.claims import conductors
from deadfront.claims.comparing import Maker, Term, later
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, clearing_steps, fault_steps, seconds, where_of
from deadfront.claims.terms import Against, Cases, term
from deadfront.physics import damage_curve
from deadfront.physics.impedance import magnitude
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, PRIMARY, SECONDARY
from deadfront.study import arcs, fault_sizes, faults, network
from deadfront.study.clearing import NORMAL, Situation, clear
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

SMALLEST_RATING = 15e3
"""VA, below which the damage curve knows no category of three-phase transformer; IEEE C57.12.00 [V]."""

SEEN = Situation(detection=True)
"""What a fault with light may count on."""

IN_SERVICE = Assumed(
    "board.arc_detection.in_service",
    "An arc at the transformer's terminals is taken to be seen by the arc detection; while that is out of service the "
    "MV fuses alone end it, if they see it.",
    "reading of the file",
    "C",
    "Alarm on failure of the detection, and what is done until it is mended.",
)

HEATING = "heating, per-unit I2t"
"""s at rated current, not a time that anything lasts."""

RATED_DURATION = 2.0
"""s, for which a transformer stands the bolted through-fault where nothing else is given; IEC 60076-5 [V]."""


@dataclass(frozen=True, slots=True)
class _Fault:
    """A family of faults: where, which kind, bolted alone or of every size, and what may be counted on."""

    point: str
    kind: Kind
    bolted: bool
    situation: Situation

    @property
    def words(self) -> str:
        """The family in words."""
        size = "bolted" if self.bolted else "arcing to bolted"
        return f"{self.kind} fault, {size}" + (", seen by the arc detection" if self.situation.detection else "")


def through_faults(walk: Walk, cases: Cases) -> list[Maker]:
    """Heat in the transformer's winding, per unit, for faults of every size at its terminals and behind the main."""
    fed = tuple(i for i in cases if walk.cases.main[i] > 0.0)
    return [later(_through_fault, walk, fault, fed) for fault in _families(walk)]


def _families(walk: Walk) -> list[_Fault]:
    """At the terminals an arc is seen by the detection, where it covers them; a bolted fault makes no light."""
    kinds, found = conductors.lv_kinds(walk), []
    detection = NORMAL
    if _terminals_covered(walk):
        walk.inputs.note(IN_SERVICE)
        detection = SEEN
    for kind in kinds:
        if detection.detection:
            found.append(_Fault(SECONDARY, kind, True, NORMAL))
        found.append(_Fault(SECONDARY, kind, False, detection))
    return [*found, *(_Fault(LV_BUS, kind, False, NORMAL) for kind in kinds)]


def _terminals_covered(walk: Walk) -> bool:
    """Whether the light sensors see an arc between transformer and main."""
    return any(arcs.covered(walk, place) and _at_the_terminals(walk, place) for place in arcs.places(walk))


def _at_the_terminals(walk: Walk, place: str) -> bool:
    return walk.inputs.maybe_word(f"operation.places.{place}.at") == "line side of main"


def _through_fault(walk: Walk, fault: _Fault, cases: Cases) -> Term:
    """The supply's current and the time until it has gone; what other infeeds bring does not pass the windings.

    The windings' current is that of the secondary line, whatever the connection: of Dyn, Dzn, Yyn and YNyn no primary
    winding carries a larger multiple of its rated current. The fuses see less of an earth fault behind a delta.
    """
    point, kind = fault.point, fault.kind
    rated = walk.inputs.number("transformer.rating") / (
        np.sqrt(3.0) * walk.inputs.number("transformer.secondary_voltage")
    )
    bolted = faults.current(walk, point, kind, walk.method)
    total = bolted if fault.bolted else fault_sizes.arcing_to_bolted(walk, point, kind)
    clearing = clear(walk, point, kind, walk.method, total, fault.situation)
    supply = clearing.infeed("supply")
    ratio = supply.current / rated
    until = np.minimum(clearing.common_time, supply.time)
    time = np.where(np.less_equal(ratio, 0.0), 0.0, until)  # without current nothing is heated, however long it lasts
    value, limit = np.square(ratio) * time, _limit(walk, ratio)

    def steps(case: int) -> tuple[Step, ...]:
        numbers = f"{at(walk, ratio, case):.4g}^2 x {seconds(walk, time, case)}"
        share = f"{at(walk, total, case) / at(walk, bolted, case) * 100:.3g} % of the bolted fault"
        size = Step(
            "If", "size of the fault", "share of the bolted one", share, amperes(walk, total, case), "IEEE 242", "M"
        )
        meaning, heat = "heating of the winding, per unit of rated current", seconds(walk, value, case)
        heating = Step("I2t", meaning, "(I / Ir)^2 t", numbers, heat, "IEEE C57.109; IEC 60076-5", "M")
        return (*fault_steps(walk, point, kind, case), size, *clearing_steps(walk, clearing, case), heating)

    subject = f"Transformer at {where_of(walk, point)}, {fault.words}"
    return term(walk, subject, Against(value, limit, "s", quantity=HEATING), cases, steps)


def _limit(walk: Walk, ratio: Array) -> Array:
    """I2t a winding may take, per unit squared times s, for a current of `ratio` times rated.

    IEC: that of the bolted through-fault for its rated duration, at smaller currents too: heat that leaves the winding
    in a longer time is not counted [D].
    """
    own = walk.inputs.number("transformer.impedance")
    if walk.method == "iec":
        return np.square(1.0 / own) * _rated_duration(walk)
    rating = walk.inputs.highest("transformer.rating")
    if rating < SMALLEST_RATING:
        return np.nan
    category = damage_curve.transformer_category(rating, 3)
    frequent = False
    if category.knee_frequent != category.knee_infrequent:
        frequent = walk.inputs.word("transformer.faults_expected") == "frequent"
    source: Array = 0.0 if category.name in damage_curve.OWN_IMPEDANCE_ALONE else _source_impedance(walk)
    largest = damage_curve.largest_through_fault(own, source)
    return damage_curve.damage_heat(category, ratio, largest, frequent=frequent)


def _source_impedance(walk: Walk) -> Array:
    """Impedance before the transformer, per unit of its own rating."""
    ahead = magnitude(network.thevenin(walk, PRIMARY, walk.method).impedance)
    return (
        ahead * walk.inputs.number("transformer.rating") / np.square(walk.inputs.number("transformer.primary_voltage"))
    )


def _rated_duration(walk: Walk) -> Array:
    """How long the transformer withstands the bolted through-fault, s."""
    path = "transformer.through_fault_duration"
    text = "The transformer is taken to withstand the bolted through-fault for 2 s."
    assumed = Assumed(path, text, "IEC 60076-5, default duration", "V", "Transformer specification.")
    return walk.inputs.assume(path, RATED_DURATION, RATED_DURATION, assumed)
