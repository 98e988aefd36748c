"""Physics: where a lower device clears before an upper one acts, and by how little. Times in, ranges out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from deadfront.physics.types import Array
from deadfront.tables import read

NEVER = 1e12
"""s, above which a time counts as "does not operate": some 30 000 years, and still far from the largest float."""

AT_ONCE = 1e-9
"""s, below which a time counts as none: no device sees less, and a share of it stays a number."""

PER_DECADE = 400
"""Currents examined to a decade, besides both sides of every step that is named."""

HALVINGS = 60
"""Halvings with which an end of a selective range is narrowed down; a float has fewer digits."""

STEP_SIDE = 1e-9
"""1, share by which a current stands off a step to be on one side of it."""

Kind = Literal["added time", "clear space", "time share", "time factor"]


@dataclass(frozen=True, slots=True)
class Margin:
    """How much later than the lower device the upper one must be.

    kind    "added time": upper at least `amount` s later; "clear space": later at all, `amount` is zero;
            "time share": lower at most `amount` of upper; "time factor": upper at least `amount` times lower
    amount  s for the first two, 1 for the others
    """

    kind: Kind
    amount: float


@dataclass(frozen=True, slots=True)
class PublishedMargin:
    """A row of the table of margins; `least` and `most` customary value, s for an added time, 1 otherwise."""

    upper: str
    lower: str
    kind: str
    least: float
    most: float
    tag: str


@dataclass(frozen=True, slots=True)
class Selectivity:
    """Over which currents a pair of devices is selective.

    selective_to    A, selective from the lowest current up to here; NaN if not even at the lowest one
    selective_from  A, selective from here up to the highest current; NaN if not even at the highest one
    everywhere      whether from the lowest to the highest current
    tightest        s, least time the upper device has beyond what the margin demands; negative where it fails;
                    infinite if one of them never acts
    tightest_at     A, lowest current with that time
    """

    selective_to: float
    selective_from: float
    everywhere: bool
    tightest: float
    tightest_at: float


def published_margins() -> tuple[PublishedMargin, ...]:
    """Customary margins in the order of the table.

    returns    every row, least and most customary value
    holds      where the maker or the owner of a device asks for no other
    raises     nothing
    source     IEEE 242-2001, tables 15-2 and 15-3, and practice, tagged row by row
    """
    return tuple(
        PublishedMargin(row["upper"], row["lower"], row["kind"], float(row["least"]), float(row["most"]), row["tag"])
        for row in read("coordination-margins").rows
    )


def share_of_upper(lower: Array, upper: Array) -> Array:
    """Latest time of the lower device over the earliest time of the upper one.

    lower      s, clears; infinite if it does not                  (cases,)
    upper      s, acts; infinite if it does not                    (cases,)
    returns    1: zero where the upper device does not act, infinite where it does and the lower one does not (cases,)
    holds      lower in its latest, upper in its earliest edge: mean against mean shows nothing
    raises     nothing
    source     [C]
    """
    # The minimum is zero, or NaN: without it an unknown lower time would pass where the upper device does not act.
    quiet = np.minimum(lower, 0.0)
    return np.where(np.greater_equal(upper, NEVER), quiet, lower / np.maximum(np.minimum(upper, NEVER), AT_ONCE))


def spare_time(margin: Margin, lower: Array, upper: Array) -> Array:
    """Time the upper device has beyond what the margin demands after the lower one has cleared.

    lower, upper  s, as in `share_of_upper`                        (cases,)
    returns    s, negative where the margin is not kept; infinite where the upper device does not act, minus infinite
               where it does and the lower one does not            (cases,)
    holds      as `share_of_upper`
    raises     ValueError for an unknown kind, or an amount the kind cannot have
    source     as the margin
    """
    demanded = _demanded(margin, lower)
    quiet = np.inf + np.minimum(lower, 0.0)
    spare = np.minimum(upper, NEVER) - np.minimum(demanded, NEVER)
    acts = np.where(np.greater_equal(demanded, NEVER), -np.inf + np.minimum(upper, 0.0), spare)
    return np.where(np.greater_equal(upper, NEVER), quiet, acts)


def selectivity(
    lower: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    upper: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    margin: Margin,
    currents: tuple[float, float],
    steps: Sequence[float],
) -> Selectivity:
    """Selective range and tightest margin of two devices over a range of currents, both in amperes of one place.

    lower, upper  latest clearing and earliest acting time of a current, s: functions of an array of A
    margin     what the upper device owes the lower one
    currents   A, smallest and largest current that both can see (smallest arcing fault, largest fault)
    steps      A, at which either device jumps: pickups, with their tolerance; both sides of each are examined
    returns    ends narrowed down between two neighbouring currents; a time of NaN counts as not selective
    holds      `PER_DECADE` currents to a decade between the steps: sampled, not proved
    raises     ValueError: a range that is not above zero and rising, or a margin `spare_time` refuses
    source     [C]
    """
    low, high = currents
    if not 0.0 < low < high < np.inf:
        raise ValueError(f"currents: expected a rising range above zero, got {low:g} to {high:g} A")

    def spare(current: NDArray[np.float64]) -> NDArray[np.float64]:
        found = np.asarray(spare_time(margin, lower(current), upper(current)), dtype=np.float64)
        return np.where(np.isnan(found), -np.inf, found)

    current = _examined(currents, steps)
    time = spare(current)
    failing = np.flatnonzero(time < 0.0)
    tightest = float(np.min(time))
    at = float(np.min(current[time == tightest]))
    if not len(failing):
        return Selectivity(high, low, True, tightest, at)
    first, last = int(failing[0]), int(failing[-1])
    to = _narrowed(spare, current[first - 1], current[first]) if first > 0 else np.nan
    since = _narrowed(spare, current[last + 1], current[last]) if last + 1 < len(current) else np.nan
    return Selectivity(to, since, False, tightest, at)


def _examined(currents: tuple[float, float], steps: Sequence[float]) -> NDArray[np.float64]:
    """Currents from end to end, `PER_DECADE` to a decade, with both sides of every step between the ends."""
    low, high = currents
    count = 2 + int(np.ceil(PER_DECADE * np.log10(high / low)))
    beside = np.ravel(np.multiply.outer(np.asarray(steps, dtype=np.float64), [1 - STEP_SIDE, 1.0, 1 + STEP_SIDE]))
    inside = beside[(beside > low) & (beside < high)]
    return np.unique(np.clip(np.concatenate([np.geomspace(low, high, count), inside]), low, high))


def _narrowed(spare: Callable[[NDArray[np.float64]], NDArray[np.float64]], good: float, bad: float) -> float:
    """Last selective current between a selective and a failing one."""
    for _ in range(HALVINGS):
        middle = float(np.sqrt(good * bad))
        good, bad = (middle, bad) if spare(np.array([middle]))[0] >= 0.0 else (good, middle)
    return float(good)


def _demanded(margin: Margin, lower: Array) -> Array:
    """Earliest time the margin permits to the upper device."""
    if margin.kind not in get_args(Kind):
        raise ValueError(f"kind: expected one of {', '.join(get_args(Kind))}, got {margin.kind!r}")
    if margin.kind == "clear space" and margin.amount != 0.0:
        raise ValueError(f"amount: a clear space has none, got {margin.amount:g}")
    if margin.kind in ("added time", "clear space"):
        if margin.amount < 0.0:
            raise ValueError(f"amount: expected at least zero, got {margin.amount:g}")
        return lower + margin.amount
    if margin.amount <= 0.0:
        raise ValueError(f"amount: expected above zero, got {margin.amount:g}")
    return lower / margin.amount if margin.kind == "time share" else lower * margin.amount
