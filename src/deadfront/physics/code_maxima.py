"""Physics: the largest primary and secondary protection a code permits, and standard ratings. Arrays in, arrays out."""

from __future__ import annotations

from typing import Literal, NamedTuple, get_args

import numpy as np

from deadfront.physics.types import Array
from deadfront.tables import Table, read

Device = Literal["primary fuse", "primary breaker", "secondary fuse", "secondary breaker", "low-voltage secondary"]

NFPA_LOCATIONS = ("any", "supervised, primary only", "supervised")

CSA_RULES = ("26-250", "Table 50")

GUIDE_OVERLOAD = 1.5
"""1, permitted overload of the transformer in the guide rule for IEC fuses: handbook [V]."""

GUIDE_RESERVE = 1.1
"""1, reserve over that in the guide rule for IEC fuses: handbook [V]."""

SAME_RATING = 1e-9
"""1, share by which a computed current may miss a standard rating and still count as that rating: rounding of floats,
which must not permit the next size."""

NEC_RATINGS, IEC_RATINGS, E_RATINGS = "nec-standard-ratings", "iec60282-rated-currents", "c37-e-ratings"

_NFPA_COLUMNS = {
    "primary fuse": "primary_fuse_pct",
    "primary breaker": "primary_breaker_pct",
    "secondary fuse": "secondary_over_1000v_fuse_pct",
    "secondary breaker": "secondary_over_1000v_breaker_pct",
    "low-voltage secondary": "secondary_to_1000v_pct",
}

_CSA_COLUMNS = {
    **_NFPA_COLUMNS,
    "secondary fuse": "secondary_over_750v_fuse_pct",
    "secondary breaker": "secondary_over_750v_breaker_pct",
    "low-voltage secondary": "secondary_to_750v_pct",
}


class Window(NamedTuple):
    """Least and most of a rating."""

    least: Array
    """A."""
    most: Array
    """A."""


def nfpa_multiple(location: str, device: Device, impedance: Array) -> Array:
    """Largest rating or setting over rated current, by NFPA 70 Table 450.3(A), transformers over 1000 V.

    location   "any", "supervised" (qualified persons monitor and service) or "supervised, primary only"; structural
    device     structural; "low-voltage secondary" is one up to 1000 V
    impedance  1, rated, 0.0575 for 5.75 %                          (cases,)
    returns    1: 3.0 for 300 %; infinite where the table requires no such device; NaN above the impedances it
               knows                                                (cases,)
    holds      Beware: a maximum for protection, no rule for sizing; note 1 by `next_rating_up`, `note_1_applies`
    raises     ValueError: no such location or device
    source     NFPA 70-2017, Table 450.3(A) [V; two supervised rows M]
    """
    return _multiple(read("nfpa70-450-3a"), ("location", location, NFPA_LOCATIONS), _NFPA_COLUMNS, device, impedance)


def note_1_applies(location: str) -> bool:
    """Whether the next larger standard rating may stand in for a maximum of NFPA 70 Table 450.3(A) [M].

    location   as in `nfpa_multiple`; structural
    returns    whether `next_rating_up` of the maximum is permitted, else `next_rating_down` of it
    holds      primary and secondary alike
    raises     ValueError: no such location
    source     NFPA 70-2017, Table 450.3(A), notes [M]
    """
    if location not in NFPA_LOCATIONS:
        raise ValueError(f"location: expected one of {', '.join(NFPA_LOCATIONS)}, got {location!r}")
    return read("nfpa70-450-3a").where(location=location).rows[0]["next_size_up"] == "yes"


def csa_multiple(rule: str, device: Device, impedance: Array) -> Array:
    """Largest rating or setting over rated current, by CSA C22.1 Rule 26-250 or Table 50, transformers over 750 V.

    rule       "26-250", or "Table 50" where the secondary is protected as well; structural
    device     structural; "low-voltage secondary" is one up to 750 V
    impedance  1, rated                                             (cases,)
    returns    1; infinite where the rule requires no such device; NaN above the impedances it knows     (cases,)
    holds      not a standard rating: fuse by `next_rating_up`, breaker by `next_rating_down`
    raises     ValueError: no such rule or device
    source     CSA C22.1 (2024) Rule 26-250 [V], Table 50 [M]
    """
    return _multiple(read("csa-c22-1-transformers"), ("rule", rule, CSA_RULES), _CSA_COLUMNS, device, impedance)


def iec_guide_rating(rated_current: Array, overload: Array, reserve: Array) -> Array:
    """Least rating of a fuse that protects a distribution transformer: overload times reserve times rated current.

    rated_current  A, primary line current                          (cases,)
    overload       1, permitted overload, 1.5 in the handbook [V]   (cases,)
    reserve        1, 1.1 in the handbook [V]                       (cases,)
    returns    A; take the next R10 rating up                       (cases,)
    holds      to be followed by the inrush, the secondary fault within 2 s and the transfer current
    raises     nothing
    source     handbook rule beside IEC 60787 [V]; the guide's own table was not found
    """
    return overload * reserve * rated_current


def iec_guide_window(rated_power: float, rated_current: Array) -> Window:
    """Ratings that an application rule permits for a transformer: 1.5 to 2 times rated current, 2 to 3 below 100 kVA.

    rated_power    VA; structural
    rated_current  A, primary line current                          (cases,)
    returns    A, least and most; never below 10 A                  (cases,) each
    holds      beside `iec_guide_rating`, whose 1.65 times lies within it from 100 kVA
    raises     ValueError: rating not above zero
    source     published application rule [V]; the table of IEC 60787 was not found
    """
    if not rated_power > 0.0:
        raise ValueError(f"rated_power: expected above zero, got {rated_power:g}")
    rows = read("iec-transformer-fuse-window").rows
    row = [row for row in rows if rated_power >= 1e3 * float(row["from_kva"])][-1]
    least, most = (float(row[column]) * rated_current for column in ("least_multiple", "most_multiple"))
    floor = float(row["least_rating_a"])
    return Window(np.maximum(least, floor), np.maximum(most, floor))


def next_rating_up(ratings: str, current: Array) -> Array:
    """Smallest standard rating not below a current.

    ratings    `NEC_RATINGS`, `IEC_RATINGS` or `E_RATINGS`; structural
    current    A                                                    (cases,)
    returns    A; NaN above the largest rating                      (cases,)
    holds      a current that is a rating stays itself
    raises     ValueError: no such series
    source     NFPA 70 240.6(A), IEC 60282-1 series R10, IEEE C37.46 E ratings [M]
    """
    found: Array = np.nan
    for rating in reversed(_ratings(ratings)):
        found = np.where(np.less_equal(current, rating * (1.0 + SAME_RATING)), rating, found)
    return found


def next_rating_down(ratings: str, current: Array) -> Array:
    """Largest standard rating not above a current.

    ratings, current, raises, source  as `next_rating_up`
    returns    A; NaN below the smallest rating                     (cases,)
    holds      a current that is a rating stays itself
    """
    found: Array = np.nan
    for rating in _ratings(ratings):
        found = np.where(np.greater_equal(current, rating * (1.0 - SAME_RATING)), rating, found)
    return found


def _ratings(name: str) -> list[float]:
    series = (NEC_RATINGS, IEC_RATINGS, E_RATINGS)
    if name not in series:
        raise ValueError(f"ratings: expected one of {', '.join(series)}, got {name!r}")
    return [float(rating) for rating in read(name).column("rated_a")]


def _multiple(
    table: Table, key: tuple[str, str, tuple[str, ...]], columns: dict[str, str], device: str, impedance: Array
) -> Array:
    """Share of rated current in the row whose band of impedance holds; NaN where no band does."""
    name, value, known = key
    if value not in known:
        raise ValueError(f"{name}: expected one of {', '.join(known)}, got {value!r}")
    if device not in get_args(Device):
        raise ValueError(f"device: expected one of {', '.join(get_args(Device))}, got {device!r}")
    found: Array = np.nan
    for row in reversed(table.where(**{name: value}).rows):
        most = float(row["up_to_impedance_pct"]) / 100.0 if row["up_to_impedance_pct"] else np.inf
        share = float(row[columns[device]]) / 100.0 if row[columns[device]] else np.inf
        found = np.where(np.less_equal(impedance, most), share, found)
    return found
