"""Physics: the latest and the earliest time at which low-voltage trips act and fuses clear. Arrays in, arrays out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from deadfront.physics.clearing import first_to_clear, operates_above
from deadfront.physics.types import Array
from deadfront.tables import read

LONG_TIME_PICKUP = (1.05, 1.20)
"""1, customary band of a long-time pickup, shares of the setting [C]."""

REFERENCE_MULTIPLE = 6.0
"""1, customary multiple of the pickup at which a long-time delay is stated [C]."""

_HOUR = 3600.0

BandEdge = Literal[0, 1]
"""Edge of a band, and its place in the pairs of `TripBand`."""

_EARLIEST: Final = 0
_LATEST: Final = 1


@dataclass(frozen=True, slots=True)
class LongTimeElement:
    """Overload element: delay (m pickup / I)².

    pickup              A                         (cases,)
    delay               s, at the reference multiple                 (cases,)
    reference_multiple  m  1, multiple of the pickup at which the delay is stated        (cases,)
    """

    pickup: Array
    delay: Array
    reference_multiple: Array


@dataclass(frozen=True, slots=True)
class DelayedElement:
    """Short-time or earth-fault element: flat, or an I²t ramp that comes down to the flat delay.

    pickup   A                                    (cases,)
    delay    s, of the flat part                  (cases,)
    ramp_to  A, at which the ramp has come down to the flat part, or None for a flat element; structural   (cases,)
    """

    pickup: Array
    delay: Array
    ramp_to: Array | None


@dataclass(frozen=True, slots=True)
class TripBand:
    """Tolerances of an electronic trip; an edge of the band is its place in each pair: 0 earliest, 1 latest.

    long_time_pickup  1, lowest and highest share of the setting     (cases,) each
    delay             1, lowest and highest share of the setting, of every delay: long time, short time and earth;
                      0.80 to 1.00 or 0.85 to 1.15 [C]               (cases,) each
    pickup            1, tolerance of the other pickups, both ways: 0.10 short time, 0.10 to 0.20 instantaneous [C]
    """

    long_time_pickup: tuple[Array, Array]
    delay: tuple[Array, Array]
    pickup: Array


@dataclass(frozen=True, slots=True)
class ElectronicTrip:
    """Electronic trip of a low-voltage breaker; an element that it does not have is None (structural).

    instantaneous  A, pickup                      (cases,)
    """

    long_time: LongTimeElement | None
    short_time: DelayedElement | None
    instantaneous: Array | None
    band: TripBand


@dataclass(frozen=True, slots=True)
class ThermalMagneticTrip:
    """Moulded-case breaker with thermal and magnetic trip, by the limits its standard tests it to.

    rating               A                        (cases,)
    tripping_multiple    1, of the rating, trips within the conventional time: 1.30 IEC 60947-2, 1.35 UL 489
    conventional_time    s, 1 h or 2 h            (cases,)
    reference_multiple   1, of the rating, at which the longest time is known: 2 in UL 489 (`ul489_longest_time`)
    reference_time       s, longest time there    (cases,)
    magnetic             A, pickup                (cases,)
    magnetic_tolerance   1, both ways, 0.20 in IEC 60947-2 [M]       (cases,)
    magnetic_time        s, clearing, arcing included, 0.020 to 0.025 [C]                (cases,)
    """

    rating: Array
    tripping_multiple: Array
    conventional_time: Array
    reference_multiple: Array
    reference_time: Array
    magnetic: Array
    magnetic_tolerance: Array
    magnetic_time: Array


@dataclass(frozen=True, slots=True)
class Gates:
    """Gates of one gG fuse: limits that its curve must pass between, not a curve. A and s.

    non_fusing, fusing          A, does not melt, melts within the conventional time
    conventional_time           s
    lowest_10s, lowest_100ms    A, melts no earlier than 10 s, 0.1 s
    highest_5s, highest_100ms   A, has operated by 5 s, 0.1 s
    tag                         how the numbers were verified
    """

    non_fusing: float
    fusing: float
    conventional_time: float
    lowest_10s: float
    lowest_100ms: float
    highest_5s: float
    highest_100ms: float
    tag: str


@dataclass(frozen=True, slots=True)
class LetThroughLimits:
    """Highest let-through of one size of current-limiting fuse at 50, 100 and 200 kA prospective; A²s and A."""

    i2t: tuple[float, float, float]
    peak: tuple[float, float, float]
    tag: str


def latest_trip_time(trip: ElectronicTrip, current: Array) -> Array:
    """Latest time at which an electronic trip has given its signal for a phase current.

    Its elements run side by side, and the first to have timed out trips: the first of the elements, each at its
    latest. So the I²t line of the long-time element, where it lies below the delay of the short-time element, cuts
    that delay short. The breaker then opens: `clearing.relay_and_breaker`.

    current    A rms                              (cases,)
    returns    s, infinite where no element is sure to operate       (cases,)
    holds      constant current within the breaker's ratings; a long-time element that follows I²t at every current.
               Beware: one that ends, or falls no further, at some multiple does not cut a delay short there
    raises     nothing
    source     shape and bands common practice [C]
    """
    return _first_element(trip, current, _LATEST)


def earliest_trip_time(trip: ElectronicTrip, current: Array) -> Array:
    """Earliest time at which it may have given its signal; for selectivity towards devices nearer to the fault.

    current, raises, source: as `latest_trip_time`
    returns    s, infinite where no element can operate              (cases,)
    holds      constant current within the breaker's ratings; a long-time element that ends is no earlier
    """
    return _first_element(trip, current, _EARLIEST)


def latest_earth_trip_time(element: DelayedElement, band: TripBand, residual: Array) -> Array:
    """Latest time at which an earth-fault element has tripped on a residual current; otherwise as `latest_trip_time`.

    residual   A rms, sum of the line currents          (cases,)
    """
    return _delayed(element, band, residual, _LATEST)


def earliest_earth_trip_time(element: DelayedElement, band: TripBand, residual: Array) -> Array:
    """Earliest time at which an earth-fault element may have tripped; as `earliest_trip_time`."""
    return _delayed(element, band, residual, _EARLIEST)


def latest_thermal_magnetic_time(trip: ThermalMagneticTrip, current: Array) -> Array:
    """Latest clearing time of a thermal-magnetic breaker, from the limits of its standard.

    Not sure to trip up to the tripping multiple; the conventional time up to the reference multiple; constant I²t
    from there (a bimetal that follows M² / (M² - c) stays below that line); the magnetic trip above its band.

    current    A rms                              (cases,)
    returns    s, infinite where it is not sure to trip              (cases,)
    holds      current within the breaker's rating; a curve of the breaker, where there is one, is better
    raises     nothing
    source     IEC 60947-2, UL 489 for the limits [M]; the line between them [D]
    """
    reference = trip.reference_multiple * trip.rating
    line = trip.reference_time * np.square(reference / np.maximum(current, reference))
    thermal = np.where(np.less(current, reference), trip.conventional_time, line)
    thermal = np.where(np.less(current, trip.tripping_multiple * trip.rating), np.inf, thermal)
    sure = trip.magnetic * (1.0 + trip.magnetic_tolerance)
    return np.minimum(thermal, operates_above(current, sure, trip.magnetic_time))


def ul489_longest_time(rating: float) -> float:
    """Longest time to trip at twice the rating, s, of a moulded-case breaker of UL 489.

    rating     A, up to 5000; structural
    raises     ValueError above 5000 A
    source     UL 489 [M]
    """
    for row in read("ul489-double-current").rows:
        if rating <= float(row["rated_up_to_a"]):
            return 60.0 * float(row["longest_min"])
    raise ValueError(f"rating: expected at most 5000 A, got {rating:g}")


def gg_gates(rating: float) -> Gates:
    """Gates of a gG fuse.

    rating     A, one of the standard ratings from 2 to 1250; structural
    raises     ValueError for another rating
    source     IEC 60269-1, below 16 A 60269-2 [M; the 1.6:1 chain is consistent]
    """
    table = read("iec60269-gg-gates")
    for row in table.rows:
        if float(row["rated_a"]) == rating:
            return Gates(
                rating * float(row["non_fusing_multiple"]),
                rating * float(row["fusing_multiple"]),
                _HOUR * float(row["conventional_time_h"]),
                float(row["lowest_10s_a"]),
                float(row["lowest_100ms_a"]),
                float(row["highest_5s_a"]),
                float(row["highest_100ms_a"]),
                row["tag"],
            )
    ratings = ", ".join(row["rated_a"] for row in table.rows)
    raise ValueError(f"rating: expected one of {ratings} A, got {rating:g}")


def latest_gg_time(gates: Gates, current: Array) -> Array:
    """Latest time at which a gG fuse has operated: a staircase, since gates say nothing between them.

    current    A rms                              (cases,)
    returns    s, infinite up to the fusing current                  (cases,)
    holds      any fuse of that rating. Beware: never draw chords through gates, they overstate the time
    raises     nothing
    source     IEC 60269-1 gates [M]
    """
    time = np.where(np.less(current, gates.highest_100ms), 5.0, 0.1)
    time = np.where(np.less(current, gates.highest_5s), gates.conventional_time, time)
    return operates_above(current, gates.fusing, time)


def earliest_gg_time(gates: Gates, current: Array) -> Array:
    """Earliest time at which a gG fuse may melt: a staircase, zero above the gate of 0.1 s.

    current, holds, raises, source: as `latest_gg_time`
    returns    s, infinite up to the non-fusing current              (cases,)
    """
    time = np.where(np.less_equal(current, gates.lowest_100ms), 0.1, 0.0)
    time = np.where(np.less_equal(current, gates.lowest_10s), 10.0, time)
    return operates_above(current, gates.non_fusing, time)


def let_through_limits(fuse_class: str, rating: float) -> LetThroughLimits:
    """Highest let-through of the size of fuse a rating belongs to.

    fuse_class  "J", "RK1" or "L"; structural
    rating      A, the next size up counts; structural
    raises      ValueError for an unknown class, or a rating above its largest size
    source      UL 248-8, -12, -10 [M]; a limit the table leaves out is that of the next higher prospective current
    """
    table = read("ul248-letthrough")
    classes = sorted({row["class"] for row in table.rows})
    if fuse_class not in classes:
        raise ValueError(f"fuse_class: expected one of {', '.join(classes)}, got {fuse_class!r}")
    sizes = [row for row in table.where(**{"class": fuse_class}).rows if rating <= float(row["rated_a"])]
    if not sizes:
        raise ValueError(f"rating: class {fuse_class} has no size for {rating:g} A")
    return LetThroughLimits(_filled(sizes[0], "i2t_{}ka_a2s"), _filled(sizes[0], "peak_{}ka_a"), sizes[0]["tag"])


def highest_i2t(limits: LetThroughLimits, prospective: Array) -> Array:
    """Highest total I²t let through, A²s.

    prospective  A rms symmetrical                (cases,)
    returns      A²s, the limit of the next higher tested current; NaN above 200 kA      (cases,)
    holds        up to 200 kA
    raises       nothing
    source       as `let_through_limits`
    """
    return _stepped(limits.i2t, prospective)


def highest_peak(limits: LetThroughLimits, prospective: Array) -> Array:
    """Highest peak current let through, A; parameters as `highest_i2t`."""
    return _stepped(limits.peak, prospective)


def _first_element(trip: ElectronicTrip, current: Array, edge: BandEdge) -> Array:
    """First of the elements, each at one edge of its band, s after the start of the current."""
    times = []
    if trip.long_time is not None:
        times.append(_overload(trip.long_time, trip.band, current, edge))
    if trip.short_time is not None:
        times.append(_delayed(trip.short_time, trip.band, current, edge))
    if trip.instantaneous is not None:
        times.append(operates_above(current, trip.instantaneous * _pickup_share(trip.band, edge), 0.0))
    return first_to_clear(times)


def _overload(element: LongTimeElement, band: TripBand, current: Array, edge: BandEdge) -> Array:
    """Time of a long-time element at one edge of its band."""
    starts = element.pickup * band.long_time_pickup[edge]
    delay = element.delay * band.delay[edge]
    ramp = delay * np.square(element.reference_multiple * element.pickup / np.maximum(current, starts))
    return operates_above(current, starts, ramp)


def _delayed(element: DelayedElement, band: TripBand, current: Array, edge: BandEdge) -> Array:
    """Time of a short-time or earth-fault element at one edge of its band."""
    starts = element.pickup * _pickup_share(band, edge)
    time = element.delay * band.delay[edge]
    if element.ramp_to is not None:
        # From max(I, pickup): where the element does not start, the ramp is not used.
        time = time * np.square(np.maximum(element.ramp_to / np.maximum(current, starts), 1.0))
    return operates_above(current, starts, time)


def _pickup_share(band: TripBand, edge: BandEdge) -> Array:
    """Share of its setting at which a short-time, instantaneous or earth element picks up."""
    return 1.0 + band.pickup if edge == _LATEST else 1.0 - band.pickup


def _stepped(limits: tuple[float, float, float], prospective: Array) -> Array:
    high = np.where(np.less_equal(prospective, 200e3), limits[2], np.nan)
    middle = np.where(np.less_equal(prospective, 100e3), limits[1], high)
    return np.where(np.less_equal(prospective, 50e3), limits[0], middle)


def _filled(row: dict[str, str], column: str) -> tuple[float, float, float]:
    """The three limits of a size; what is not printed is bounded by the next higher prospective current."""
    texts = [row[column.format(kiloamperes)] for kiloamperes in (50, 100, 200)]
    middle = float(texts[1] or texts[2])
    return (float(texts[0]) if texts[0] else middle, middle, float(texts[2]))
