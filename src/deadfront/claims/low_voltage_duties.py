"""Claims: duties of the low-voltage board. A walk comes in; one term per device, duty and kind of fault goes out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np

from deadfront.claims.comparing import Maker, Term, later
from deadfront.claims.duties import equal_heat_step
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, clearing_steps, fault_steps, peak_step, reactance_step
from deadfront.claims.terms import LARGEST_KINDS, Against, Cases, of_maximum_rule, term
from deadfront.physics import north_american
from deadfront.physics.north_american import LowVoltageDevice
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS
from deadfront.study import faults, ratings, through
from deadfront.study.clearing import clear
from deadfront.study.faults import Kind
from deadfront.study.walk import Walk

DUTY_SOURCE = "IEEE C37.13, UL 489, UL 248"


@dataclass(frozen=True, slots=True)
class LowVoltageBreaker:
    """A low-voltage breaker or fuse: its key in the station, its path in the file, its name."""

    key: str
    path: str
    name: str


def low_voltage_devices(walk: Walk) -> list[LowVoltageBreaker]:
    """Each low-voltage breaker or fuse of the station."""
    found = []
    for device in walk.station.devices:
        if device.kind == "breaker":
            found.append(LowVoltageBreaker(device.key, device.path, device.name))
        elif device.kind in ("tie", "generator"):
            found.append(LowVoltageBreaker(device.key, f"{device.path}.device", f"{device.name} breaker"))
    return found


def low_voltage_kinds(walk: Walk) -> tuple[Kind, ...]:
    """Kinds of fault that can draw the most: to earth only where the neutral is earthed."""
    return LARGEST_KINDS if walk.inputs.word("transformer.neutral") == "earthed" else ("three-phase",)


def current_through(walk: Walk, key: str, kind: Kind) -> Array:
    """Largest current a low-voltage device may have to interrupt, whichever side of it the fault is on.

    A feeder meets all of a fault behind it; any other device what comes through it, or what all others bring.
    """
    total = faults.current(walk, LV_BUS, kind, walk.method)
    if key.startswith("feeder "):
        return total
    shares = through.infeeds(walk, LV_BUS, kind, walk.method, total)
    rest: Array = 0.0
    for other, carried in shares.items():
        if other != key:
            rest = rest + carried.phase
    return np.maximum(shares[key].phase, np.minimum(rest, total))


def interrupting(walk: Walk, cases: Cases) -> list[Maker]:
    """Each low-voltage device against the worst fault it can meet, at its X/R; making capacity in the IEC practice.

    A power circuit breaker without instantaneous trip also has to carry the fault while it waits [M].
    """
    found = []
    for device in low_voltage_devices(walk):
        for kind in low_voltage_kinds(walk):
            found.append(later(_interrupting_of, walk, device, kind, cases))
        if _waits(walk, device):
            found += [later(_short_time, walk, device, kind, cases) for kind in low_voltage_kinds(walk)]
    return found


def _interrupting_of(walk: Walk, device: LowVoltageBreaker, kind: Kind, cases: Cases) -> list[Term]:
    current, rating = current_through(walk, device.key, kind), walk.inputs.number(f"{device.path}.interrupting")
    cases = of_maximum_rule(walk, cases)
    if walk.method == "iec":
        return _iec_interrupting(walk, device, kind, current, rating, cases)
    ratio = np.maximum(faults.reactance_ratio(walk, LV_BUS, walk.method, kind), faults.LEAST_RATIO)
    tested = tested_device(walk, device.path)
    factor = north_american.low_voltage_multiplying_factor(tested, ratio)

    def steps(case: int) -> tuple[Step, ...]:
        test = north_american.LOW_VOLTAGE_TEST_X_OVER_R[tested]
        numbers, size = f"X/R = {at(walk, ratio, case):.3g}", f"{at(walk, factor, case):.4g}"
        formula = f"1 up to X/R {test}; asymmetry over that of the test above"
        mf = Step("MF", f"multiplying factor, {tested}", formula, numbers, size, DUTY_SOURCE, "V2")
        numbers = f"{size} x {amperes(walk, current, case)}"
        duty = Step("Id", "duty", "MF I", numbers, amperes(walk, factor * current, case), DUTY_SOURCE, "V2")
        first = (*fault_steps(walk, LV_BUS, kind, case), reactance_step(walk, LV_BUS, case, kind))
        return (*first, _through_step(walk, device, current, case), mf, duty)

    subject = f"{device.name}, interrupting, {kind}"
    return [term(walk, subject, Against(factor * current, rating, "A"), cases, steps, kind)]


def _through_step(walk: Walk, device: LowVoltageBreaker, current: Array, case: int) -> Step:
    formula, size = "larger of the two sides of the device", amperes(walk, current, case)
    return Step("I", f"through {device.name}", formula, "", size, "partial currents", "D")


def tested_device(walk: Walk, path: str) -> LowVoltageDevice:
    """The device as its interrupting test knows it: a moulded case by its rating, never by the fault.

    Of a range of ratings the lowest counts: it was tested at the lower X/R, and so has the larger factor.
    """
    kind = walk.inputs.word(f"{path}.kind")
    if kind != "moulded-case breaker":
        return cast(LowVoltageDevice, kind)  # the words of the file are those of the tests
    rating = walk.inputs.lowest(f"{path}.interrupting")
    if rating > 20e3:  # steps of UL 489 by interrupting rating [V]
        return "moulded-case breaker over 20 kA"
    return "moulded-case breaker 10 to 20 kA" if rating > 10e3 else "moulded-case breaker to 10 kA"


def _iec_interrupting(
    walk: Walk, device: LowVoltageBreaker, kind: Kind, current: Array, rating: Array, cases: Cases
) -> list[Term]:
    """Breaking capacity against the initial current, making capacity against its peak."""
    peak = current * np.sqrt(2.0) * faults.common_peak_factor(walk, LV_BUS, walk.method)
    if device.key.startswith("feeder "):
        peak = faults.peak(walk, LV_BUS, kind, walk.method)  # all of the fault flows through it

    def steps(case: int) -> tuple[Step, ...]:
        return (*fault_steps(walk, LV_BUS, kind, case), _through_step(walk, device, current, case))

    def peak_steps(case: int) -> tuple[Step, ...]:
        return (*steps(case), peak_step(walk, LV_BUS, kind, case))

    subject = f"{device.name}, breaking, {kind}"
    found = [term(walk, subject, Against(current, rating, "A"), cases, steps, kind)]
    if walk.inputs.word(f"{device.path}.kind") != "fuse":
        against = Against(peak, ratings.making_capacity(walk, device.path), "A")
        found.append(term(walk, f"{device.name}, making, {kind}", against, cases, peak_steps, kind))
    return found


def _waits(walk: Walk, device: LowVoltageBreaker) -> bool:
    """Whether a device is a power circuit breaker that lets a fault flow until its delay has run."""
    power = walk.inputs.word(f"{device.path}.kind") in ("power circuit breaker", "fused power circuit breaker")
    delayed = walk.inputs.entry(f"{device.path}.trip") is not None
    return power and delayed and not walk.inputs.given(f"{device.path}.trip.instantaneous")


def _short_time(walk: Walk, device: LowVoltageBreaker, kind: Kind, cases: Cases) -> Term:
    """Short-time rating against the current through a breaker until a fault at the bus is cleared."""
    current = current_through(walk, device.key, kind)
    clearing = clear(walk, LV_BUS, kind, walk.method, faults.current(walk, LV_BUS, kind, walk.method))
    rated_time = walk.inputs.number(f"{device.path}.short_time.duration")
    value = current * np.sqrt(np.maximum(clearing.time / rated_time, 1.0))

    def steps(case: int) -> tuple[Step, ...]:
        first = (*fault_steps(walk, LV_BUS, kind, case), _through_step(walk, device, current, case))
        return (*first, *clearing_steps(walk, clearing, case), equal_heat_step(walk, value, rated_time, case))

    against = Against(value, walk.inputs.number(f"{device.path}.short_time.current"), "A")
    return term(walk, f"{device.name}, short time, {kind}", against, cases, steps, kind)


def bus_bracing(walk: Walk, cases: Cases) -> list[Maker]:
    """Peak at the low-voltage bus against its peak withstand."""
    return [later(_bus_peak, walk, kind, cases) for kind in low_voltage_kinds(walk)]


def _bus_peak(walk: Walk, kind: Kind, cases: Cases) -> Term:
    def steps(case: int) -> tuple[Step, ...]:
        return (*fault_steps(walk, LV_BUS, kind, case), peak_step(walk, LV_BUS, kind, case))

    against = Against(faults.peak(walk, LV_BUS, kind, walk.method), ratings.bus_peak(walk), "A")
    return term(walk, f"LV bus, peak, {kind}", against, of_maximum_rule(walk, cases), steps, kind)
