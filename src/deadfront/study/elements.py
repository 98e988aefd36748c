"""Study: each device of the station becomes its sequence impedances, per method and per operating case."""

from __future__ import annotations

import numpy as np

from deadfront.physics import elements, iec60909, north_american
from deadfront.physics.impedance import Impedance, from_magnitude, magnitude, scaled, series, x_over_r
from deadfront.physics.types import Array
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.walk import Method, Walk, remembered

INSULATION_SERVICE = {"xlpe": 90.0, "epr": 90.0, "pvc": 70.0}
INSULATION_LIMIT = {"xlpe": 250.0, "epr": 250.0, "pvc": 160.0}
"""Conductor temperatures in degC, in service and at the end of a short circuit; IEC 60364-5-54 and 60949 [V]."""


@remembered
def voltage_factor(walk: Walk, method: Method, side: str) -> Array:
    """c of IEC 60909-0:2016 Table 1 per operating case, shape (cases,); 1 in the North American method."""
    if method == "north-american":
        return np.ones(len(walk.cases))
    highest, lowest = voltage_factor_pair(walk, side)
    return np.where(walk.cases.maximum > 0, highest, lowest)


def voltage_factor_pair(walk: Walk, side: str) -> tuple[float, float]:
    """c max and c min of one side."""
    if side == "mv":
        return iec60909.voltage_factor(walk.inputs.constant("supply.voltage"), 0.10)
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
    return iec60909.voltage_factor(walk.inputs.constant("board.voltage"), 0.06 if tolerance == "6 %" else 0.10)


def nominal_voltage(walk: Walk, side: str) -> Array:
    """Nominal line-to-line voltage of one side, V."""
    return walk.inputs.number("supply.voltage" if side == "mv" else "board.voltage")


@remembered
def turns_ratio(walk: Walk) -> Array:
    """Rated ratio of the transformer, primary over secondary, main tap."""
    return walk.inputs.number("transformer.primary_voltage") / walk.inputs.number("transformer.secondary_voltage")


@remembered
def positive(walk: Walk, device: str, method: Method) -> Impedance:
    """Positive-sequence impedance of a device at its own voltage level, ohm; of the transformer at its secondary."""
    kind = walk.station.device(device).kind
    path = walk.station.device(device).path
    if kind == "supply":
        return _supply(walk, path, method)
    if kind == "cable":
        return cable(walk, path, method) if walk.inputs.entry(path) is not None else Impedance(0.0, 0.0)
    if kind == "transformer":
        return transformer(walk, method)
    if kind == "tie":
        return _tie(walk, method)
    if kind == "generator":
        return _generator(walk, method)
    if kind == "motors":
        return _motors(walk, path, method)
    if device.startswith("feeder ") and walk.inputs.entry(f"{path}.cable") is not None:
        return cable(walk, f"{path}.cable", method)
    return Impedance(0.0, 0.0)


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


def cable(walk: Walk, path: str, method: Method, *, zero: bool = False) -> Impedance:
    """Impedance of a cable, its resistance cold under the maximum rule and hot under the minimum rule."""
    prefix = "zero_" if zero else ""
    parallel = walk.inputs.entry(f"{path}.parallel") or 1
    length = walk.inputs.number(f"{path}.length")
    one = elements.line(
        walk.inputs.number(f"{path}.{prefix}resistance"),
        walk.inputs.number(f"{path}.{prefix}reactance"),
        length,
        _temperature_factor(walk, path, method),
    )
    return scaled(one, 1.0 / float(parallel))  # type: ignore[arg-type]


def _temperature_factor(walk: Walk, path: str, method: Method) -> Array:
    """Resistance over resistance at 20 degC: 1 when cold, by the method's own rule when hot."""
    if method == "iec":
        hot = elements.iec_temperature_factor(conductor_temperature(walk, path, "fault_temperature", INSULATION_LIMIT))
    else:
        constant = elements.ZERO_TEMPERATURE[_metal(walk, path)]
        hot = elements.conductor_resistance_at(
            1.0, 20.0, conductor_temperature(walk, path, "operating_temperature", INSULATION_SERVICE), constant
        )
    return np.where(walk.cases.maximum > 0, 1.0, hot)


def _metal(walk: Walk, path: str) -> elements.Metal:
    return "aluminium" if walk.inputs.word(f"{path}.conductor") == "aluminium" else "copper"


def conductor_temperature(walk: Walk, path: str, entry: str, table: dict[str, float]) -> Array:
    """A conductor temperature of the file, or the one its insulation allows, listed as an assumption."""
    if walk.inputs.given(f"{path}.{entry}"):
        return walk.inputs.number(f"{path}.{entry}")
    insulation = walk.inputs.maybe_word(f"{path}.insulation")
    if insulation is None:
        return walk.inputs.number(f"{path}.{entry}")
    value = table[insulation]
    text = f"{path}: the conductor is taken as hot as {insulation} allows, {value:g} degC, for the smallest currents."
    return walk.inputs.assume(
        f"{path}.{entry}",
        value,
        value,
        Assumed(f"{path}.{entry}", text, "IEC 60364-5-54, limits by insulation", "V", "Cable data sheet and load."),
    )


@remembered
def transformer(walk: Walk, method: Method) -> Impedance:
    """Transformer at its secondary voltage; corrected by KT under the maximum rule of IEC 60909-0 only."""
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
        walk.inputs.number("board.voltage"),
        walk.inputs.number("board.tie.fault_current"),
        walk.inputs.number("board.tie.x_over_r"),
        voltage_factor(walk, method, "lv"),
    )


def _generator(walk: Walk, method: Method) -> Impedance:
    read = walk.inputs.number
    voltage, reactance = read("standby_generator.voltage"), read("standby_generator.subtransient_reactance")
    rating = read("standby_generator.rating")
    resistance = reactance * np.square(voltage) / rating / read("standby_generator.x_over_r")
    plain = elements.synchronous_generator(rating, voltage, reactance, resistance)
    if method == "north-american":
        return plain
    factor = elements.generator_correction(
        read("board.voltage"), voltage, voltage_factor_pair(walk, "lv")[0], reactance, read("standby_generator.power_factor")
    )
    return scaled(plain, np.where(walk.cases.maximum > 0, factor, 1.0))


def _motors(walk: Walk, path: str, method: Method) -> Impedance:
    read = walk.inputs.number
    ratio = _motor_x_over_r(walk, path)
    plain = elements.asynchronous_motor(
        read(f"{path}.power"),
        read(f"{path}.efficiency"),
        read(f"{path}.power_factor"),
        read(f"{path}.locked_rotor_ratio"),
        read("board.voltage"),
        1.0 / ratio,
    )
    if method == "iec":
        return plain
    size = walk.inputs.word(f"{path}.size")
    machine = "induction motor under 50 hp" if size == "below 50 hp" else "induction motor 50 to 1000 hp"
    return scaled(plain, north_american.machine_reactance_multiplier(machine, "multivoltage", "first cycle"))


def _motor_x_over_r(walk: Walk, path: str) -> Array:
    value = 1 / 0.42
    return walk.inputs.assume(
        f"{path}.x_over_r",
        value,
        value,
        Assumed(
            f"{path}.x_over_r",
            f"{path}: R/X is taken as 0.42, the value for a group of low-voltage motors with their cables.",
            "IEC 60909-0, motor groups",
            "V",
            "Motor data sheets and cable lengths.",
        ),
    )


def motor_feeds_back(walk: Walk, path: str) -> bool:
    """Whether a motor group brings fault current: not on converters that feed nothing back."""
    return walk.inputs.maybe_word(f"{path}.drive") != "converter"


# --- zero sequence ---


@remembered
def supply_zero(walk: Walk, path: str, method: Method) -> Impedance | None:
    """Zero-sequence impedance of a supply, neutral impedance included; None where the neutral is not earthed."""
    earthing = walk.inputs.word("supply.earthing")
    if earthing in ("isolated", "resonant"):
        return None
    z1 = positive(walk, "supply A" if path == "supply" else "supply B", method)
    voltage, factor = walk.inputs.number("supply.voltage"), voltage_factor(walk, method, "mv")
    if walk.inputs.given(f"{path}.earth_fault_current"):
        return _zero_from_current(walk, path, z1, factor * voltage)
    if not walk.inputs.given(f"{path}.x0_over_x1"):
        raise_missing(walk, f"{path}.earth_fault_current")
    z0 = elements.network_zero_sequence_from_ratios(
        z1, walk.inputs.number(f"{path}.x0_over_x1"), walk.inputs.number(f"{path}.r0_over_x0")
    )
    if earthing != "impedance":
        return z0
    resistance = walk.inputs.number("supply.neutral_resistance") if walk.inputs.given("supply.neutral_resistance") else 0.0
    reactance = walk.inputs.number("supply.neutral_reactance") if walk.inputs.given("supply.neutral_reactance") else 0.0
    return series(z0, Impedance(3.0 * resistance, 3.0 * reactance))


def _zero_from_current(walk: Walk, path: str, z1: Impedance, driving: Array) -> Impedance:
    """Z0 from a stated line-to-earth fault current; where R0/X0 is not given its angle is taken as that of Z1.

    A range of the three-phase current and a range of the earth-fault current come from the same utility letter: the
    smallest belongs to the smallest. A pair that no passive network can have is held at Z0 = Z1/100.
    """
    walk.inputs.note(
        Assumed(
            f"{path}.zero_sequence_angle",
            "The zero-sequence impedance of the supply is taken at the angle of its positive-sequence impedance.",
            "simplification, no source",
            "C",
            "Ask the utility for R0 and X0.",
        )
    )
    total = np.sqrt(3.0) * driving / walk.inputs.number(f"{path}.earth_fault_current")
    return from_magnitude(np.maximum(total - 2.0 * magnitude(z1), 0.01 * magnitude(z1)), x_over_r(z1))


def raise_missing(walk: Walk, path: str) -> None:
    """Say that an entry is missing, in the way the walk's inputs gather it."""
    walk.inputs.number(path)


@remembered
def transformer_zero(walk: Walk, method: Method) -> Impedance:
    """Zero-sequence impedance of the transformer seen from its low-voltage star, ohm at the secondary."""
    connection = walk.inputs.word("transformer.connection")
    z1 = transformer(walk, method)
    if connection.startswith("Dyn"):
        r_low, r_high, x_low, x_high, source, tag = 1.0, 1.0, 0.95, 1.0, "IEC TR 60909-4 example: R 1.0, X 0.95", "V"
    elif connection.startswith("Dzn"):
        r_low, r_high, x_low, x_high, source, tag = 0.4, 0.4, 0.1, 0.1, "order of magnitude for zigzag windings", "M"
    elif walk.inputs.given("transformer.zero_sequence.x0_over_x1"):
        r_low, r_high, x_low, x_high, source, tag = 1.0, 1.0, 1.0, 1.0, "stated ratio", "C"
    else:
        raise MissingEntryError("transformer.zero_sequence.x0_over_x1")
    ratios = [
        walk.inputs.assume(
            f"transformer.zero_sequence.{name}",
            low,
            high,
            Assumed(
                f"transformer.zero_sequence.{name}",
                f"{symbol} of the transformer is taken as {_span(low, high)} of {symbol[0]}1 (no zero-sequence test report).",
                source,
                tag,
                "Zero-sequence impedance in the transformer's test report.",
            ),
        )
        for name, symbol, low, high in (("r0_over_r1", "R0", r_low, r_high), ("x0_over_x1", "X0", x_low, x_high))
    ]
    return elements.zero_sequence_winding(z1, ratios[0], ratios[1])


def _span(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


@remembered
def tie_zero(walk: Walk, method: Method) -> Impedance:
    """Zero-sequence impedance of the tie's infeed, from the earth-fault current it brings."""
    z1 = positive(walk, "tie", method)
    factor = voltage_factor(walk, method, "lv")
    return _zero_from_current(walk, "board.tie", z1, factor * walk.inputs.number("board.voltage"))


@remembered
def generator_zero(walk: Walk, method: Method) -> Impedance | None:
    """Zero-sequence impedance of the generator; None where its neutral is not earthed."""
    if walk.inputs.word("standby_generator.neutral") != "earthed":
        return None
    read = walk.inputs.number
    z1 = positive(walk, "generator", method)
    ratio = read("standby_generator.zero_reactance") / read("standby_generator.subtransient_reactance")
    return Impedance(z1.resistance, z1.reactance * ratio)
