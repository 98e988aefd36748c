"""Claims: how a number is printed in every text, card and table. An SI value, its unit and a way to round come in."""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Literal

from deadfront.claims.wording import MOST_TOLD, NEVER, TIME_RATIO, UNLIMITED

Direction = Literal["up", "down", "even"]

# SP 811 and IEEE/ASTM SI 10 give these as exact [M]: 1 cal = 4.184 J, 1 in = 25.4 mm.
CALORIE_PER_AREA = 4.184e4
"""J/m2 in one cal/cm2."""
INCH = 0.0254
"""m in one inch."""
INCHES_PER_FOOT = 12
NOISE = 1e-9
"""Share of a step below which a remainder is the noise of binary fractions, not a reason to round away."""
MOST_DIGITS = 17
"""More digits than this a binary double does not hold."""
_DIRECTED_DIGITS = 4
"""Beyond so many digits more, directed rounding meets its own allowance for noise; the nearest keeps the order."""
GROUP = "\u202f"
"""Thin no-break space between groups of three digits."""

# Step of the printed number for each unit it is printed in, as decimal text (reference "dossier-and-labels" 6.2) [D].
_STEPS = {"J/cm2": "0.1", "m": "0.01", "s": "0.01", "ms": "1", "V": "1", "degC": "0.1", "K": "0.1", "%": "0.1"}
_DIGITS = 3
_FACTOR_DIGITS = 4
_KILOVOLTS = 1e3
"""V from which kV are printed, with three digits: ratings, not touch voltages."""
_MANY_TIMES = 10.0
"""1, value over limit from which on per cent say nothing."""
_WHOLE_CALORIES = 100
"""cal/cm2 from which the step is 1."""
# Prefixes by thousands: the printed unit and its size in the SI unit, largest first.
_PREFIXES: dict[str, tuple[tuple[str, float], ...]] = {
    "A": (("kA", 1e3), ("A", 1.0)),
    # One unit: some read kA2s as thousands of A2s, others as the square of kA.
    "A2s": (("A2s", 1.0),),
    "J": (("kJ", 1e3), ("J", 1.0)),
    "ohm": (("ohm", 1.0), ("mohm", 1e-3)),
    "W": (("MW", 1e6), ("kW", 1e3), ("W", 1.0)),
    "VA": (("MVA", 1e6), ("kVA", 1e3), ("VA", 1.0)),
    "m2": (("m2", 1.0), ("mm2", 1e-6)),
    "ohm/m": (("ohm/km", 1e-3),),
    "m3": (("L", 1e-3),),
    "Pa": (("MPa", 1e6), ("kPa", 1e3), ("Pa", 1.0)),
}


def stepped(value: float, step: str, direction: Direction = "even") -> str:
    """The number as decimal text, a multiple of `step` (decimal text), with the decimals of the step.

    up: ceil(q - n), down: floor(q + n) with q = value/step and n = 1e-9 max(1, |q|); even: the nearest multiple of the
    shortest decimal text of the number, exact halves to the even one. Zero never prints a minus.

    source  reference "dossier-and-labels" 6.2; neutral rule: ASME A112.18.1/CSA B125.1 annex [V]; formula [D]
    """
    unit = Decimal(step)
    if direction == "even":
        count = int((Decimal(repr(float(value))) / unit).quantize(Decimal(1), rounding=ROUND_HALF_EVEN))
    else:
        quotient = value / float(unit)
        noise = NOISE * max(1.0, abs(quotient))
        count = math.ceil(quotient - noise) if direction == "up" else math.floor(quotient + noise)
    return f"{count * unit:.{_decimals(unit)}f}" if count else f"{Decimal(0):.{_decimals(unit)}f}"


def digits(value: float, count: int, direction: Direction = "even") -> str:
    """The number with `count` significant digits; a carry keeps the count (9.9996 up to three digits is 10.0)."""
    if value == 0:
        return stepped(0.0, _step_of(0, count), direction)
    text = stepped(value, _step_of(_exponent(value), count), direction)
    carried = _exponent(float(text)) if float(text) else _exponent(value)
    return text if carried == _exponent(value) else stepped(float(text), _step_of(carried, count), "even")


def feet_inches(metres: float, direction: Direction = "up") -> str:
    """A length in feet and whole inches; twelve inches carry into a foot."""
    inches = int(stepped(metres / INCH, "1", direction))
    sign, inches = ("-", -inches) if inches < 0 else ("", inches)
    return f"{sign}{inches // INCHES_PER_FOOT} ft {inches % INCHES_PER_FOOT} in"


def energy(value: float, direction: Direction = "up", *, extra: int = 0) -> str:
    """Incident energy in J/m2 as cal/cm2: 0.1 below 100, 1 from there."""
    calories = value / CALORIE_PER_AREA
    step = "1" if abs(calories) >= _WHOLE_CALORIES else "0.1"
    return f"{grouped(stepped(calories, _finer(step, extra), direction))} cal/cm2"


def percent(share: float, direction: Direction = "down", *, extra: int = 0) -> str:
    """A share as per cent, 0.1 steps; a margin goes down, so that it never flatters."""
    if not math.isfinite(share):
        return _not_finite(share)
    return f"{grouped(stepped(share * 100, _finer('0.1', extra), direction))} %"


def format_number(value: float, unit: str, direction: Direction = "even", *, extra: int = 0) -> str:
    """An SI value in the unit and with the digits of the house's documents.

    A as kA from 1000 A, V as kV from 1000 V, s as ms below 1 s, J/m2 as cal/cm2, m with two decimals, `1` as a bare
    number of four digits (a whole number as it is). `extra` digits are added where two numbers must be told apart.

    returns  text such as `31.4 kA`; "outside the model" for NaN, "never" for an infinite time, "unlimited" else
    """
    if not math.isfinite(value):
        return _not_finite(value, unit)
    if unit == "J/m2":
        return energy(value, direction, extra=extra)
    if unit == "s":
        return _time(value, direction, extra)
    if unit == "share":
        return percent(value, direction, extra=extra)
    if unit in _PREFIXES:
        return _prefixed(value, _PREFIXES[unit], direction, extra)
    if unit == "1":
        whole = value == int(value)
        return grouped(str(int(value)) if whole else digits(value, _FACTOR_DIGITS + extra, direction))
    if unit == "V" and abs(value) >= _KILOVOLTS:
        return f"{grouped(digits(value / _KILOVOLTS, _DIGITS + extra, direction))} kV"
    if unit in _STEPS:
        return f"{grouped(stepped(value, _finer(_STEPS[unit], extra), direction))} {unit}"
    return f"{grouped(digits(value, _FACTOR_DIGITS + extra, direction))} {unit}".rstrip()


def both_systems(value: float, unit: str, direction: Direction = "even") -> str:
    """The number with its second system in brackets where readers of both are expected: energies and lengths.

    Each comes from the unrounded value, never one from the other.
    """
    main = format_number(value, unit, direction)
    if not math.isfinite(value):
        return main
    if unit == "J/m2":
        return f"{main} ({grouped(stepped(value / 1e4, _STEPS['J/cm2'], direction))} J/cm2)"  # 1 J/cm2 = 1e4 J/m2
    if unit == "m":
        return f"{main} ({feet_inches(value, direction)})"
    return main


def against(value: float, limit: float, unit: str, margin: float | None, quantity: str = "") -> tuple[str, str]:
    """A value and its limit, printed so that rounding never turns the verdict round.

    The number that is too large when the claim fails goes up, its limit down; where the claim asks for at least the
    limit, the other way. Digits are added until the printed numbers stand to each other as the unrounded ones do.
    A ratio of times has an end in print: one of them is then none, or the other has no end.
    """
    if quantity == TIME_RATIO and value >= MOST_TOLD:
        return f"{MOST_TOLD:g} or more", format_number(limit, unit)
    ways = _directions(value, limit, margin)
    if value == limit or not (math.isfinite(value) and math.isfinite(limit)):
        return format_number(value, unit, ways[0]), format_number(limit, unit, ways[1])
    texts = ("", "")
    for extra in range(MOST_DIGITS):
        if extra > _DIRECTED_DIGITS:
            ways = "even", "even"
        texts = format_number(value, unit, ways[0], extra=extra), format_number(limit, unit, ways[1], extra=extra)
        if (_read_back(texts[0]) - _read_back(texts[1])) * (value - limit) > 0:
            break
    return texts


def plain_against(value: float, limit: float, unit: str, margin: float | None, quantity: str = "") -> tuple[str, str]:
    """The same digits for plain text: without the thin spaces between groups of three, the quantity named."""
    first, second = against(value, limit, unit, margin, quantity)
    first = f"{quantity} {first}".lstrip()
    return first.replace(GROUP, ""), second.replace(GROUP, "")


def margin_in_words(margin: float) -> str:
    """A margin in per cent of the limit, rounded down; far beyond the limit, how many times it the value is.

    returns  `12.9 %`; `28.6 times the limit` from ten times on; `none` where the value has no end
    """
    times = 1.0 - margin
    if margin == -math.inf:
        return "none"
    if math.isnan(margin) or times < _MANY_TIMES:
        return percent(margin, "down")
    if times >= MOST_TOLD:
        return f"{MOST_TOLD:g} times the limit or more"
    return f"{digits(times, _FACTOR_DIGITS, 'up')} times the limit"


def grouped(number: str) -> str:
    """Thin groups of three in the whole part, from five digits up."""
    sign, whole, rest = re.fullmatch(r"(-?)(\d+)(.*)", number).groups()  # type: ignore[union-attr]
    if len(whole) < 5:  # IEEE/ASTM SI 10: from five digits up [M]
        return number
    return sign + re.sub(r"(?<=\d)(?=(\d{3})+$)", GROUP, whole) + str(rest)


def typographic(text: str) -> str:
    """The formatter's own text with raised figures, degree and ohm signs, a true minus, and no break before a unit.

    For text this module made, never for words from the file.
    """
    return raised(text).replace("-", "\u2212")


def raised(text: str) -> str:
    """The same, with every sign left as it is: for text of the tool with several numbers in it."""
    text = re.sub(r"\b([kM]?A)2s\b", r"\1²s", re.sub(r"\bI2t\b", "I²t", text))
    text = re.sub(r"\b([cmk]?m)([23])\b", lambda found: found[1] + "²³"[int(found[2]) - 2], text)
    text = re.sub(r"\bdegC\b", "°C", re.sub(r"\b([mk]?)ohm\b", r"\1Ω", text))
    return re.sub(r"(?<=\d) (?=[A-Za-z°%Ωµ]{1,3}[²³]?s?\b|cal/|°|%)", "\u00a0", text)


def _directions(value: float, limit: float, margin: float | None) -> tuple[Direction, Direction]:
    if margin is None or math.isnan(margin) or value == limit:
        return "even", "even"
    at_most = (margin >= 0) == (value <= limit)
    return ("up", "down") if at_most else ("down", "up")


def _read_back(text: str) -> float:
    """What a reader takes from a printed number, in the SI unit or a fixed multiple of it."""
    number, _, unit = text.partition(" ")
    sizes = {name: size for units in _PREFIXES.values() for name, size in units} | {"ms": 1e-3, "kV": _KILOVOLTS}
    return float(number.replace(GROUP, "")) * sizes.get(unit, 1.0)


def _time(value: float, direction: Direction, extra: int) -> str:
    milliseconds = stepped(value * 1e3, _finer("1", extra), direction)
    if abs(float(milliseconds)) < 1e3:  # 1 ms below 1 s, 0.01 s above
        return f"{milliseconds} ms"
    return f"{grouped(stepped(value, _finer('0.01', extra), direction))} s"


def _prefixed(value: float, units: tuple[tuple[str, float], ...], direction: Direction, extra: int) -> str:
    if value == 0:
        return f"0 {units[-1][0]}"
    for unit, size in units:
        number = digits(value / size, _DIGITS + extra, direction)
        if abs(float(number)) >= 1 or unit == units[-1][0]:
            break
    return f"{grouped(number)} {unit}"


def _not_finite(value: float, unit: str = "") -> str:
    if math.isnan(value):
        return "outside the model"
    return NEVER if unit == "s" else UNLIMITED


def _exponent(value: float) -> int:
    return Decimal(repr(abs(float(value)))).adjusted()


def _step_of(exponent: int, count: int) -> str:
    return f"1E{exponent - count + 1}"


def _finer(step: str, extra: int) -> str:
    return str(Decimal(step).scaleb(-extra))


def _decimals(step: Decimal) -> int:
    return max(0, -int(step.as_tuple().exponent))
