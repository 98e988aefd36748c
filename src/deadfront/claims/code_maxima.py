"""Claims: what an installation code limits. A walk comes in; the terms of OC-09 and CO-05 go out."""

from __future__ import annotations

import numpy as np

from deadfront.claims import coordination, fuse_load
from deadfront.claims.comparing import (
    Maker,
    NotApplicable,
    Outcome,
    Questions,
    Term,
    claim,
    later,
    rule_by_practice,
)
from deadfront.claims.model import Rule, Step
from deadfront.claims.steps import amperes, at, seconds
from deadfront.claims.terms import Against, standing
from deadfront.physics import code_maxima
from deadfront.physics.code_maxima import Device
from deadfront.physics.earth_fault_protection import EarthFaultDemand, earth_fault_demand
from deadfront.physics.types import Array
from deadfront.study import devices
from deadfront.study.inputs import MissingEntryError
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

NFPA_70, CSA_C22_1 = "NFPA 70", "CSA C22.1"
MAIN = "LV main breaker"
CSA_LOW_VOLTAGE = 750.0
"""V, up to which CSA C22.1 Table 50 takes a secondary for low voltage [M]."""


@claim(
    "OC-09",
    hazard=fuse_load.HAZARD,
    needs=("fuses", "transformer"),
    sentence=(
        "The protection of the transformer's primary, and of its secondary, is within the code maximum, or within the "
        "ratings that the application rule of the practice permits."
    ),
    rule=rule_by_practice(
        Rule("Rating not above the code's share of rated current", "NFPA 70 450.3(A); CSA C22.1 26-250, Table 50", "M"),
        Rule("Rating within 1.5 to 2 times rated current, 2 to 3 below 100 kVA", "application rule to IEC 60787", "V"),
    ),
)
def within_code_maximum(walk: Walk) -> Outcome:
    """The smaller rating of the series pair, since current above it is ended; the LV main where the code asks for it.

    The next standard size counts as each code permits: NFPA 70 by note 1, CSA C22.1 up for a fuse and
    down for a breaker.
    """
    if walk.method == "iec":
        return Questions([later(_guide_terms, walk)])
    code = walk.inputs.word("code")
    return Questions([later(_primary, walk, code), *_secondary_makers(walk, code)])


def _secondary_makers(walk: Walk, code: str) -> list[Maker]:
    """The secondary is not asked for where the code lets the primary protect alone."""
    primary_alone = code == CSA_C22_1 or _supervised(walk)
    if walk.inputs.entry("board.main") is None and primary_alone:
        return []
    return [later(_secondary, walk, code)]


def _supervised(walk: Walk) -> bool:
    return walk.inputs.maybe_word("transformer.supervised") == "yes"


def _row(walk: Walk, code: str) -> str:
    """Row of the code's table: by supervision (NFPA 70), by the presence of a secondary device."""
    alone = walk.inputs.entry("board.main") is None
    if code == CSA_C22_1:
        return "26-250" if alone else "Table 50"
    return "any" if not _supervised(walk) else "supervised, primary only" if alone else "supervised"


def _primary(walk: Walk, code: str) -> Term:
    return _against_code(walk, code, "primary fuse", "MV fuses, smaller rating of the pair", fuse_rating(walk))


def fuse_rating(walk: Walk) -> Array:
    """Rating of the fuse that limits the load: the smaller of the series pair, A."""
    names = [name for name in ("bayonet", "limiter") if walk.inputs.entry(f"fuses.{name}") is not None]
    if not names:
        raise MissingEntryError("fuses.limiter")
    rating: Array = np.inf
    for name in names:
        rating = np.minimum(rating, walk.inputs.number(f"fuses.{name}.rating"))
    return rating


def _secondary(walk: Walk, code: str) -> Term:
    """The main's rating, not its setting: a setting can be raised."""
    device: Device = "low-voltage secondary"
    fused = walk.inputs.maybe_word("board.main.kind") == "fuse"
    if code == CSA_C22_1 and walk.inputs.highest("transformer.secondary_voltage") > CSA_LOW_VOLTAGE:
        device = "secondary fuse" if fused else "secondary breaker"
    return _against_code(walk, code, device, MAIN, walk.inputs.number("board.main.rating"), fused=fused)


def _against_code(walk: Walk, code: str, device: Device, subject: str, rating: Array, *, fused: bool = True) -> Term:
    side = "primary" if device.startswith("primary") else "secondary"
    voltage = walk.inputs.number(f"transformer.{side}_voltage")
    rated = walk.inputs.number("transformer.rating") / (np.sqrt(3.0) * voltage)
    row, impedance = _row(walk, code), walk.inputs.number("transformer.impedance")
    multiple_of = code_maxima.nfpa_multiple if code == NFPA_70 else code_maxima.csa_multiple
    multiple = multiple_of(row, device, impedance)
    up = code_maxima.note_1_applies(row) if code == NFPA_70 else fused
    rounded = code_maxima.next_rating_up if up else code_maxima.next_rating_down
    limit = rounded(code_maxima.NEC_RATINGS, multiple * rated)

    def steps() -> tuple[Step, ...]:
        source = f"NFPA 70 Table 450.3(A), {row}" if code == NFPA_70 else f"CSA C22.1 {row}"
        share = f"{at(walk, multiple, 0) * 100:.0f} %"
        meaning, size = f"rated {side} current", amperes(walk, rated, 0)
        first = Step("Ir", meaning, "S / (sqrt(3) U)", "", size, "nameplate", "V")
        numbers = f"{share} of {size}, next standard rating {'up' if up else 'down'}"
        return (first, Step("Imax", "code maximum", "share x Ir", numbers, amperes(walk, limit, 0), source, "M"))

    return standing(subject, Against(rating, limit, "A"), steps)


def _guide_terms(walk: Walk) -> list[Term]:
    """The window of the application rule; there is no code maximum in the IEC practice."""
    power = walk.inputs.highest("transformer.rating")
    voltage = walk.inputs.number("transformer.primary_voltage")
    rated = walk.inputs.number("transformer.rating") / (np.sqrt(3.0) * voltage)
    window, rating = code_maxima.iec_guide_window(power, rated), fuse_rating(walk)

    def steps() -> tuple[Step, ...]:
        size = amperes(walk, rated, 0)
        first = Step("Ir", "rated primary current", "S / (sqrt(3) U)", "", size, "nameplate", "V")
        ends = f"{amperes(walk, window.least, 0)} to {amperes(walk, window.most, 0)}"
        return (first, Step("In", "ratings that fit", "multiples of Ir", size, ends, "application rule", "V"))

    most, least = Against(rating, window.most, "A"), Against(rating, window.least, "A", at_least=True)
    return [
        standing("MV fuses, largest rating that fits", most, steps),
        standing("MV fuses, smallest rating that fits", least, steps),
    ]


@claim(
    "CO-05",
    hazard=coordination.HAZARD,
    needs=("transformer", "board"),
    not_in_iec="The IEC practice has no such rule; CO-04 asks for the time in which an earth fault goes.",
    sentence="LV earth-fault protection exists, and is set as the code demands, where the code demands it.",
    rule=rule_by_practice(
        Rule("Pickup at most 1200 A; at most 1 s at 3000 A and above", "NFPA 70 230.95; CSA C22.1 14-102", "M"),
        Rule("No such demand in this practice", "IEC 60364", "C"),
    ),
)
def earth_fault_protection_is_set(walk: Walk) -> Outcome:
    """The main's earth-fault element: its setting, and its latest time at the current that the code names."""
    if walk.inputs.word("transformer.neutral") == "isolated":
        return NotApplicable("The LV neutral is not earthed: the rule speaks of solidly earthed star systems.")
    code, voltage = walk.inputs.word("code"), walk.inputs.highest("board.voltage")
    rating = walk.inputs.highest("board.main.rating")
    demand = earth_fault_demand(code, voltage, rating)
    if demand is None:
        found = f"{voltage:.0f} V between lines and a main of {rating:.0f} A"
        return NotApplicable(f"{code} demands no earth-fault protection at {found}.")
    if walk.inputs.entry("board.main.trip.earth") is None:
        raise MissingEntryError("board.main.trip.earth")
    return Questions([later(_pickup_term, walk, demand), later(_delay_term, walk, demand)])


def _source(walk: Walk) -> str:
    return "NFPA 70 230.95" if walk.inputs.word("code") == NFPA_70 else "CSA C22.1 14-102"


def _tested(walk: Walk) -> Step:
    meaning, how = "performance of the protection", "tested by primary current when first installed"
    return Step("test", meaning, how, "", "to be recorded", f"{_source(walk)}, performance test", "M")


def _pickup_term(walk: Walk, demand: EarthFaultDemand) -> Term:
    pickup = walk.inputs.number("board.main.trip.earth.pickup")

    def steps() -> tuple[Step, ...]:
        size = amperes(walk, pickup, 0)
        setting = Step("Ig", "earth-fault pickup of the main", "setting", "", size, _source(walk), demand.tag)
        return (setting, _tested(walk))

    return standing(f"{MAIN}, earth-fault pickup", Against(pickup, demand.largest_pickup, "A"), steps)


def _delay_term(walk: Walk, demand: EarthFaultDemand) -> Term:
    """Latest time of the earth-fault element with the breaker's opening, at the current that the code names."""
    carried = Carried(0.0, demand.at_current, 1.0)
    operations = devices.low_voltage(walk, "board.main", MAIN, carried)
    time = next(operation.time for operation in operations if operation.element == devices.EARTH_ELEMENT)

    def steps() -> tuple[Step, ...]:
        numbers, size = f"at {demand.at_current:.0f} A", seconds(walk, time, 0)
        latest = Step("t", "latest clearing time", "delay + opening", numbers, size, _source(walk), demand.tag)
        return (latest, _tested(walk))

    subject = f"{MAIN}, earth fault of {demand.at_current:.0f} A"
    return standing(subject, Against(time, demand.longest_time, "s"), steps)
