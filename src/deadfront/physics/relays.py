"""Physics: when an inverse-time relay operates and resets. Arrays in, arrays out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from deadfront.physics.clearing import operates_above
from deadfront.physics.types import Array
from deadfront.tables import read

NEAREST = 1e-9
"""1, a current that exceeds the pickup by no more than this share counts as the pickup: there the time is infinite."""


@dataclass(frozen=True, slots=True)
class RelayCurve:
    """Constants of one inverse-time curve, t = dial (k / (M^p - 1) + c) with M the multiple of the pickup.

    k         s
    constant  c  s
    exponent  p  1
    reset     s, of dial reset / (1 - M²); NaN where the practice publishes none
    practice  standard or practice the curve comes from
    tag       how its constants were verified
    """

    name: str
    practice: str
    k: float
    constant: float
    exponent: float
    reset: float
    tag: str


@dataclass(frozen=True, slots=True)
class RelaySetting:
    """How one relay element is set.

    curve               name of the curve, one of `relay_curve_names`; structural
    pickup              A, primary                               (cases,)
    time_dial           multiplier of the curve; for "definite time" the delay itself, s         (cases,)
    freeze_above        multiple of the pickup above which the time falls no further; infinite if the curve runs on.
                        Many relays freeze at 20 [V, restated]
    instantaneous       A, pickup of the instantaneous step, or None without one; structural     (cases,)
    instantaneous_time  s, of the relay alone, None only without an instantaneous step           (cases,)
    """

    curve: str
    pickup: Array
    time_dial: Array
    freeze_above: Array
    instantaneous: Array | None
    instantaneous_time: Array | None


def relay_curve_names() -> tuple[str, ...]:
    """Names of all curves, in the order of the table `relay-curves`, which names the source of each."""
    return tuple(row["curve"] for row in read("relay-curves").rows)


@cache
def relay_curve(name: str) -> RelayCurve:
    """Constants of the curve `name`.

    raises  ValueError for an unknown name
    source  IEC 60255-151:2009, IEEE C37.112 [V2], other practices as tagged in the table. Beware: a dial that is
            seven times smaller hides behind some older curves; "undivided" marks the one that keeps it
    """
    if name not in relay_curve_names():
        raise ValueError(f"curve: expected one of {', '.join(relay_curve_names())}, got {name!r}")
    row = read("relay-curves").row(curve=name)
    k, constant, exponent = (float(row[column]) for column in ("k_s", "constant_s", "exponent"))
    reset = float(row["reset_s"]) if row["reset_s"] else float("nan")
    return RelayCurve(name, row["practice"], k, constant, exponent, reset, row["tag"])


def operate_time(curve: RelayCurve, multiple: Array, time_dial: Array, freeze_above: Array) -> Array:
    """Time until an inverse-time element operates: t = dial (k / (M^p - 1) + c).

    multiple      M  1, current over pickup                            (cases,)
    time_dial        1; for "definite time" the delay itself, s        (cases,)
    freeze_above     1, the multiple above which the time falls no further, infinite for the bare formula   (cases,)
    returns          s, infinite at and below the pickup               (cases,)
    holds            from about 1.1 times the pickup [V, restated]; below that a real relay may or may not start
    raises           nothing
    source           IEC 60255-151:2009, IEEE C37.112 [V2]
    """
    held = np.maximum(np.minimum(multiple, freeze_above), 1.0 + NEAREST)
    time = time_dial * (curve.k / (np.power(held, curve.exponent) - 1.0) + curve.constant)
    return np.where(np.less_equal(multiple, 1.0 + NEAREST), np.inf, time)


def reset_time(curve: RelayCurve, multiple: Array, time_dial: Array) -> Array:
    """Time until a relay that had all but operated is back at rest: t = dial reset / (1 - M²).

    multiple    M  1, current over pickup         (cases,)
    time_dial      1                              (cases,)
    returns        s, infinite from the pickup up; below it NaN for a curve without a
                   published reset constant                    (cases,)
    holds          dependent-time reset
    raises         nothing
    source         IEEE C37.112, IEC 60255-151:2009 [us curves V, others M]
    """
    held = np.minimum(multiple, 1.0 - NEAREST)
    time = time_dial * curve.reset / (1.0 - np.square(held))
    return np.where(np.greater_equal(multiple, 1.0 - NEAREST), np.inf, time)


def relay_operating_time(setting: RelaySetting, current: Array) -> Array:
    """Time from the start of a current until the relay gives its trip, breaker not included.

    current    A rms, primary                     (cases,)
    returns    s, the earlier of inverse and instantaneous; infinite if neither starts                   (cases,)
    holds      constant current
    raises     ValueError for an unknown curve, or an instantaneous step without its time
    source     as `operate_time`
    """
    inverse = operate_time(
        relay_curve(setting.curve), current / setting.pickup, setting.time_dial, setting.freeze_above
    )
    if setting.instantaneous is None:
        return inverse
    if setting.instantaneous_time is None:
        raise ValueError("instantaneous_time: an instantaneous step needs its operating time, got None")
    step = operates_above(current, setting.instantaneous, setting.instantaneous_time)
    return np.minimum(inverse, step)


def latest_operating_time(time: Array, accuracy: Array, least_error: Array) -> Array:
    """Latest time a relay of an accuracy class may take: the larger of share and least error added.

    time         s, by its formula                (cases,)
    accuracy     1, 0.05 for class 5 %            (cases,)
    least_error  s, 0.04 for class 5 %            (cases,)
    returns      s                                (cases,)
    raises       nothing
    source       IEC 60255-151:2009, class 5 % or 40 ms, whichever is greater [V, restated]
    """
    return time + np.maximum(accuracy * time, least_error)


def earliest_operating_time(time: Array, accuracy: Array, least_error: Array) -> Array:
    """Earliest time a relay of an accuracy class may take, not below zero; parameters as `latest_operating_time`."""
    # The larger of two errors taken off is the smaller of two times: infinite times stay infinite.
    return np.maximum(np.minimum(time * (1.0 - accuracy), time - least_error), 0.0)
