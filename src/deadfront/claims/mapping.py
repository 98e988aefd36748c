"""Claims: where a claim holds over two of its ranges. A claim and a project come in; a map of proved cells goes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.comparing import ClaimDefinition
from deadfront.claims.field import Field, lower_end
from deadfront.claims.following import margin_of
from deadfront.claims.judging import Subject, examine
from deadfront.claims.model import Claim
from deadfront.intervals import FAILS, HOLDS, UNDECIDED, Effort, Interval, chart
from deadfront.physics.types import Array
from deadfront.project.quantities import Quantity

DEPTH = 5
"""A map has 2^5 by 2^5 cells: what a terminal of 80 columns can show."""

MAPPING = Effort(budget=20_000)
"""Effort of a map, for each part of a claim that shares its arithmetic."""

_CUTS = 8
"""Pieces of a cell in each direction when it is to be proved failing."""


@dataclass(frozen=True, slots=True)
class MarginMap:
    """A claim over two of its ranges, the others anywhere in theirs.

    paths, ranges  of the first input (last axis) and of the second (first axis)
    state          HOLDS: proved everywhere in the cell, whatever the others are. FAILS: proved that everywhere in the
                   cell the others can be such that it fails. UNDECIDED: neither          (cells, cells)
    least          smallest margin found at the middle of each cell                       (cells, cells)
    edges          of the cells, SI, for the first and the second input, each             (cells + 1,)
    """

    claim: Claim
    paths: tuple[str, str]
    ranges: tuple[Quantity, Quantity]
    state: NDArray[np.int8]
    least: NDArray[np.float64]
    edges: tuple[NDArray[np.float64], NDArray[np.float64]]
    boxes: int


def margin_map(
    definition: ClaimDefinition,
    subject: Subject,
    paths: tuple[str, str],
    depth: int = DEPTH,
    effort: Effort = MAPPING,
) -> MarginMap:
    """The map of a claim over two of its ranges.

    depth   the map has 2^depth by 2^depth cells
    effort  boxes for each maker of the claim
    raises  ValueError: the claim has no numbers on this file; the inputs are not two ranges that it reads
    """
    claim, judged = examine(definition, subject)
    if judged is None:
        raise ValueError(f"{claim.id} is {claim.verdict}: {claim.reason}")
    field = judged.field
    if len(set(paths)) != 2 or not set(paths) <= set(field.box.paths):
        known = ", ".join(field.box.paths) or "none"
        raise ValueError(f"expected two different ranges that {claim.id} reads ({known}), got {', '.join(paths)}")
    numbers = (field.box.paths.index(paths[0]), field.box.paths.index(paths[1]))
    edges = [np.linspace(field.box.lower[i], field.box.upper[i], 2**depth + 1) for i in numbers]
    state, boxes = np.full((2**depth, 2**depth), HOLDS, dtype=np.int8), 0
    least = np.full(state.shape, np.inf)
    for maker in field.makers:
        part = _part(field, maker, numbers, depth, effort)
        worst = [found.inputs for found in judged.proof.each if found.maker == maker]
        part = replace(part, state=_failing(field, maker, numbers, part, worst))
        state, least, boxes = _worse(state, part.state), np.minimum(least, part.least), boxes + part.boxes
    ranges = (field.box.quantities[numbers[0]], field.box.quantities[numbers[1]])
    return MarginMap(claim, paths, ranges, state, least, (edges[0], edges[1]), boxes)


@dataclass(frozen=True, slots=True)
class _Part:
    """What one maker gives."""

    state: NDArray[np.int8]
    least: NDArray[np.float64]
    boxes: int


def _worse(one: NDArray[np.int8], two: NDArray[np.int8]) -> NDArray[np.int8]:
    """The claim fails where any part fails, and holds only where all hold."""
    fails = (one == FAILS) | (two == FAILS)
    holds = (one == HOLDS) & (two == HOLDS)
    return np.where(fails, FAILS, np.where(holds, HOLDS, UNDECIDED)).astype(np.int8)


def _part(field: Field, maker: int, numbers: tuple[int, int], depth: int, effort: Effort) -> _Part:
    """The map of one maker; an input that it does not read is carried along, and its map is alike in that direction."""
    cells = (2**depth, 2**depth)
    cases = sorted({case for term in field.terms_at({}, maker, None) for case in term.cases})
    if not cases:
        return _Part(np.full(cells, HOLDS, dtype=np.int8), np.full(cells, np.inf), 0)
    paths = field.box.paths
    margin = margin_of(field, {maker: cases}, paths)
    lower, upper = field.box.lower, field.box.upper
    read = [path in field.paths[maker] for path in paths]
    low = np.where(read, lower, field.box.centre)
    high = np.where(read, upper, field.box.centre)
    for i in numbers:  # a charted input has a width also where it is not read
        low[i], high[i] = lower[i], upper[i]
    whole = margin.of([Interval(low[[i]][:, None], high[[i]][:, None]) for i in range(len(paths))])
    settled = bool(np.all(lower_end(whole) >= 0.0))
    found = chart(margin.of, (low.tolist(), high.tolist()), numbers, margin.columns, depth, _none(effort, settled))
    state = np.full(cells, HOLDS, dtype=np.int8) if settled else found.state
    return _Part(state, found.least, found.boxes)


def _failing(
    field: Field,
    maker: int,
    numbers: tuple[int, int],
    part: _Part,
    worst: Sequence[Sequence[float]],
) -> NDArray[np.int8]:
    """The map with those undecided cells as failing that fail everywhere while the other inputs stand at a worst point.

    The chart itself bounds a cell from above in one piece, which near the boundary is too wide: here it is cut.
    """
    state = part.state
    rows, columns = np.nonzero((state == UNDECIDED) & (part.least < 0.0))
    if not len(rows):
        return state
    edges = [np.linspace(field.box.lower[i], field.box.upper[i], len(state) + 1) for i in numbers]
    piece = np.arange(_CUTS * _CUTS)
    cells = {numbers[0]: (edges[0], columns, piece % _CUTS), numbers[1]: (edges[1], rows, piece // _CUTS)}
    fails = np.zeros((len(rows), len(piece)), dtype=np.bool_)
    for point in worst:
        values: dict[str, Array] = {path: point[i] for i, path in enumerate(field.box.paths)}
        for i, (edge, at, cut) in cells.items():
            step = ((edge[at + 1] - edge[at]) / _CUTS)[:, None]
            ends = [np.minimum(edge[at][:, None] + step * (cut + k), edge[at + 1][:, None]) for k in (0, 1)]
            ends[1] = np.where(cut == _CUTS - 1, edge[at + 1][:, None], ends[1])
            values[field.box.paths[i]] = Interval(ends[0].reshape(-1, 1), ends[1].reshape(-1, 1))
        for term in field.terms_at(values, maker, None):
            if term.cases:
                fails |= np.broadcast_to((_upper_end(term.margin()) < 0.0).any(axis=-1), fails.size).reshape(
                    fails.shape
                )
    found, whole = state.copy(), fails.all(axis=1)
    found[rows[whole], columns[whole]] = FAILS
    return found


def _upper_end(margin: Array) -> NDArray[np.float64]:
    """Upper ends of a margin: its own values where no range entered it."""
    ends = margin.upper if isinstance(margin, Interval) else margin
    return np.asarray(ends, dtype=np.float64)


def _none(effort: Effort, settled: bool) -> Effort:
    """No boxes for what natural intervals have proved over the whole map: only its smallest margins are wanted."""
    return Effort(budget=0, tolerance=effort.tolerance) if settled else effort
