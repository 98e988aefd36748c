"""Project: numbers with units; text of the file comes in, SI values with their range go out."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic_core import CoreSchema

LONGEST_TEXT = 80
"""Characters one quantity may have; bounds the exact arithmetic as well."""

_PI = Fraction(31415926535897932384626433833, 10**28)  # 28 decimals, far beyond a float's 16 digits
_FOOT = Fraction("0.3048")  # international foot, exact: NIST SP 811 (2008), B.6
_KCMIL = _PI / 4 * (Fraction("0.0254") / 1000) ** 2 * 1000  # 1000 circles of one thousandth of an inch
_CALORIE = Fraction("4.184")  # thermochemical calorie, exact: NIST SP 811 (2008), B.6; the calorie of IEEE 1584
_GALLON = 231 * Fraction("0.0254") ** 3  # US liquid gallon, 231 cubic inches, exact: NIST SP 811 (2008), B.6
_HORSEPOWER = 550 * _FOOT * Fraction("0.45359237") * Fraction("9.80665")  # 550 foot pound-force per second, ibid.

UNITS: dict[str, dict[str, Fraction]] = {
    "voltage": {"V": Fraction(1), "kV": Fraction(1000), "MV": Fraction(10**6), "mV": Fraction("1e-3")},
    "current": {"A": Fraction(1), "kA": Fraction(1000), "mA": Fraction("1e-3")},
    "apparent power": {
        "VA": Fraction(1),
        "kVA": Fraction(1000),
        "MVA": Fraction(10**6),
        "GVA": Fraction(10**9),
    },
    "power": {"W": Fraction(1), "kW": Fraction(1000), "MW": Fraction(10**6), "hp": _HORSEPOWER},
    "share": {"%": Fraction("0.01"), "pu": Fraction(1)},
    "number": {"": Fraction(1)},
    "time": {"s": Fraction(1), "ms": Fraction("1e-3"), "min": Fraction(60), "h": Fraction(3600)},
    "length": {
        "m": Fraction(1),
        "mm": Fraction("1e-3"),
        "cm": Fraction("1e-2"),
        "km": Fraction(1000),
        "in": Fraction("0.0254"),
        "ft": _FOOT,
        "kft": 1000 * _FOOT,
    },
    "area": {
        "mm2": Fraction("1e-6"),
        "cm2": Fraction("1e-4"),
        "m2": Fraction(1),
        "kcmil": _KCMIL,
        "in2": Fraction("0.0254") ** 2,
    },
    "impedance": {"ohm": Fraction(1), "mohm": Fraction("1e-3"), "kohm": Fraction(1000)},
    "impedance per length": {
        "ohm/km": Fraction("1e-3"),
        "mohm/m": Fraction("1e-3"),
        "ohm/m": Fraction(1),
        "ohm/kft": 1 / (1000 * _FOOT),
    },
    "temperature": {"degC": Fraction(1), "degF": Fraction(5, 9), "K": Fraction(1)},
    "volume": {
        "L": Fraction("1e-3"),
        "m3": Fraction(1),
        "gal": _GALLON,
        "ft3": _FOOT**3,
    },
    "incident energy": {
        "J/m2": Fraction(1),
        "kJ/m2": Fraction(1000),
        "MJ/m2": Fraction(10**6),
        "J/cm2": Fraction(10**4),
        "cal/cm2": _CALORIE * 10**4,
    },
    "frequency": {"Hz": Fraction(1)},
    "current squared time": {"A2s": Fraction(1)},  # no kA2s: read as 10^3 A2s by some, as (kA)2s by others
    "energy": {"J": Fraction(1), "kJ": Fraction(1000), "MJ": Fraction(10**6)},
}
"""Factor from each unit to SI (a share to a fraction, a temperature's step to kelvin), by dimension."""

ZERO_POINTS: dict[str, Fraction] = {
    "degC": Fraction(0),
    "degF": Fraction(-160, 9),  # 0 degF; with 5/9 per degree exact: NIST SP 811 (2008), B.6
    "K": Fraction("-273.15"),
}
"""Where a temperature scale's zero lies, in degC."""

SPELLINGS = {
    "°C": "degC",
    "°F": "degF",
    "mm²": "mm2",
    "cm²": "cm2",
    "m²": "m2",
    "in²": "in2",
    "m³": "m3",
    "ft³": "ft3",
    "Ω": "ohm",
    "mΩ": "mohm",
    "kΩ": "kohm",
    "Ω/km": "ohm/km",
    "mΩ/m": "mohm/m",
    "Ω/m": "ohm/m",
    "Ω/kft": "ohm/kft",
    "l": "L",
    "cal/cm²": "cal/cm2",
    "J/cm²": "J/cm2",
    "J/m²": "J/m2",
    "kJ/m²": "kJ/m2",
    "MJ/m²": "MJ/m2",
    "A²s": "A2s",
}
"""Other spellings of a unit."""

LIMIT_UNITS = {
    "voltage": ("kV", "V"),
    "current": ("kA", "A"),
    "apparent power": ("GVA", "MVA", "kVA"),
    "power": ("MW", "kW", "W"),
    "share": ("%",),
    "number": ("",),
    "time": ("s", "ms"),
    "length": ("km", "m", "mm"),
    "area": ("mm2",),
    "impedance": ("kohm", "ohm"),
    "impedance per length": ("ohm/km",),
    "volume": ("m3", "L"),
    "incident energy": ("MJ/m2", "kJ/m2"),
    "frequency": ("Hz",),
    "current squared time": ("A2s",),
    "energy": ("MJ", "kJ", "J"),
}
"""Units in which an error states what an entry can be, largest first."""

ARTICLES = {
    "voltage": "a voltage",
    "current": "a current",
    "apparent power": "an apparent power",
    "power": "a power",
    "share": "a share",
    "number": "a number without a unit",
    "time": "a time",
    "length": "a length",
    "area": "an area",
    "impedance": "an impedance",
    "impedance per length": "an impedance per length",
    "temperature": "a temperature",
    "volume": "a volume",
    "incident energy": "an incident energy",
    "frequency": "a frequency",
    "current squared time": "a current squared times time",
    "energy": "an energy",
}
"""Each dimension as a sentence names it."""

_NUMBER = r"[+-]?[0-9]{1,20}(?:\.[0-9]{1,20})?(?:[eE][+-]?[0-9]{1,2})?"
_UNIT = r"[^\s0-9.,+\-±][^\s.,+±]*"
_PART = rf"\s*({_NUMBER})\s*({_UNIT})?\s*"
_POINT = re.compile(_PART)
_RANGE = re.compile(rf"{_PART}\.\.{_PART}")
_TOLERANCE = re.compile(rf"{_PART}(?:\+/-|±){_PART}")
_OTHERWISE_RANGED = re.compile(r"([0-9].*?)(?:\s*[-\u2010-\u2015\u2212]\s*|\s+to\s+)([0-9].*)")
"""Two values with a dash of any kind, or with `to`, between them, as many write a range."""
_THOUSANDS = re.compile(r"[0-9],[0-9]")


class QuantityError(ValueError):
    """A text that is not the number an entry needs: what was expected, what was found, and what would be right."""

    def __init__(self, expected: str, found: str, remedy: str, instead: str = "") -> None:
        super().__init__(f"expected {expected}, got {found}")
        self.expected = expected
        self.found = found
        self.remedy = remedy
        self.instead = instead

    def help(self, key: str) -> str:
        """What to write, as a line of the file where there is one: for example `impedance: 5.75 %`."""
        line = f"{key}: {self.instead}" if key else self.instead
        return f"{self.remedy} `{line}`" if self.instead else self.remedy


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number of the file in SI: `low <= centre <= high`; all three alike where the file gives a point."""

    low: float
    centre: float
    high: float
    text: str
    dimension: str

    @property
    def is_range(self) -> bool:
        """Whether the file leaves the number uncertain."""
        return self.low < self.high


@dataclass(frozen=True, slots=True)
class Measured:
    """What a field of the model accepts: a dimension, an example that works, and the plausible span in SI."""

    dimension: str
    example: str
    smallest: float
    largest: float

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validation of a field: text (or a bare number) in, Quantity out; the text again on the way out."""
        from pydantic_core import PydanticCustomError, core_schema

        def validate(value: object) -> Quantity:
            if isinstance(value, Quantity):
                return value
            try:
                return self.read(value)
            except QuantityError as error:
                context = {
                    "expected": error.expected,
                    "found": error.found,
                    "remedy": error.remedy,
                    "instead": error.instead,
                }
                raise PydanticCustomError("quantity", "expected {expected}, got {found}", context) from None

        return core_schema.no_info_plain_validator_function(
            validate,
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda quantity: quantity.text, when_used="unless-none"
            ),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """The field in JSON Schema, in the form that `schema` looks for."""
        return {"type": "string", "pattern": pattern(self.dimension), "examples": [self.example]}

    def read(self, value: object) -> Quantity:
        """`parse`, then the plausible span. Raises QuantityError."""
        if isinstance(value, dict | list):
            kind = "a list" if isinstance(value, list) else "entries of its own"
            raise QuantityError(f"{ARTICLES[self.dimension]} on the same line", kind, "for example", self.example)
        quantity = parse(str(value), self.dimension, self.example)
        if quantity.low < self.smallest or quantity.high > self.largest:
            raise QuantityError(
                f"{ARTICLES[self.dimension]} between {self.limit(self.smallest)} and {self.limit(self.largest)}",
                f"{quantity.text}, which lies outside what this entry can be",
                "for example",
                self.example,
            )
        return quantity

    def accepts(self, unit: str) -> bool:
        """Whether the unit belongs to the dimension."""
        return unit in UNITS[self.dimension]

    def limit(self, value: float) -> str:
        """An end of the span as the file would write it: in the largest fitting unit of `LIMIT_UNITS`."""
        if self.dimension == "temperature":
            return f"{value:g} degC"
        units = LIMIT_UNITS[self.dimension]
        unit = next((unit for unit in units if abs(value) >= UNITS[self.dimension][unit]), units[-1])
        return f"{value / float(UNITS[self.dimension][unit]):.6g} {unit}".strip()


def parse(text: str, dimension: str, example: str) -> Quantity:
    """A number of the file in SI.

    Three forms: a point `24.94 kV`; a range `3.2 .. 9.8 kA`, the unit once at the end or at both ends, whose centre is
    its midpoint; a value with tolerance `2.0 m +/- 0.2 m` (also `±`), whose centre is the value. A tolerance in `%` is
    always relative to the value, also where the value itself is in `%`: `5.75 % +/- 7.5 %` is 5.32 % to 6.18 %. A
    temperature's tolerance is a difference in kelvin, `degC` or `degF`. Conversion is exact and rounded once to the
    nearest float. Temperatures come out in degC, shares as fractions, everything else in SI base or derived units;
    `gal` is the US gallon, `hp` 550 foot pound-force per second, `cal` the thermochemical calorie.

    dimension   a key of UNITS
    example     a text that this entry would accept; only for the remedy
    raises      QuantityError: no number, no unit, unknown or wrong unit, reversed range, negative tolerance
    """
    plain = text.strip()
    what = ARTICLES[dimension]
    if len(plain) > LONGEST_TEXT:
        raise QuantityError(what, f"a text of {len(plain)} characters", "for example", example)
    if match := _POINT.fullmatch(plain):
        centre = _value(match[1], _unit(match[2], dimension, match[1], example), dimension)
        return Quantity(float(centre), float(centre), float(centre), plain, dimension)
    if match := _RANGE.fullmatch(plain):
        return _range(match, plain, dimension, example)
    if match := _TOLERANCE.fullmatch(plain):
        return _tolerance(match, plain, dimension, example)
    if ranged := _as_range(plain, dimension, example):
        raise QuantityError(what, f"`{plain}`", "write a range as", ranged)
    if _THOUSANDS.search(plain):
        raise QuantityError(what, f"`{plain}` with a comma", "write the number without commas, with a decimal point")
    if dimension == "area" and plain.lower().endswith("awg"):
        raise QuantityError(what, f"the gauge number `{plain}`", "write the area; 2/0 AWG is", "67.4 mm2")
    raise QuantityError(what, f"`{plain}`", "for example", example)


def _as_range(text: str, dimension: str, example: str) -> str:
    """The text as this file writes a range, where it is one that is written otherwise; else empty."""
    ends = _OTHERWISE_RANGED.fullmatch(text)
    if ends is None or ".." in text:
        return ""
    ranged = f"{ends[1]} .. {ends[2]}"
    try:
        parse(ranged, dimension, example)
    except QuantityError:
        return ""
    return ranged


def pattern(dimension: str) -> str:
    """Regular expression (ECMA 262) of the texts of a dimension; what an editor checks while one types."""
    number = r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?"
    spelled = [*UNITS[dimension], *(other for other, unit in SPELLINGS.items() if unit in UNITS[dimension])]
    unit = "(" + "|".join(sorted(name for name in spelled if name)) + ")"
    spread = r"(\+/-|±)"
    if dimension == "number":
        return rf"^\s*{number}(\s*\.\.\s*{number}|\s*{spread}\s*{number}(\s*%)?)?\s*$"
    either_end = rf"^\s*{number}(\s*{unit})?(\s*(\.\.|{spread})\s*{number})?\s*{unit}\s*$"
    return rf"{either_end}|^\s*{number}\s*{unit}\s*{spread}\s*{number}\s*%\s*$"


def _unit(found: str | None, dimension: str, number: str, example: str) -> str:
    """The unit's own spelling. Raises QuantityError where it is missing, unknown or of another dimension."""
    known = UNITS[dimension]
    what = ARTICLES[dimension]
    unit = SPELLINGS.get(found or "", found or "")
    if unit in known:
        return unit
    if unit == "":
        raise QuantityError(
            f"{what} with its unit ({_either(known)})", f"the bare number {number}", "for example", example
        )
    for other, units in UNITS.items():
        if unit in units:
            raise QuantityError(what, ARTICLES[other], "for example", example)
    near = _nearest_unit(unit, dimension)
    expected = what if dimension == "number" else f"{what} in {_either(known)}"
    if dimension == "time" and unit in ("cycle", "cycles"):
        milliseconds = float(number) * 1e3
        remedy = f"write {milliseconds / 60:.4g} ms at 60 Hz, {milliseconds / 50:.4g} ms at 50 Hz"
        raise QuantityError(expected, f"the unknown unit `{unit}`", remedy)
    if dimension == "current squared time" and unit.lower() in ("ka2s", "ka²s", "ma2s", "ma²s"):
        remedy = "some read it as thousands of A2s, others as the square of kA; write it in A2s, for example"
        raise QuantityError(what, f"the ambiguous unit `{unit}`", remedy, example)
    if dimension == "area" and unit.lower() == "awg":
        raise QuantityError(what, f"the gauge number `{number} {unit}`", "write the area; 2/0 AWG is", "67.4 mm2")
    remedy, instead = ("write", f"{number} {near}") if near else ("for example", example)
    raise QuantityError(expected, f"the unknown unit `{unit}`", remedy, instead)


def _nearest_unit(unit: str, dimension: str) -> str:
    """The unit that was probably meant; empty where none is near."""
    known = [name for name in UNITS[dimension] if name]
    if dimension == "temperature" and unit in ("F", "C"):
        return f"deg{unit}"
    alike = [name for name in known if name.lower() == unit.lower()]
    return next(iter(alike or difflib.get_close_matches(unit, known, n=1, cutoff=0.6)), "")


def _either(units: dict[str, Fraction]) -> str:
    names = list(units)
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _value(number: str, unit: str, dimension: str) -> Fraction:
    """Exact SI value."""
    return Fraction(number) * UNITS[dimension][unit] + ZERO_POINTS.get(unit, Fraction(0))


def _range(match: re.Match[str], text: str, dimension: str, example: str) -> Quantity:
    upper_unit = _unit(match[4], dimension, match[3], example)
    lower_unit = _unit(match[2] if match[2] is not None else upper_unit, dimension, match[1], example)
    low = _value(match[1], lower_unit, dimension)
    high = _value(match[3], upper_unit, dimension)
    if low > high:
        units = (match[4] if match[2] not in (None, match[4]) else "", match[2] or match[4] or "")
        turned = f"{f'{match[3]} {units[0]}'.strip()} .. {match[1]} {units[1]}".rstrip()
        raise QuantityError("a range from the smaller to the larger value", f"`{text}`", "write", turned)
    return Quantity(float(low), float((low + high) / 2), float(high), text, dimension)


def _tolerance(match: re.Match[str], text: str, dimension: str, example: str) -> Quantity:
    number, unit, spread, spread_unit = match.groups()
    if Fraction(spread) < 0:
        raise QuantityError("a tolerance of zero or more", f"{spread} in `{text}`", "write it without its sign")
    relative = spread_unit == "%"
    if relative and dimension == "temperature":
        raise QuantityError("a tolerance in K, degC or degF", f"a share in `{text}`", "for example", "40 degC +/- 5 K")
    if not relative and spread_unit is None and dimension != "number":
        raise QuantityError("a tolerance with its unit", f"`{text}`", f"write the unit or % after {spread}")
    own = _unit(unit if unit is not None or relative else spread_unit, dimension, number, example)
    centre = _value(number, own, dimension)
    if relative:
        half = abs(centre) * Fraction(spread) / 100
    else:
        half = Fraction(spread) * UNITS[dimension][_unit(spread_unit, dimension, spread, example)]
    return Quantity(float(centre - half), float(centre), float(centre + half), text, dimension)
