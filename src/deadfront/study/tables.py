"""Study: rows for people. Walks over sample points come in; extreme faults of each kind, and arcs, go out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.physics import reflection
from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import arcs, elements, faults, network, through
from deadfront.study.arcs import Arc, CurrentKind, State
from deadfront.study.clearing import Clearing, clear, fault_points
from deadfront.study.devices import Operation
from deadfront.study.faults import KINDS, Kind
from deadfront.study.inputs import MissingEntryError
from deadfront.study.walk import METHODS, Method, Walk

METHOD_NAMES: Mapping[Method, str] = {"iec": "IEC 60909-0:2016", "north-american": "North American per unit"}

WalkAt = Callable[[NDArray[np.float64]], Walk]
"""A walk through rows of a sample, shape (points, coordinates)."""


@dataclass(frozen=True, slots=True)
class FaultRow:
    """The largest or smallest current of one kind of fault at one point by one method; A, s."""

    point: str
    kind: str
    extreme: str
    method: str
    governs: bool
    current: float
    earth_current: float
    peak: float
    breaking: float | None
    thermal: float | None
    x_over_r: float
    primary_lines: tuple[float, float, float] | None
    clearing_device: str | None
    clearing_time: float
    time_parts: tuple[tuple[str, float], ...]
    case: str


@dataclass(frozen=True, slots=True)
class ArcRow:
    """The worst of the sampled points for one arc in one operating case; A, s, J/m2, m."""

    case: str
    state: str
    electrodes: str
    current_kind: str
    bolted_current: float
    arcing_current: float
    clearing_device: str | None
    clearing_time: float
    exposure_time: float
    energy: float
    boundary: float


@dataclass(frozen=True, slots=True)
class ArcPlace:
    """All arcs of one place of work, or why there are none."""

    place: str
    at: str
    refused: str | None
    governing: ArcRow | None
    largest_boundary: ArcRow | None
    rows: tuple[ArcRow, ...]


def spread(walk: Walk, array: Array, boxes: int) -> NDArray[np.float64]:
    """A result with both axes written out, shape (boxes, cases)."""
    return np.broadcast_to(np.asarray(array, dtype=np.float64), (boxes, len(walk.cases)))


def fault_rows(walk_at: WalkAt, points: NDArray[np.float64]) -> tuple[FaultRow, ...]:
    """Largest and smallest fault of each kind at each point, by each method whose entries the file gives."""
    found: list[FaultRow] = []
    coarse = walk_at(points)
    for method in METHODS:
        for point in fault_points(coarse):
            for kind in KINDS:
                found.extend(_rows(walk_at, coarse, points, (point, kind, method)))
    return tuple(found)


def _rows(walk_at: WalkAt, coarse: Walk, points: NDArray[np.float64], what: tuple[str, Kind, Method]) -> list[FaultRow]:
    """The two extremes of one kind of fault; none where the file lacks an entry it needs, or nothing flows."""
    point, kind, method = what
    try:
        current = spread(coarse, faults.current(coarse, point, kind, method), len(points))
    except MissingEntryError:
        return []
    found = []
    for extreme, rule in (("maximum", 1.0), ("minimum", 0.0)):
        chosen = (coarse.cases.maximum == rule) & (current > 0.0)
        if not chosen.any():
            continue
        sought = np.where(chosen, current, -np.inf if extreme == "maximum" else np.inf)
        flat = np.argmax(sought) if extreme == "maximum" else np.argmin(sought)
        box, case = np.unravel_index(int(flat), current.shape)
        found.append(_row(walk_at(points[[int(box)]]), what, extreme, int(case)))
    return found


def _row(walk: Walk, what: tuple[str, Kind, Method], extreme: str, case: int) -> FaultRow:
    point, kind, method = what
    current = faults.current(walk, point, kind, method)
    device, time, parts = _cleared(walk, what, current, case)
    three_phase_iec = kind == "three-phase" and method == "iec"
    return FaultRow(
        point=walk.station.point(point).name,
        kind=kind,
        extreme=extreme,
        method=METHOD_NAMES[method],
        governs=method == walk.method,
        current=number(walk, current, case),
        earth_current=number(walk, faults.earth_current(walk, point, kind, method), case),
        peak=number(walk, faults.peak(walk, point, kind, method), case),
        breaking=number(walk, faults.breaking(walk, point), case) if three_phase_iec else None,
        thermal=number(walk, faults.thermal(walk, point, kind, method, 1.0), case) if method == "iec" else None,
        x_over_r=number(walk, faults.reactance_ratio(walk, point, method), case),
        primary_lines=_primary_lines(walk, what, case),
        clearing_device=device,
        clearing_time=time,
        time_parts=parts,
        case=walk.cases.words[case],
    )


def _primary_lines(walk: Walk, what: tuple[str, Kind, Method], case: int) -> tuple[float, float, float] | None:
    """Currents in the three MV lines while the supply feeds a low-voltage fault, A; None for a fault at MV."""
    point, kind, method = what
    if network.side(walk, point) == "mv" or kind == "line-line-earth":
        return None
    total = faults.current(walk, point, kind, method)
    carried = through.infeeds(walk, point, kind, method, total)
    # At the transformer's terminals the main brings what motors and generator send back, which no MV line carries.
    own = carried["transformer"] if point == SECONDARY else carried["main"]
    connection, ratio = walk.inputs.word("transformer.connection"), elements.turns_ratio(walk)
    lines = reflection.primary_line_currents(kind, connection, own.connected * own.phase, ratio)
    return (number(walk, lines[0], case), number(walk, lines[1], case), number(walk, lines[2], case))


def _cleared(
    walk: Walk, what: tuple[str, Kind, Method], current: Array, case: int
) -> tuple[str | None, float, tuple[tuple[str, float], ...]]:
    """Device, time and its parts; no device where the file does not say how it is set."""
    point, kind, method = what
    try:
        clearing = clear(walk, point, kind, method, current)
    except MissingEntryError:
        return None, float("nan"), ()
    time = number(walk, clearing.time, case)
    operation = who_clears(walk, clearing, case)
    if operation is None:
        return None, time, ()
    parts = tuple((name, number(walk, value, case)) for name, value in operation.parts)
    return f"{operation.device}, {operation.element}", time, parts


def number(walk: Walk, array: Array, case: int) -> float:
    """A result of a walk through one operating point, at one case."""
    return float(spread(walk, array, 1)[0, case])


def who_clears(walk: Walk, clearing: Clearing, case: int, box: int = 0) -> Operation | None:
    """The operation that ends a fault in a case; None where none does. Of parallel infeeds, the last to go."""
    time = _at(walk, clearing.time, box, case)
    if not np.isfinite(time):
        return None
    connected = [i for i in clearing.infeeds if _at(walk, i.connected, box, case) > 0.0]
    candidates = [*clearing.common, *(operation for infeed in connected for operation in infeed.operations)]
    return next((operation for operation in candidates if _at(walk, operation.time, box, case) == time), None)


def _at(walk: Walk, array: Array, box: int, case: int) -> float:
    shaped = np.asarray(array, dtype=np.float64)
    whole = np.broadcast_to(shaped, np.broadcast_shapes(shaped.shape, (1, len(walk.cases))))
    return float(whole[min(box, len(whole) - 1), case])


def arc_places(walk_at: WalkAt, points: NDArray[np.float64]) -> tuple[ArcPlace, ...]:
    """Arcs of every place of work; a place that the model refuses keeps its reason."""
    walk = walk_at(points)
    found: list[ArcPlace] = []
    for place in arcs.places(walk):
        at = walk.inputs.maybe_word(f"operation.places.{place}.at") or "not given"
        try:
            refused = arcs.refusal(walk, place)
            rows = () if refused else tuple(_arc_rows(walk, place, len(points)))
        except MissingEntryError as error:
            refused, rows = f"The file does not give {error.path}.", ()
        first = [row for row in rows if row.state == rows[0].state]
        found.append(
            ArcPlace(
                place,
                at,
                refused,
                max(first, key=lambda row: _order(row.energy), default=None),
                max(first, key=lambda row: _order(row.boundary), default=None),
                rows,
            )
        )
    return tuple(found)


def _order(value: float) -> float:
    """A result outside the model counts as the worst."""
    return float("inf") if np.isnan(value) else value


def _arc_rows(walk: Walk, place: str, boxes: int) -> list[ArcRow]:
    found: list[ArcRow] = []
    kinds: tuple[CurrentKind, ...] = ("normal", "reduced")
    for state in arcs.states(walk, place):
        for electrodes in arcs.configurations(walk, place):
            for kind in kinds:
                arc = arcs.arc(walk, place, state, electrodes, kind)
                found.extend(_arc_row(walk, arc, case, boxes) for case in arcs.live_cases(walk, place))
    return found


def _arc_row(walk: Walk, arc: Arc, case: int, boxes: int) -> ArcRow:
    energy = spread(walk, arc.energy, boxes)[:, case]
    box = int(np.argmax(np.where(np.isnan(energy), np.inf, energy)))
    operation = who_clears(walk, arc.clearing, case, box)
    state: State = arc.state

    def at(array: Array) -> float:
        return _at(walk, array, box, case)

    return ArcRow(
        case=walk.cases.words[case],
        state=state,
        electrodes=arc.electrodes,
        current_kind=arc.kind,
        bolted_current=at(arc.bolted_current),
        arcing_current=at(arc.arcing_current),
        clearing_device=None if operation is None else f"{operation.device}, {operation.element}",
        clearing_time=at(arc.uncapped_time),
        exposure_time=at(arc.time),
        energy=float(energy[box]),
        boundary=at(arc.boundary),
    )
