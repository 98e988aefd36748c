"""Numbers with units: what is read, to which value, and what each refusal says; pint is the oracle."""

import math
import re

import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pydantic import BaseModel

from deadfront.project import model
from deadfront.project.quantities import (
    ARTICLES,
    LIMIT_UNITS,
    SPELLINGS,
    UNITS,
    Measured,
    Quantity,
    QuantityError,
    parse,
    pattern,
)

PINT_NAMES = {
    "%": "percent",
    "pu": "dimensionless",
    "": "dimensionless",
    "in2": "inch**2",
    "in": "inch",
    "ft": "foot",
    "kft": "kilofoot",
    "ft3": "foot**3",
    "mm2": "mm**2",
    "cm2": "cm**2",
    "m2": "m**2",
    "m3": "m**3",
    "gal": "US_liquid_gallon",
    "ohm/kft": "ohm/kilofoot",
    "mohm": "milliohm",
    "mohm/m": "milliohm/m",
    "cal/cm2": "cal/cm**2",
    "A2s": "A**2*s",
    "J/m2": "J/m**2",
    "J/cm2": "J/cm**2",
    "kJ/m2": "kJ/m**2",
    "MJ/m2": "MJ/m**2",
    "VA": "V*A",
    "kVA": "kV*A",
    "MVA": "MV*A",
    "GVA": "GV*A",
    "min": "minute",
    "h": "hour",
    "hp": "horsepower",
    "kcmil": "1000*circular_mil",
    "mV": "millivolt",
    "mA": "milliampere",
}
SI = {
    "voltage": "V",
    "current": "A",
    "apparent power": "V*A",
    "power": "W",
    "share": "dimensionless",
    "number": "dimensionless",
    "time": "s",
    "length": "m",
    "area": "m**2",
    "impedance": "ohm",
    "impedance per length": "ohm/m",
    "temperature": "degC",
    "volume": "m**3",
    "incident energy": "J/m**2",
    "frequency": "Hz",
    "current squared time": "A**2*s",
    "energy": "J",
}
ALL_UNITS = [(dimension, unit) for dimension, units in UNITS.items() for unit in units]
MEASURED = {
    name: mark
    for name, value in vars(model).items()
    for mark in getattr(value, "__metadata__", ())
    if isinstance(mark, Measured)
}


@pytest.fixture(scope="session")
def oracle():
    """The unit registry that every factor is held against."""
    return pint.UnitRegistry()


def refused(text, dimension="current", example="400 A"):
    """What the reader says to a text: the sentence and the help."""
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension, example)
    return str(caught.value), caught.value.help("pickup")


@pytest.mark.parametrize(("dimension", "unit"), ALL_UNITS, ids=lambda word: word or "none")
def test_each_unit_converts_as_pint_does(oracle, dimension, unit):
    """37 of each unit is the same SI value here and in pint, to the last few bits of a float."""
    ours = parse(f"37 {unit}", dimension, "").centre
    theirs = oracle.Quantity(37, oracle.parse_units(PINT_NAMES[unit]) if unit in PINT_NAMES and unit != "kcmil" else "")
    if dimension == "temperature":
        theirs = oracle.Quantity(37, {"K": "kelvin"}.get(unit, unit))
    elif unit == "kcmil":
        theirs = oracle.Quantity(37_000, "circular_mil")
    elif unit not in PINT_NAMES:
        theirs = oracle.Quantity(37, unit)
    assert ours == pytest.approx(theirs.to(SI[dimension]).magnitude, rel=1e-14)  # 50 times the float's own step


@pytest.mark.parametrize(("spelling", "unit"), SPELLINGS.items())
def test_other_spellings_mean_the_same_unit(spelling, unit):
    """A unit with a raised figure, a degree sign or a Greek letter reads as the plain one."""
    dimension = next(name for name, units in UNITS.items() if unit in units)
    assert parse(f"7 {spelling}", dimension, "").centre == parse(f"7 {unit}", dimension, "").centre


def test_no_unit_belongs_to_two_dimensions():
    """A unit names its dimension, so that a wrong one can be told from an unknown one."""
    names = [unit for units in UNITS.values() for unit in units]
    assert len(names) == len(set(names))
    assert set(UNITS) == set(ARTICLES) == set(LIMIT_UNITS) | {"temperature"}


@pytest.mark.parametrize(
    ("text", "dimension", "low", "centre", "high"),
    [
        ("24.94 kV", "voltage", 24940.0, 24940.0, 24940.0),
        ("3.2 .. 9.8 kA", "current", 3200.0, 6500.0, 9800.0),
        ("3.2..9.8 kA", "current", 3200.0, 6500.0, 9800.0),
        ("900 A .. 9.8 kA", "current", 900.0, 5350.0, 9800.0),
        ("5.75 % +/- 7.5 %", "share", 0.0531875, 0.0575, 0.0618125),
        ("2.0 m +/- 0.2 m", "length", 1.8, 2.0, 2.2),
        ("2.0 +/- 0.2 m", "length", 1.8, 2.0, 2.2),
        ("610 mm ± 5 cm", "length", 0.56, 0.61, 0.66),
        ("6 .. 14", "number", 6.0, 10.0, 14.0),
        ("8", "number", 8.0, 8.0, 8.0),
        ("8 +/- 1", "number", 7.0, 8.0, 9.0),
        ("8 +/- 25 %", "number", 6.0, 8.0, 10.0),
        ("-25 .. 40 degC", "temperature", -25.0, 7.5, 40.0),
        ("-100 m +/- 10 %", "length", -110.0, -100.0, -90.0),
        ("50 degF +/- 9 degF", "temperature", 5.0, 10.0, 15.0),
        ("40 degC +/- 5 K", "temperature", 35.0, 40.0, 45.0),
        ("273.15 K", "temperature", 0.0, 0.0, 0.0),
        ("1e3 A", "current", 1000.0, 1000.0, 1000.0),
    ],
)
def test_points_ranges_and_tolerances_come_out_in_si(text, dimension, low, centre, high):
    """Each form of a number has the value computed by hand, rounded once."""
    assert parse(text, dimension, "") == Quantity(low, centre, high, text, dimension)


def test_a_tolerance_in_percent_is_relative_even_to_a_value_in_percent():
    """5.75 % +/- 7.5 % is 5.32 % to 6.18 %, as standards state impedance tolerances; not -1.75 % to 13.25 %."""
    impedance = parse("5.75 % +/- 7.5 %", "share", "")
    assert (impedance.low, impedance.high) == (0.0531875, 0.0618125)


@pytest.mark.parametrize(
    ("text", "dimension", "sentence", "remedy"),
    [
        ("400", "current", "expected a current with its unit (A, kA or mA), got the bare number 400", "EXAMPLE"),
        ("400 V", "current", "expected a current, got a voltage", "EXAMPLE"),
        ("400 Am", "current", "expected a current in A, kA or mA, got the unknown unit `Am`", "write `pickup: 400 A`"),
        ("4 KA", "current", "expected a current in A, kA or mA, got the unknown unit `KA`", "write `pickup: 4 kA`"),
        ("4 furlong", "current", "expected a current in A, kA or mA, got the unknown unit `furlong`", "EXAMPLE"),
        ("4 Hz", "number", "expected a number without a unit, got a frequency", "EXAMPLE"),
        ("4 x", "number", "expected a number without a unit, got the unknown unit `x`", "EXAMPLE"),
        (
            "9.8 .. 3.2 kA",
            "current",
            "expected a range from the smaller to the larger value, got `9.8 .. 3.2 kA`",
            "write `pickup: 3.2 .. 9.8 kA`",
        ),
        (
            "9.8 kA .. 3.2 A",
            "current",
            "expected a range from the smaller to the larger value, got `9.8 kA .. 3.2 A`",
            "write `pickup: 3.2 A .. 9.8 kA`",
        ),
        (
            "9 .. 3",
            "number",
            "expected a range from the smaller to the larger value, got `9 .. 3`",
            "write `pickup: 3 .. 9`",
        ),
        (
            "1,500 A",
            "current",
            "expected a current, got `1,500 A` with a comma",
            "write the number without commas, with a decimal point",
        ),
        (
            "3.2 - 9.8 kA",
            "current",
            "expected a current, got `3.2 - 9.8 kA`",
            "write a range as `pickup: 3.2 .. 9.8 kA`",
        ),
        (
            "3.2\u20139.8 kA",
            "current",
            "expected a current, got `3.2\u20139.8 kA`",
            "write a range as `pickup: 3.2 .. 9.8 kA`",
        ),
        (
            "800 A to 1 kA",
            "current",
            "expected a current, got `800 A to 1 kA`",
            "write a range as `pickup: 800 A .. 1 kA`",
        ),
        ("9.8\u20133.2 kA", "current", "expected a current, got `9.8\u20133.2 kA`", "EXAMPLE"),
        ("1e-3-x kA", "current", "expected a current, got `1e-3-x kA`", "EXAMPLE"),
        ("about 4 kA", "current", "expected a current, got `about 4 kA`", "EXAMPLE"),
        (".5 kA", "current", "expected a current, got `.5 kA`", "EXAMPLE"),
        ("nan A", "current", "expected a current, got `nan A`", "EXAMPLE"),
        ("1e999 A", "current", "expected a current, got `1e999 A`", "EXAMPLE"),
        ("٤ A", "current", "expected a current, got `٤ A`", "EXAMPLE"),
        ("4" * 81, "current", "expected a current, got a text of 81 characters", "EXAMPLE"),
        (
            "2 m +/- 0.2",
            "length",
            "expected a tolerance with its unit, got `2 m +/- 0.2`",
            "write the unit or % after 0.2",
        ),
        (
            "2 m +/- -0.2 m",
            "length",
            "expected a tolerance of zero or more, got -0.2 in `2 m +/- -0.2 m`",
            "write it without its sign",
        ),
        ("5 +/- 10 %", "share", "expected a share with its unit (% or pu), got the bare number 5", "EXAMPLE"),
        (
            "40 degC +/- 5 %",
            "temperature",
            "expected a tolerance in K, degC or degF, got a share in `40 degC +/- 5 %`",
            "for example `pickup: 40 degC +/- 5 K`",
        ),
        (
            "65 F",
            "temperature",
            "expected a temperature in degC, degF or K, got the unknown unit `F`",
            "write `pickup: 65 degF`",
        ),
        (
            "5 cycles",
            "time",
            "expected a time in s, ms, min or h, got the unknown unit `cycles`",
            "write 83.33 ms at 60 Hz, 100 ms at 50 Hz",
        ),
        (
            "2 AWG",
            "area",
            "expected an area, got the gauge number `2 AWG`",
            "write the area; 2/0 AWG is `pickup: 67.4 mm2`",
        ),
        (
            "2/0 AWG",
            "area",
            "expected an area, got the gauge number `2/0 AWG`",
            "write the area; 2/0 AWG is `pickup: 67.4 mm2`",
        ),
    ],
)
def test_each_refusal_says_what_was_expected_found_and_would_be_right(text, dimension, sentence, remedy):
    """The whole sentence and the whole help of every way to write a number wrongly."""
    remedy = "for example `pickup: 400 A`" if remedy == "EXAMPLE" else remedy
    assert refused(text, dimension) == (sentence, remedy)


def test_a_gauge_number_becomes_the_area_that_the_help_states():
    """2/0 AWG is 67.4 mm2: diameter 0.005 in times 92 to the power 38/39 (ASTM B258), to the printed digit."""
    diameter = 0.005 * 92 ** ((36 + 1) / 39) * 25.4
    assert math.pi / 4 * diameter**2 == pytest.approx(67.4, abs=0.05)


@pytest.mark.parametrize("name", sorted(MEASURED))
def test_each_entry_accepts_its_own_example_and_both_ends_of_its_span(name):
    """The example that an error shows would be read, and so would the limits that it states."""
    measured = MEASURED[name]
    for text in (measured.example, measured.limit(measured.smallest), measured.limit(measured.largest)):
        assert measured.read(text).dimension == measured.dimension


@pytest.mark.parametrize(
    ("measured", "value", "sentence"),
    [
        (
            Measured("voltage", "24.94 kV", 1e3, 52e3),
            "24.94 MV",
            "expected a voltage between 1 kV and 52 kV, got 24.94 MV, which lies outside what this entry can be",
        ),
        (
            Measured("current", "9.8 kA", 1.0, 300e3),
            "0 A",
            "expected a current between 1 A and 300 kA, got 0 A, which lies outside what this entry can be",
        ),
        (
            Measured("current", "9.8 kA", 1.0, 300e3),
            "-1 .. 5 A",
            "expected a current between 1 A and 300 kA, got -1 .. 5 A, which lies outside what this entry can be",
        ),
        (
            Measured("temperature", "40 degC", -60.0, 300.0),
            "90 .. 600 degC",
            "expected a temperature between -60 degC and 300 degC, got 90 .. 600 degC, "
            "which lies outside what this entry can be",
        ),
        (Measured("current", "9.8 kA", 1.0, 300e3), ["4 A"], "expected a current on the same line, got a list"),
        (
            Measured("current", "9.8 kA", 1.0, 300e3),
            {"a": 1},
            "expected a current on the same line, got entries of its own",
        ),
    ],
)
def test_an_absurd_magnitude_or_form_is_refused(measured, value, sentence):
    """A value outside the span of its entry, at either end of a range, is a slip of the pen; so is a list."""
    with pytest.raises(QuantityError, match=re.escape(sentence) + "$"):
        measured.read(value)


@given(
    st.sampled_from(ALL_UNITS),
    st.decimals(-(10**6), 10**6, places=4),
    st.decimals(-(10**6), 10**6, places=4),
    st.sampled_from(["..", "+/-", "±"]),
)
def test_every_readable_text_orders_its_values_and_fits_the_pattern(unit, first, second, form):
    """low <= centre <= high; the schema's pattern admits whatever the reader reads."""
    dimension, name = unit
    text = f"{first} {name} {form} {second} {name}"
    assume((form == ".." and first <= second) or (form != ".." and second >= 0))
    if dimension == "temperature" and form == "..":
        text = f"{first} .. {second} {name}"
    quantity = parse(text, dimension, "")
    assert quantity.low <= quantity.centre <= quantity.high
    assert quantity.is_range == (quantity.low < quantity.high)
    assert re.search(pattern(dimension), text)


@given(st.text(max_size=100), st.sampled_from(list(UNITS)))
def test_any_text_is_read_or_refused(text, dimension):
    """No text raises anything but QuantityError, and what is read is finite."""
    try:
        quantity = parse(text, dimension, "1 m")
    except QuantityError:
        return
    assert math.isfinite(quantity.low)
    assert math.isfinite(quantity.high)


def test_a_model_takes_a_quantity_and_gives_its_text_back():
    """Validation makes a Quantity of text or of a bare number; dumping gives the text of the file."""

    class Sample(BaseModel):
        voltage: model.SupplyVoltage
        ratio: model.Ratio

    sample = Sample.model_validate({"voltage": "24.94 kV", "ratio": 8})
    assert sample.voltage.centre == 24940.0
    assert sample.model_dump() == {"voltage": "24.94 kV", "ratio": "8"}
    assert Sample.model_validate(dict(sample)).voltage is sample.voltage
