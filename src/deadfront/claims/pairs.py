"""Claims: two protective devices in series. Their times come in; a term and the range they are selective in go out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.comparing import Term
from deadfront.claims.model import SelectiveRange, Step
from deadfront.claims.steps import SETTINGS, amperes, at, seconds
from deadfront.claims.terms import Against, Cases, term
from deadfront.claims.wording import MOST_TOLD, TIME_RATIO, in_words
from deadfront.physics import selectivity
from deadfront.physics.types import Array
from deadfront.study.clearing import first
from deadfront.study.devices import Operation
from deadfront.study.earliest import Waiting
from deadfront.study.walk import Walk


@dataclass(frozen=True, slots=True)
class Pair:
    """Two devices in series, and the faults between which and the source both stand.

    subject   what they are called, and for which faults
    total     A at the nearer device, of every size that is asked for        (boxes, cases)
    ends      smallest and largest of those                                  (boxes, cases) each
    nearer    operations of the nearer device at any current at it, each at its latest
    behind    what the device behind does at the same current, at its earliest
    seen      current in the device behind, A, at the same current
    source    of the rule for the pair
    """

    subject: str
    total: Array
    ends: tuple[Array, Array]
    nearer: Callable[[Array], Sequence[Operation]]
    behind: Callable[[Array], Waiting]
    seen: Callable[[Array], Array]
    source: str

    def times(self, current: Array) -> tuple[Array, Array]:
        """Earliest time that is owed to the nearer device, and earliest time of the one behind, s."""
        behind = self.behind(current)
        return owed(behind.margin, first(self.nearer(current))), behind.time


def owed(margin: selectivity.Margin, lower: Array) -> Array:
    """Earliest time that a margin permits to the device behind, s."""
    return lower + margin.amount if margin.kind in ("added time", "clear space") else lower / margin.amount


def pair_term(walk: Walk, pair: Pair, cases: Cases) -> Term:
    """Time of the nearer device, with its margin, over that of the device behind: at most one."""
    permitted, acts = pair.times(pair.total)
    value = np.minimum(selectivity.share_of_upper(permitted, acts), MOST_TOLD)
    found = term(
        walk, pair.subject, Against(value, 1.0, "1", quantity=TIME_RATIO), cases, lambda case: _steps(walk, pair, case)
    )
    return replace(found, selective=lambda case: _selective(walk, pair, case))


def _steps(walk: Walk, pair: Pair, case: int) -> tuple[Step, ...]:
    """Size of the fault, what the nearer device does, what is owed to it, and what the device behind does."""
    behind, permitted = pair.behind(pair.total), pair.times(pair.total)[0]
    size = amperes(walk, pair.total, case)
    fault = Step("I", "fault of the worst size, at the nearer device", "", "", size, pair.source, "D")
    margin = behind.margin
    rule = "t1 / share" if margin.kind == "time share" else "t1 + margin"
    numbers = f"share {margin.amount:g}" if margin.kind == "time share" else f"margin {in_words(margin.amount, 's')}"
    allowed = seconds(walk, permitted, case)
    demand = Step("t1'", "earliest time permitted to the device behind", rule, numbers, allowed, pair.source, "C")
    there = f"at {amperes(walk, pair.seen(pair.total), case)}"
    acts = seconds(walk, behind.time, case)
    last = Step("t2", f"earliest action of the device behind, {behind.element}", "", there, acts, SETTINGS, "V")
    return (fault, _nearer_step(walk, pair.nearer(pair.total), case), demand, last)


def _nearer_step(walk: Walk, operations: Sequence[Operation], case: int) -> Step:
    """The element of the nearer device that clears first, at its latest."""
    chosen = min(operations, key=lambda operation: at(walk, operation.time, case))
    parts = " + ".join(f"{name} {seconds(walk, value, case)}" for name, value in chosen.parts)
    meaning = f"latest clearing, {chosen.device}, {chosen.element}"
    numbers = f"at {amperes(walk, chosen.current, case)}: {parts}"
    time = seconds(walk, chosen.time, case)
    return Step("t1", meaning, "first of its elements to clear", numbers, time, SETTINGS, "V")


def _selective(walk: Walk, pair: Pair, case: int) -> SelectiveRange:
    """The range in which the pair is selective in one case, from some 400 currents a decade."""
    low, high = (at(walk, end, case) for end in pair.ends)

    def side(number: int) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
        def time(current: NDArray[np.float64]) -> NDArray[np.float64]:
            found = np.asarray(pair.times(current[:, np.newaxis])[number], dtype=np.float64)
            return np.broadcast_to(found, (len(current), len(walk.cases)))[:, case]

        return time

    high = max(high, low * (1.0 + 1e-9))
    worst = (at(walk, pair.total, case),)  # a gap narrower than the currents that are looked at holds the worst point
    found = selectivity.selectivity(side(0), side(1), selectivity.Margin("clear space", 0.0), (low, high), worst)
    return stated(found, low, high)


def stated(found: selectivity.Selectivity, low: float, high: float) -> SelectiveRange:
    """What was found of a pair, with its sentence."""
    tight = found.tightest if np.isfinite(found.tightest) else None
    up_to, from_on = (None if np.isnan(x) else x for x in (found.selective_to, found.selective_from))
    ends = f"{in_words(low, 'A')} to {in_words(high, 'A')}"
    if found.everywhere:
        spare = "the device behind never acts" if tight is None else f"{in_words(tight, 's')} to spare"
        words = f"selective from {ends}, tightest at {in_words(found.tightest_at, 'A')}: {spare}"
    else:
        parts = [f"up to {in_words(up_to, 'A')}"] if up_to is not None else []
        parts += [f"from {in_words(from_on, 'A')} on"] if from_on is not None else []
        early = "the nearer device does not clear" if tight is None else f"{in_words(-tight, 's')} too early"
        words = (
            f"of {ends}, selective {' and '.join(parts) or 'nowhere'}; "
            f"worst at {in_words(found.tightest_at, 'A')}: the device behind is {early}"
        )
        if tight is None:
            words = words.replace("the device behind is the nearer", "the nearer")
    return SelectiveRange(low, high, up_to, from_on, tight, found.tightest_at, words)
