"""Study: each device of the station becomes its positive-sequence impedance, per method and operating case."""

from __future__ import annotations

import numpy as np

from deadfront.physics import elements, iec60909, north_american
from deadfront.physics.impedance import NONE, Impedance, scaled
from deadfront.physics.types import Array
from deadfront.station.station import Device
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.walk import Method, Walk, remembered

INSULATION_SERVICE = {"xlpe": 90.0, "epr": 90.0, "pvc": 70.0}
INSULATION_LIMIT = {"xlpe": 250.0, "epr": 250.0, "pvc": 160.0}
"""Conductor temperatures in degC, in service and at the end of a short circuit; IEC 60364-5-54 and 60949 [V]."""

LARGEST_MOTOR_X_OVER_R = {"below 50 hp": 6.0, "50 hp and above": 25.0}
"""X/R of induction motors, upper ends of the usual spans 3 to 6 and 6 to 25 [C]."""

# --- voltages ---


@remembered
def voltage_factor(walk: Walk, method: Method, side: str) -> Array:
    """Voltage factor of a method on one side.

    returns   c of IEC 60909-0:2016 Table 1, its maximum under the maximum rule; 1 in the North American method (cases,)
    source    IEC 60909-0:2016 [V2; c min 0.90 at +/- 10 % V]
    """
    if method == "north-american":
        return np.ones(len(walk.cases))
    highest, lowest = voltage_factor_pair(walk, side)
    return np.where(walk.cases.maximum > 0, highest, lowest)


def voltage_factor_pair(walk: Walk, side: str) -> tuple[Array, Array]:
    """c max and c min of one side; c max U_n does not exceed the highest voltage the utility states."""
    nominal = nominal_voltage(walk, side)
    if side == "mv":
        factors = iec60909.voltage_factor(nominal, 0.10)
        if not walk.inputs.given("supply.highest_voltage"):
            return factors
        limit = walk.inputs.number("supply.highest_voltage")
        return iec60909.limited_voltage_factor(factors.maximum, nominal, limit), factors.minimum
    tolerance = walk.inputs.maybe_word("board.voltage_tolerance")
    if tolerance is None:
        walk.inputs.note(
            Assumed(
                "board.voltage_tolerance",
                "The low-voltage system is taken as held within +/- 10 %: c max 1.10, c min 0.90.",
                "IEC 60909-0:2016 Table 1",
                "V",
                "Supply contract, or the national standard for the supply voltage.",
            )
        )
    return iec60909.voltage_factor(nominal, 0.06 if tolerance == "6 %" else 0.10)


def nominal_voltage(walk: Walk, side: str) -> Array:
    """Nominal line-to-line voltage of one side, V."""
    return walk.inputs.number("supply.voltage" if side == "mv" else "board.voltage")


@remembered
def driving_voltage(walk: Walk, method: Method, side: str) -> Array:
    """Voltage between lines that drives a fault, V, shape (boxes, cases).

    IEC: c U_n. North American: the prefault voltage; on the low-voltage side the nominal or the no-load voltage behind
    the rated ratio, the larger under the maximum rule and the smaller under the minimum rule (a 600 V winding on a
    575 V system drives 4 % more than nominal).

    source    IEC 60909-0:2016 [V]; E = 1.0 per unit of the operating voltage, IEEE 141 practice [C]
    """
    nominal = nominal_voltage(walk, side)
    if method == "iec" or side == "mv":
        return voltage_factor(walk, method, side) * nominal
    no_load = nominal_voltage(walk, "mv") / turns_ratio(walk)
    return np.where(walk.cases.maximum > 0, np.maximum(nominal, no_load), np.minimum(nominal, no_load))


@remembered
def turns_ratio(walk: Walk) -> Array:
    """Rated ratio of the transformer, primary over secondary, main tap."""
    return walk.inputs.number("transformer.primary_voltage") / walk.inputs.number("transformer.secondary_voltage")


# --- positive sequence ---


@remembered
def positive(walk: Walk, device: str, method: Method) -> Impedance:
    """Positive-sequence impedance of a device at its own voltage level, ohm; of the transformer at its secondary.

    raises    MissingEntryError: the file lacks an entry the device needs
    """
    kind = walk.station.device(device).kind
    path = walk.station.device(device).path
    if kind == "supply":
        return _supply(walk, path, method)
    if kind == "cable":
        return cable(walk, path, method) if medium_voltage_cable_given(walk, path) else NONE
    if kind == "transformer":
        return transformer(walk, method)
    if kind == "tie":
        return _tie(walk, method)
    if kind == "generator":
        return _generator(walk, method)
    if kind == "motors":
        return _motors(walk, path, method)
    return cable(walk, f"{path}.cable", method) if device.startswith("feeder ") else NONE


def source_x_over_r(walk: Walk, device: Device, method: Method) -> Array:
    """X/R of a source as the file states it: the method's factors act on both parts alike."""
    if device.kind == "motors":
        return _motor_x_over_r(walk, device.path, method)
    return walk.inputs.number(f"{device.path}.x_over_r")


def supply_fault_current(walk: Walk, path: str) -> Array:
    """Three-phase fault current at a supply point, A, from a current or a power."""
    if walk.inputs.given(f"{path}.fault_power") and not walk.inputs.given(f"{path}.fault_current"):
        return walk.inputs.number(f"{path}.fault_power") / (np.sqrt(3.0) * walk.inputs.number("supply.voltage"))
    return walk.inputs.number(f"{path}.fault_current")


def _supply(walk: Walk, path: str, method: Method) -> Impedance:
    return elements.network_feeder(
        walk.inputs.number("supply.voltage"),
        supply_fault_current(walk, path),
        walk.inputs.number(f"{path}.x_over_r"),
        voltage_factor(walk, method, "mv"),
    )


def medium_voltage_cable_given(walk: Walk, path: str) -> bool:
    """Whether the file has this MV cable; where it has none the unit is taken to stand at the supply point."""
    if walk.inputs.entry(path) is not None:
        return True
    text = f"The file has no {path}: no impedance is counted between that supply point and the unit."
    walk.inputs.note(Assumed(path, text, "reading of the file", "C", "Cable route, or the drawing of the connection."))
    return False


def cable(walk: Walk, path: str, method: Method, *, zero: bool = False) -> Impedance:
    """Impedance of a cable, its resistance cold under the maximum rule and hot under the minimum rule, ohm."""
    prefix = "zero_" if zero else ""
    one = elements.line(
        walk.inputs.number(f"{path}.{prefix}resistance"),
        walk.inputs.number(f"{path}.{prefix}reactance"),
        walk.inputs.number(f"{path}.length"),
        _temperature_factor(walk, path, method),
    )
    return scaled(one, 1.0 / cables_in_parallel(walk, path))


def cables_in_parallel(walk: Walk, path: str) -> int:
    """Cables per phase; one where the file says nothing, as its form states."""
    return walk.inputs.whole(f"{path}.parallel", otherwise=1)


def _temperature_factor(walk: Walk, path: str, method: Method) -> Array:
    """Resistance over resistance at 20 degC: 1 when cold, by the method's own rule when hot."""
    if method == "iec":
        hot = elements.iec_temperature_factor(conductor_temperature(walk, path, "fault_temperature", INSULATION_LIMIT))
    else:
        service = conductor_temperature(walk, path, "operating_temperature", INSULATION_SERVICE)
        hot = elements.conductor_resistance_at(1.0, 20.0, service, elements.ZERO_TEMPERATURE[_metal(walk, path)])
    return np.where(walk.cases.maximum > 0, 1.0, hot)


def _metal(walk: Walk, path: str) -> elements.Metal:
    return "aluminium" if walk.inputs.word(f"{path}.conductor") == "aluminium" else "copper"


def conductor_temperature(walk: Walk, path: str, entry: str, table: dict[str, float]) -> Array:
    """A conductor temperature of the file, or the one its insulation allows, listed as an assumption; degC."""
    insulation = walk.inputs.maybe_word(f"{path}.insulation")
    if walk.inputs.given(f"{path}.{entry}") or insulation is None:
        return walk.inputs.number(f"{path}.{entry}")
    value = table[insulation]
    when = "in service" if table is INSULATION_SERVICE else "at the end of the fault"
    text = f"{path}: the conductor is taken as hot as {insulation} allows {when}, {value:g} degC."
    assumed = Assumed(f"{path}.{entry}", text, "IEC 60364-5-54, by insulation", "V", "Cable data sheet and load.")
    return walk.inputs.assume(f"{path}.{entry}", value, value, assumed)


@remembered
def transformer(walk: Walk, method: Method) -> Impedance:
    """Transformer at its secondary voltage, ohm; corrected by KT under the maximum rule of IEC 60909-0 only."""
    plain = transformer_uncorrected(walk)
    if method == "north-american":
        return plain
    return scaled(plain, np.where(walk.cases.maximum > 0, transformer_correction(walk), 1.0))


@remembered
def transformer_uncorrected(walk: Walk) -> Impedance:
    """Transformer impedance from its rating plate and test report, ohm at the secondary."""
    read = walk.inputs.number
    voltage, rating = read("transformer.secondary_voltage"), read("transformer.rating")
    if walk.inputs.given("transformer.x_over_r") and not walk.inputs.given("transformer.load_loss"):
        return elements.transformer_from_x_over_r(
            read("transformer.impedance"), read("transformer.x_over_r"), voltage, rating
        )
    return elements.transformer(read("transformer.impedance"), read("transformer.load_loss"), voltage, rating)


@remembered
def transformer_correction(walk: Walk) -> Array:
    """KT of IEC 60909-0, from the low-voltage side's c max."""
    return elements.transformer_correction(
        transformer_uncorrected(walk),
        walk.inputs.number("transformer.secondary_voltage"),
        walk.inputs.number("transformer.rating"),
        voltage_factor_pair(walk, "lv")[0],
    )


def _tie(walk: Walk, method: Method) -> Impedance:
    return elements.network_feeder(
        driving_voltage(walk, method, "lv"),
        walk.inputs.number("board.tie.fault_current"),
        walk.inputs.number("board.tie.x_over_r"),
    )


def _generator(walk: Walk, method: Method) -> Impedance:
    """Generator with KG; under the minimum rule KG counts only where it lowers the current [D: texts are silent]."""
    read = walk.inputs.number
    voltage, reactance = read("standby_generator.voltage"), read("standby_generator.subtransient_reactance")
    rating = read("standby_generator.rating")
    resistance = reactance * np.square(voltage) / rating / read("standby_generator.x_over_r")
    plain = elements.synchronous_generator(rating, voltage, reactance, resistance)
    if method == "north-american":
        return plain
    power_factor, highest = read("standby_generator.power_factor"), voltage_factor_pair(walk, "lv")[0]
    factor = elements.generator_correction(read("board.voltage"), voltage, highest, reactance, power_factor)
    return scaled(plain, np.where(walk.cases.maximum > 0, factor, np.maximum(factor, 1.0)))


def _motors(walk: Walk, path: str, method: Method) -> Impedance:
    read = walk.inputs.number
    plain = elements.asynchronous_motor(
        read(f"{path}.power"),
        read(f"{path}.efficiency"),
        read(f"{path}.power_factor"),
        read(f"{path}.locked_rotor_ratio"),
        read("board.voltage"),
        1.0 / _motor_x_over_r(walk, path, method),
    )
    if method == "iec":
        return plain
    size = walk.inputs.word(f"{path}.size")
    machine = "induction motor under 50 hp" if size == "below 50 hp" else "induction motor 50 to 1000 hp"
    return scaled(plain, north_american.machine_reactance_multiplier(machine, "multivoltage", "first cycle"))


def _motor_x_over_r(walk: Walk, path: str, method: Method) -> Array:
    """X/R of a motor group: the file's, or the method's own, listed as an assumption."""
    entry = f"{path}.x_over_r"
    if method == "iec":
        value = 1 / 0.42  # R/X of a group of low-voltage motors with their cables, IEC 60909-0 [V]
        text = f"{path}: R/X is taken as 0.42, the value for a group of low-voltage motors with their cables."
        source, tag = "IEC 60909-0, motor groups", "V"
    else:
        size = walk.inputs.maybe_word(f"{path}.size")
        if size is None:
            raise MissingEntryError(f"{path}.size")
        value = LARGEST_MOTOR_X_OVER_R[size]
        text = f"{path}: X/R is taken as {value:g}, the upper end of what is usual for motors of this size."
        source, tag = "practice", "C"
    assumed = Assumed(entry, text, source, tag, "Motor data sheets and cable lengths.")
    return walk.inputs.assume(entry, value, value, assumed)


def motor_feeds_back(walk: Walk, path: str) -> bool:
    """Whether a motor group brings fault current: not on converters that feed nothing back."""
    return walk.inputs.maybe_word(f"{path}.drive") != "converter"
