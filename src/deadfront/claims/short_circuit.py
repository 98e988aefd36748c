"""Claims: the station withstands and interrupts every fault. A walk comes in; the terms of SC-01 to SC-09 go out."""

from __future__ import annotations

from deadfront.claims import conductors, duties, low_voltage_duties, rated_voltages, through_faults
from deadfront.claims.comparing import (
    NotApplicable,
    Outcome,
    Questions,
    Term,
    claim,
    rule_by_practice,
    same_rule,
)
from deadfront.claims.model import Rule, Step
from deadfront.claims.terms import ordinary, paralleled
from deadfront.study.walk import Walk

HAZARD = "Faults that the station must withstand and interrupt"


@claim(
    "SC-01",
    hazard=HAZARD,
    needs=("supply", "terminations", "switch"),
    sentence=(
        "Every device on the MV side has a short-time and peak withstand at least equal to the worst fault there, "
        "for the time the upstream protection takes."
    ),
    rule=rule_by_practice(
        Rule(
            "Short-time and peak withstand not below the fault, for its duration; rated voltage not below the highest "
            "in service",
            "IEEE C37.74; IEEE 386",
            "M",
        ),
        Rule(
            "Rated short-time and peak withstand current not below the fault; rated voltage not below the highest "
            "voltage of the system",
            "IEC 62271-1",
            "M",
        ),
    ),
)
def medium_voltage_withstand(walk: Walk) -> Outcome:
    """Switch and connectors, thermal and peak, and at a voltage they are rated for."""
    voltages = [*rated_voltages.switch(walk), *rated_voltages.connectors(walk)]
    return Questions([*duties.medium_voltage_withstand(walk, ordinary(walk)), *voltages])


@claim(
    "SC-02",
    hazard=HAZARD,
    needs=("supply", "switch"),
    sentence="The MV switch may be closed onto the worst fault, as often as this site may have to.",
    rule=rule_by_practice(
        Rule(
            "Fault-closing rating not below the peak of the fault, at a rated voltage not below the highest in "
            "service; number of closings by class",
            "IEEE C37.74",
            "M",
        ),
        Rule(
            "Rated making current not below the peak, at a rated voltage not below the highest of the system; E1 two, "
            "E2 three, E3 five closings",
            "IEC 62271-103",
            "M",
        ),
    ),
)
def switch_closes_onto_fault(walk: Walk) -> Outcome:
    """Making current at a voltage the switch is rated for, and the number of closings."""
    needed = float(walk.inputs.whole("switch.required_closings"))
    allowed = float(walk.inputs.whole("switch.making_operations"))
    meaning, entry = "closings onto a fault the site may need", "switch.required_closings"
    step = Step("n", meaning, "entry of the file", "", f"{needed:g}", entry, "C")
    closings = Term(
        "MV switch, number of closings",
        needed,
        allowed,
        "1",
        len(walk.cases),
        (0,),
        words=lambda _case: "over its life between overhauls",
        evidence=lambda _case: (step,),
        quantity="closings",
    )
    making = [*duties.switch_making(walk, ordinary(walk)), *rated_voltages.switch(walk)]
    return Questions([*making, lambda: [closings]])


@claim(
    "SC-03",
    hazard=HAZARD,
    needs=("supply", "fuses"),
    sentence="The MV fuses interrupt the largest fault at their terminals at its X/R.",
    rule=rule_by_practice(
        Rule(
            "Interrupting rating not below the fault at its X/R; of a fuse alone the rated voltage not below the "
            "recovery voltage",
            "IEEE C37.41, C37.42 family; C37.48 practice",
            "C",
        ),
        Rule(
            "Rated maximum breaking current not below the fault; of a fuse alone the rated voltage not below the "
            "recovery voltage",
            "IEC 60282-1",
            "M",
        ),
    ),
)
def fuses_interrupt(walk: Walk) -> Outcome:
    """The limiter; the expulsion link alone where there is no limiter; at a voltage it is rated for."""
    return Questions([*duties.fuse_interrupting(walk, ordinary(walk)), *rated_voltages.fuse(walk)])


@claim(
    "SC-04",
    hazard=HAZARD,
    needs=("supply", "transformer", "board"),
    sentence="Each LV device interrupts the worst LV fault, motors and generators included, at its X/R.",
    rule=rule_by_practice(
        Rule(
            "Multiplying factor times first-cycle current not above the interrupting rating",
            "IEEE C37.13, UL 489, UL 248",
            "V2",
        ),
        Rule("Breaking capacity not below the fault, making capacity not below its peak", "IEC 60947-2", "M"),
    ),
)
def low_voltage_interrupts(walk: Walk) -> Outcome:
    """Main, feeders, tie and generator breakers."""
    return Questions(low_voltage_duties.interrupting(walk, ordinary(walk)))


@claim(
    "SC-05",
    hazard=HAZARD,
    needs=("supply", "transformer", "board"),
    sentence="The LV bus bracing covers the worst peak.",
    rule=rule_by_practice(
        Rule("Bracing not below the fault, peak against peak", "UL 891 practice", "C"),
        Rule("Rated peak withstand current not below the peak", "IEC 61439-1", "M"),
    ),
)
def bus_is_braced(walk: Walk) -> Outcome:
    """Peak against peak."""
    return Questions(low_voltage_duties.bus_bracing(walk, ordinary(walk)))


@claim(
    "SC-06",
    hazard=HAZARD,
    needs=("supply", "fuses", "transformer", "board"),
    sentence=(
        "The transformer is inside its through-fault limit for every LV fault, arcing to bolted, until it is cleared."
    ),
    rule=rule_by_practice(
        Rule(
            "I2t in the winding, per unit of rated current, not above the damage curve: 1250 s, and from the knee on "
            "2 s of the largest through-fault where category and frequency of faults ask for it",
            "IEEE C57.109",
            "M",
        ),
        Rule(
            "I2t in the winding not above that of the bolted through-fault for its rated duration", "IEC 60076-5", "V"
        ),
    ),
)
def transformer_survives(walk: Walk) -> Outcome:
    """Faults before and behind the main, each until its own devices have cleared it."""
    return Questions(through_faults.through_faults(walk, ordinary(walk)))


@claim(
    "SC-07",
    hazard=HAZARD,
    needs=("supply",),
    sentence="MV cable conductor and screen survive the worst fault until it is cleared.",
    rule=rule_by_practice(
        Rule("Current not above the conductor's and the screen's short-circuit curve", "ICEA P-32-382, P-45-482", "V"),
        Rule("Adiabatic short-circuit capacity of conductor and screen", "IEC 60949", "V"),
    ),
)
def medium_voltage_cable_survives(walk: Walk) -> Outcome:
    """Conductor and screen of each MV cable, for a fault in it right behind its supply and at the unit."""
    none = "The file has no MV cable: the unit stands at the supply point."
    return Questions(conductors.medium_voltage_cables(walk, ordinary(walk)), none)


@claim(
    "SC-08",
    hazard=HAZARD,
    needs=("supply", "transformer", "board"),
    sentence="LV cables and the neutral or earth conductors survive the worst fault until it is cleared.",
    rule=rule_by_practice(
        Rule("Conductor heating until clearing not above its limit", "NEC practice; ICEA P-32-382", "C"),
        Rule("k2 S2 not below the let-through of the fault", "IEC 60364-4-43, -5-54", "V"),
    ),
)
def low_voltage_cables_survive(walk: Walk) -> Outcome:
    """Each feeder's cable for a fault at either end, its earth conductor, and the board's neutral bar."""
    none = "The board has no feeders, and its neutral is not earthed."
    return Questions(conductors.low_voltage_cables(walk, ordinary(walk)), none)


@claim(
    "SC-09",
    hazard=HAZARD,
    needs=("supply", "transformer", "board"),
    sentence=(
        "The unit still holds with both supplies, the tie or the standby generator paralleled, "
        "where the file allows it."
    ),
    rule=same_rule(
        "The duties of SC-01 to SC-08 with every permitted parallel infeed", "common practice, no source", "C"
    ),
)
def holds_when_paralleled(walk: Walk) -> Outcome:
    """The duties again, in the cases with two infeeds; whether a second infeed may run in parallel has to be said."""
    for device, path in (("supply B", "other_feed"), ("tie", "board.tie"), ("generator", "standby_generator")):
        if walk.station.has(device):
            walk.inputs.word(f"{path}.parallel")
    cases = paralleled(walk)
    if not cases:
        return NotApplicable("The file permits no two infeeds to be closed together.")
    makers = [
        *duties.medium_voltage_withstand(walk, cases),
        *duties.switch_making(walk, cases),
        *duties.fuse_interrupting(walk, cases),
        *low_voltage_duties.interrupting(walk, cases),
        *low_voltage_duties.bus_bracing(walk, cases),
        *through_faults.through_faults(walk, cases),
        *conductors.medium_voltage_cables(walk, cases),
        *conductors.low_voltage_cables(walk, cases),
    ]
    return Questions(makers)
