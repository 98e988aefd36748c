"""Physics: what a machine still feeds when the breaker opens, by IEC 60909-0:2016. Arrays in, arrays out."""

from __future__ import annotations

import numpy as np

from deadfront.physics.types import Array
from deadfront.tables import read


def mu(ratio: Array, minimum_delay: float) -> Array:
    """Decay of the symmetrical current of a machine until the breaker opens.

    μ = a + b exp(-k I"k/I_r), not above 1; 1 where I"k/I_r is 2 or less

    ratio          I"k/I_r  1                               (cases,)
    minimum_delay  t_min    s: 0.02, 0.05, 0.10, or 0.25 and more
    returns        μ        1                               (cases,)
    holds          generators and asynchronous motors
    raises         ValueError: no curve for this delay
    source         IEC 60909-0:2016, symmetrical breaking current [V2]
    """
    row = _breaking_constants(minimum_delay)
    decayed = float(row["mu_a"]) + float(row["mu_b"]) * np.exp(-float(row["mu_k"]) * ratio)
    return np.where(np.less_equal(ratio, 2.0), 1.0, np.minimum(decayed, 1.0))


def q(power_per_pole_pair: Array, minimum_delay: float) -> Array:
    """Further decay of the current of an asynchronous motor until the breaker opens.

    q = a + b ln(P/p in MW), not above 1

    power_per_pole_pair  P/p    W                           (cases,)
    minimum_delay        t_min  s: 0.02, 0.05, 0.10, or 0.25 and more
    returns              q      1; zero where the formula of a small motor would go below     (cases,)
    holds                asynchronous motors
    raises               ValueError: no curve for this delay
    source               IEC 60909-0:2016 [V at 0.02 s; 0.10 s confirmed by an example; 0.05 s and 0.25 s M]
    """
    row = _breaking_constants(minimum_delay)
    decayed = float(row["q_a"]) + float(row["q_b"]) * np.log(power_per_pole_pair / 1e6)
    return np.maximum(np.minimum(decayed, 1.0), 0.0)


def motor_breaking_current(
    initial: Array, rated_current: Array, power_per_pole_pair: Array, minimum_delay: float
) -> Array:
    """Symmetrical breaking current of an asynchronous motor.

    I_b = μ q I"k; μ q = 1 where I"k/I_r is 2 or less

    initial              I"k    A rms, at the motor's terminals     (cases,)
    rated_current        I_r    A rms                       (cases,)
    power_per_pole_pair  P/p    W                           (cases,)
    minimum_delay        t_min  s: 0.02, 0.05, 0.10, or 0.25 and more
    returns              I_b    A rms                       (cases,)
    holds                fault at or near the terminals; sum of I_b with several sources at one bus
    raises               ValueError: no curve for this delay
    source               IEC 60909-0:2016 [V2]; the rule for 2 or less [M]
    """
    ratio = initial / rated_current
    decayed = mu(ratio, minimum_delay) * q(power_per_pole_pair, minimum_delay)
    return np.where(np.less_equal(ratio, 2.0), 1.0, decayed) * initial


def generator_breaking_current(initial: Array, rated_current: Array, minimum_delay: float) -> Array:
    """Symmetrical breaking current of a synchronous generator.

    I_b = μ I"k

    initial        I"k    A rms, at the generator's terminals     (cases,)
    rated_current  I_r    A rms                             (cases,)
    minimum_delay  t_min  s: 0.02, 0.05, 0.10, or 0.25 and more
    returns        I_b    A rms                             (cases,)
    holds          fed by one source each; sum of I_b with several sources at one bus
    raises         ValueError: no curve for this delay
    source         IEC 60909-0:2016 [V2]
    """
    return mu(initial / rated_current, minimum_delay) * initial


def _breaking_constants(minimum_delay: float) -> dict[str, str]:
    """Row of the decay constants; the last curve holds for its delay and all longer ones."""
    rows = read("iec60909-breaking-factors").rows
    longest = float(rows[-1]["minimum_delay_s"])
    for row in rows:
        if float(row["minimum_delay_s"]) == min(minimum_delay, longest):
            return row
    offered = ", ".join(row["minimum_delay_s"] for row in rows)
    raise ValueError(f"minimum_delay: expected one of {offered} s or more, got {minimum_delay} s")
