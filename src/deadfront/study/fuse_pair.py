"""Study: link and limiter as a pair; curves and liquid temperatures come in, where they cross and how they share goes
out.

The curves move with the temperature of the liquid. A cold link with a hot limiter crosses lowest and a hot link with a
cold limiter highest: every other pair of temperatures lies between them, since each curve moves one way only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from deadfront.physics import crossing, curves, fuse_sparing, moved_crossing
from deadfront.physics.crossing import STATES, WORDS, Edge, State
from deadfront.physics.types import Array
from deadfront.project.project import CurveData
from deadfront.study import fuse_entries
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.walk import Walk

ALIKE = "link and limiter in the same liquid"
LOW = "cold link, hot limiter"
HIGH = "hot link, cold limiter"

REMEMBERED = 256
"""Pairs of edges whose tables are kept: one file has a handful."""


@dataclass(frozen=True, slots=True)
class Liquid:
    """Temperature of the liquid at the link and at the limiter, degC, and what the state is called."""

    words: str
    link: Array
    limiter: Array


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where the clearing of the link crosses the melting of the limiter, in one state of the liquid.

    current   A; infinite where the link is always first, the first common current where the limiter is
    state     how the two curves lie to each other
    preload   1, share of its melting time that the limiter keeps
    """

    liquid: Liquid
    current: Array
    state: State
    preload: float


@dataclass(frozen=True, slots=True)
class _Edges:
    """All that fixes the two edges of a pair at their reference temperatures; hashable, so that tables are kept.

    tolerance, arcing   of a link without clearing times, None otherwise
    preload             share of its melting time that the limiter keeps
    together            limiters in parallel
    moved               current factors of link and limiter
    """

    link: CurveData
    limiter: CurveData
    tolerance: float | None
    arcing: float | None
    preload: float
    together: int
    moved: tuple[float, float] = (1.0, 1.0)


def lacks(walk: Walk) -> str | None:
    """Why there is no pair whose duties a crossing parts, in words; None where there is one."""
    for name, words in (("bayonet", "draw-out link"), ("limiter", "current-limiting fuse")):
        if walk.inputs.entry(f"fuses.{name}") is None:
            return f"The file has no {words}: there is no pair of fuses."
    if fuse_entries.isolates_only(walk):
        return "The draw-out link only isolates: there is no crossing that parts its duty from the limiter's."
    return None


def unknown(walk: Walk) -> str | None:
    """Why nothing can be said of the crossing, in words; None where something can."""
    if text := unfit(walk):
        return text
    if np.isnan(limiter_preload(walk)):
        return "The permitted load alone melts the limiter in hot liquid: it has no melting time left to compare."
    for moved, preloaded in _corners(walk):
        state = _state(_edges(walk, preloaded=preloaded, moved=moved))
        if state in ("crosses several times", "crosses beyond both curves"):
            return f"Link and limiter: {WORDS[state]}."
    return None


def unfit(walk: Walk) -> str | None:
    """In words, why a curve does not say how its fuse melts in this network and this liquid; None where both do."""
    found = [ask(walk, name) for name in FUSE_NAMES for ask in (fuse_entries.unfit_curve, fuse_entries.too_hot)]
    return next((text for text in found if text), None)


def limiter_preload(walk: Walk) -> float:
    """Least share of its melting time that the limiter keeps after the permitted load, 1."""
    return fuse_entries.preload(walk, "limiter", _data(walk, "limiter").current[0])


def lowest_crossing(walk: Walk, *, mixed: bool) -> Crossing:
    """Crossing that must lie high: the limiter preloaded, the link late; in the same liquid or in the mixed state."""
    cold, hot = _ends(walk)
    return _crossing(walk, Liquid(LOW, cold, hot) if mixed else same_liquid(walk), preloaded=True)


def highest_crossing(walk: Walk, *, mixed: bool) -> Crossing:
    """Crossing that must lie low: the limiter without load before; in the same liquid or in the mixed state."""
    cold, hot = _ends(walk)
    return _crossing(walk, Liquid(HIGH, hot, cold) if mixed else same_liquid(walk), preloaded=False)


def lowest_crossings(walk: Walk) -> tuple[Crossing, ...]:
    """Both crossings that must lie high."""
    return (lowest_crossing(walk, mixed=False), lowest_crossing(walk, mixed=True))


def highest_crossings(walk: Walk) -> tuple[Crossing, ...]:
    """Both crossings that must lie low."""
    return (highest_crossing(walk, mixed=False), highest_crossing(walk, mixed=True))


def share_up_to(walk: Walk, current: Array) -> Array:
    """Largest share of the limiter's melting time that the link takes to clear, at any current up to this one, 1.

    Cold link, hot and preloaded limiter: in every other liquid the link is quicker or the limiter slower.
    """
    cold, hot = _ends(walk)
    moved = (_factor(walk, "bayonet", cold), _factor(walk, "limiter", hot))
    return fuse_sparing.largest_share(_shares(_edges(walk, preloaded=True, moved=moved)), current)


def silent_link(walk: Walk) -> tuple[float, float] | None:
    """Currents between which the hot limiter may melt and the cold link does not promise to clear, A; None: nowhere."""
    cold, hot = _ends(walk)
    moved = (_factor(walk, "bayonet", cold), _factor(walk, "limiter", hot))
    link, limiter = _both(_edges(walk, preloaded=True, moved=moved))
    melts, clears = float(limiter.current[0]), float(link.current[0])
    return (melts, clears) if melts < clears else None


def surely_cleared(walk: Walk, liquid: Array) -> Array:
    """Current from which the link promises to clear, A: the first point of its clearing curve in this liquid."""
    first: Array = _data(walk, "bayonet").current[0]
    if not fuse_entries.clears_by_curve(walk, "bayonet"):
        first = first * (1.0 + fuse_entries.melting_tolerance(walk, "bayonet"))
    return first * fuse_entries.liquid_factor(walk, "bayonet", liquid)


def same_liquid(walk: Walk) -> Liquid:
    """Link and limiter in the same liquid, at any temperature of the file's range."""
    temperature = walk.inputs.number("transformer.liquid_temperature")
    return Liquid(ALIKE, temperature, temperature)


def cold_link_hot_limiter(walk: Walk) -> Liquid:
    """The link at the coldest, the limiter at the hottest temperature of the file's range."""
    return Liquid(LOW, *_ends(walk))


def _crossing(walk: Walk, liquid: Liquid, *, preloaded: bool) -> Crossing:
    """Crossing in one state of the liquid."""
    ends = _ends(walk)
    between = [(end, end) for end in ends] if liquid.words == ALIKE else [(liquid.link, liquid.limiter)]
    corners = [_edges(walk, preloaded=preloaded, moved=_moved(walk, *corner)) for corner in between]
    kept = corners[0].preload
    states = {_state(corner) for corner in corners}
    still = 0.0 * liquid.link  # a crossing that no temperature moves has the shape of one that it does
    for state in ("lower first only above", "upper always first"):
        if state in states:
            return Crossing(liquid, min(float(_found(corner).start) for corner in corners) + still, state, kept)
    if "lower always first" in states:
        nowhere = len(states) == 1 or not preloaded  # where only one end of the liquid has none, a lowest is not known
        return Crossing(liquid, (np.inf if nowhere else np.nan) + still, "lower always first", kept)
    link = fuse_entries.liquid_factor(walk, "bayonet", liquid.link)
    limiter = fuse_entries.liquid_factor(walk, "limiter", liquid.limiter)
    table = _table(_edges(walk, preloaded=preloaded))
    return Crossing(liquid, moved_crossing.crossing_current(table, link, limiter), "crosses once", kept)


def crossing_time(walk: Walk, crossing: Crossing) -> Array:
    """When both fuses act at their crossing, s: the melting time of the limiter there, in its liquid, after load."""
    factor = fuse_entries.liquid_factor(walk, "limiter", crossing.liquid.limiter)
    each = crossing.current / fuse_entries.in_parallel(walk, "limiter")
    return curves.hot_melting_time(_curve(_data(walk, "limiter")), each, factor, crossing.preload)


def _ends(walk: Walk) -> tuple[float, float]:
    """Coldest and hottest liquid, degC: the curves move one way with it, so the ends stand for all between."""
    path = "transformer.liquid_temperature"
    return walk.inputs.lowest(path), walk.inputs.highest(path)


def _corners(walk: Walk) -> list[tuple[tuple[float, float], bool]]:
    """Current factors of every state of the liquid, with and without load before as the state asks."""
    cold, hot = _ends(walk)
    states = [(cold, cold, True), (hot, hot, True), (cold, hot, True)]
    states += [(cold, cold, False), (hot, hot, False), (hot, cold, False)]
    return [(_moved(walk, link, limiter), preloaded) for link, limiter, preloaded in states]


def _moved(walk: Walk, link: Array, limiter: Array) -> tuple[float, float]:
    return _factor(walk, "bayonet", float(link)), _factor(walk, "limiter", float(limiter))


def _factor(walk: Walk, name: FuseName, liquid: float) -> float:
    """Current factor at one temperature, for plain numbers."""
    metal = fuse_entries.melting_temperature_end(walk, name)
    path = f"fuses.{name}.reference_temperature"
    published = curves.CURVE_TEMPERATURE
    if walk.inputs.given(path):  # the end that makes the link late and the limiter early
        published = walk.inputs.highest(path) if name == "bayonet" else walk.inputs.lowest(path)
    return float(curves.liquid_factor(metal, liquid) / curves.liquid_factor(metal, published))


def _data(walk: Walk, name: FuseName) -> CurveData:
    return walk.project.curves[walk.inputs.word(f"fuses.{name}.curve")]


def _edges(walk: Walk, *, preloaded: bool, moved: tuple[float, float] = (1.0, 1.0)) -> _Edges:
    """The pair as the file gives it: the link at its latest, the limiter at its earliest."""
    tolerance, arcing = None, None
    if not fuse_entries.clears_by_curve(walk, "bayonet"):
        tolerance = _latest(walk, "melting_tolerance", lambda: fuse_entries.melting_tolerance(walk, "bayonet"))
        arcing = _latest(walk, "arcing_time", lambda: fuse_entries.arcing_time(walk))
    return _Edges(
        _data(walk, "bayonet"),
        _data(walk, "limiter"),
        tolerance,
        arcing,
        limiter_preload(walk) if preloaded else 1.0,
        fuse_entries.in_parallel(walk, "limiter"),
        moved,
    )


def _latest(walk: Walk, entry: str, otherwise: Callable[[], Array]) -> float:
    """Upper end of an entry that makes the link late; an assumed number is its own end."""
    path = f"fuses.bayonet.{entry}"
    return walk.inputs.highest(path) if walk.inputs.given(path) else float(otherwise())


@lru_cache(maxsize=REMEMBERED)
def _both(edges: _Edges) -> tuple[Edge, Edge]:
    """Clearing edge of the link and melting edge of the limiter."""
    link, limiter = (_curve(data) for data in (edges.link, edges.limiter))
    if edges.tolerance is None or edges.arcing is None:
        lower = crossing.clearing_edge(link)
    else:
        lower = crossing.clearing_edge_by_tolerance(link, edges.tolerance, edges.arcing)
    upper = crossing.melting_edge(limiter).moved(edges.moved[1] * edges.together, edges.preload)
    return lower.moved(edges.moved[0], 1.0), upper


def _curve(data: CurveData) -> curves.TimeCurrentCurve:
    found = [edge for edge in (data.minimum_melting, data.total_clearing) if edge is not None]
    return curves.TimeCurrentCurve(np.array(data.current), np.array(found[0]), np.array(found[-1]))


@lru_cache(maxsize=REMEMBERED)
def _found(edges: _Edges) -> crossing.Crossings:
    return crossing.crossings(*_both(edges))


def _state(edges: _Edges) -> State:
    return STATES[int(_found(edges).state)]


@lru_cache(maxsize=REMEMBERED)
def _table(edges: _Edges) -> moved_crossing.CrossingByShift:
    return moved_crossing.crossing_by_shift(*_both(edges))


@lru_cache(maxsize=REMEMBERED)
def _shares(edges: _Edges) -> fuse_sparing.ShareByCurrent:
    return fuse_sparing.share_by_current(*_both(edges))
