"""Operation: what is live, earthed and in parallel for each electrical position. State numbers in, table rows out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.operation.coding import WELD, Coding, device_digit
from deadfront.operation.index import Codes, Identities, Index
from deadfront.operation.machine import EARTH, Device, Machine
from deadfront.operation.phases import of_pole, pole_of

Flags = NDArray[np.bool_]
Labels = NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Rows:
    """One row per electrical position met so far. Shapes (rows, points), (rows,) and (rows, openings, stores)."""

    live: Flags
    earthed: Flags
    energised: Flags
    drained: Flags
    """Earthed by metal alone: an earth behind a transformer draws no charge off, and nobody works under it."""
    fault: Flags
    parallel: Flags
    backfeed: Flags
    load: NDArray[np.int32]
    """Which of the load points are energised, as a number that differs where they differ."""
    exposed: Flags
    """(rows, openings): the opening reaches a live point."""
    charged: Flags
    """(rows, openings, stores): the opening reaches a dead, unearthed point that metal joins to the store."""


class Energy:
    """The table of electrical positions of a machine; each is worked out once, when it is first met.

    `frozen` holds blades that do not follow their handle, device (or one pole of it) to position; `welds` those that
    stand so from the state on in which the digit `WELD` names them, counted from 1.
    """

    def __init__(
        self,
        machine: Machine,
        coding: Coding,
        devices: tuple[Device, ...],
        frozen: dict[str, str],
        welds: tuple[tuple[str, str], ...] = (),
    ) -> None:
        self._machine = machine
        self._coding = coding
        self._devices = devices
        self._frozen = frozen
        self._welds = welds
        self._point = {name: n for n, name in enumerate(machine.points)}
        self._index = Index(coding.electrical)
        self._loads = Index(1 << 62)
        self.rows = self._work_out(np.zeros(0, dtype=np.int64))

    def row(self, codes: Codes) -> Identities:
        """The row of each state number's electrical part; rows not met before are worked out."""
        rows, first = self._index.meet(codes % self._coding.electrical)
        if first.size:
            known = self._index.count - first.size
            new = self._work_out(self._index.codes[known : self._index.count])
            self.rows = Rows(
                *(np.concatenate([getattr(self.rows, name), getattr(new, name)]) for name in Rows.__slots__)
            )
        return rows

    def live(self, rows: Identities, point: int) -> Flags:
        """Whether a point is live in each of the rows."""
        live: Flags = self.rows.live[rows, point]
        return live

    def earthed(self, rows: Identities, point: int) -> Flags:
        """Whether metal joins a point to earth in each of the rows; an earth behind a transformer is none there."""
        earthed: Flags = self.rows.drained[rows, point]
        return earthed

    def fault(self, rows: Identities) -> Flags:
        """Whether a source stands on an earth in each of the rows."""
        return self.rows.fault[rows]

    def point(self, name: str) -> int:
        """The column of a point."""
        return self._point[name]

    def _standing(self, device: Device, codes: Codes) -> dict[str, Flags]:
        """Where the handle of a device stands, position by position."""
        field = self._coding.fields.get(device_digit(device.id))
        if field is None:
            return {position: np.full(codes.shape, position == device.start) for position in device.positions}
        digit = (codes // field.stride) % field.size
        return {position: digit == n for n, position in enumerate(field.values)}

    def _welded(self, codes: Codes) -> dict[str, list[tuple[str, Flags]]]:
        """For each blade that may weld, where it stands welded and in which states."""
        found: dict[str, list[tuple[str, Flags]]] = {}
        if self._welds:
            field = self._coding.fields[WELD]
            digit = (codes // field.stride) % field.size
            for n, (name, where) in enumerate(self._welds, start=1):
                found.setdefault(name, []).append((where, digit == n))
        return found

    def _conducting(self, codes: Codes) -> list[tuple[str, str, Flags]]:
        edges = []
        welded = self._welded(codes)
        for device in self._devices:
            standing = self._standing(device, codes)
            for position, pairs in device.edges:
                for a, b in pairs:
                    stuck = self._frozen.get(device.id, self._frozen.get(of_pole(device.id, pole_of((a, b)) or "")))
                    closed = standing[position] if stuck is None else np.full(codes.shape, position == stuck)
                    for where, then in welded.get(device.id, ()):
                        closed = np.where(then, position == where, closed)
                    edges.append((a, b, closed))
        return edges

    def _labels(self, edges: list[tuple[str, str, Flags]], rows: int) -> Labels:
        """The lowest column of a point each point is joined to; shape (rows, points)."""
        label = np.tile(np.arange(len(self._point), dtype=np.int16), (rows, 1))
        joined = [(self._point[a], self._point[b], on) for a, b, on in edges if EARTH not in (a, b)]
        while True:
            before = label.copy()
            for a, b, on in joined:
                low = np.minimum(label[:, a], label[:, b])
                label[:, a] = np.where(on, low, label[:, a])
                label[:, b] = np.where(on, low, label[:, b])
            if np.array_equal(before, label):
                return label

    def _earthed(self, label: Labels, edges: list[tuple[str, str, Flags]]) -> Flags:
        earthed = np.zeros(label.shape, dtype=np.bool_)
        for a, b, on in edges:
            if EARTH in (a, b):
                point = self._point[b if a == EARTH else a]
                earthed |= on[:, None] & (label == label[:, point][:, None])
        return earthed

    def _work_out(self, codes: Codes) -> Rows:
        machine, n = self._machine, codes.size
        edges = self._conducting(codes)
        always = np.ones(n, dtype=np.bool_)
        metal = edges + [(*link.between, always) for link in machine.links if not link.magnetic]
        every = edges + [(*link.between, always) for link in machine.links]
        label, by_metal = self._labels(every, n), self._labels(metal, n)
        earthed, drained = self._earthed(label, edges), self._earthed(by_metal, edges)
        energised, parallel, backfeed = self._fed(label, codes)
        live = energised & ~earthed
        load = np.zeros(n, dtype=np.int32)
        for name in machine.loads:
            load, _ = self._loads.meet(2 * load.astype(np.int64) + energised[:, self._point[name]])
        reached = [[self._point[p] for p in opening.reaches] for opening in machine.openings]
        exposed = np.zeros((n, len(reached)), dtype=np.bool_)
        charged = np.zeros((n, len(reached), len(machine.stores)), dtype=np.bool_)
        for o, columns in enumerate(reached):
            exposed[:, o] = live[:, columns].any(axis=1)
            for s, store in enumerate(machine.stores):
                joined = by_metal[:, columns] == by_metal[:, self._point[store.at]][:, None]
                charged[:, o, s] = (joined & ~live[:, columns] & ~drained[:, columns]).any(axis=1)
        fault: Flags = np.any(energised & earthed, axis=1)
        return Rows(live, earthed, energised, drained, fault, parallel, backfeed, load, exposed, charged)

    def _fed(self, label: Labels, codes: Codes) -> tuple[Flags, Flags, Flags]:
        energised = np.zeros(label.shape, dtype=np.bool_)
        parallel, backfeed = np.zeros(codes.size, dtype=np.bool_), np.zeros(codes.size, dtype=np.bool_)
        feeding: list[tuple[bool, str, Labels, Flags]] = []
        watch = self._machine.no_backfeed
        for device in self._devices:
            if device.source is None:
                continue
            standing = self._standing(device, codes)
            on = np.zeros(codes.shape, dtype=np.bool_)
            for position in device.source.on:
                on |= standing[position]
            for at in device.source.at:
                where = label[:, self._point[at]]
                energised |= on[:, None] & (label == where[:, None])
                for _, group, other, other_on in feeding:
                    if group != device.source.group:
                        parallel |= on & other_on & (where == other)
                if device.source.group in watch.groups:
                    for name in watch.points:
                        backfeed |= on & (where == label[:, self._point[name]])
                feeding.append((device.id in watch.sources, device.source.group, where, on))
        for column in (label[:, self._point[name]] for name in watch.points):
            joined = [(listed, group, on & (where == column)) for listed, group, where, on in feeding]
            for group in {group for listed, group, _ in joined if listed}:
                alone, held = np.zeros(codes.size, dtype=np.bool_), np.zeros(codes.size, dtype=np.bool_)
                for listed, own, there in joined:
                    if own == group and listed:
                        alone |= there
                    elif own == group:
                        held |= there
                backfeed |= alone & ~held
        return energised, parallel, backfeed
