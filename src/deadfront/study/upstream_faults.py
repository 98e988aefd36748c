"""Study: faults behind the fuses as the utility's device sees them; faults come in, currents of every size go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from deadfront.physics.types import Array
from deadfront.station.station import PRIMARY
from deadfront.study import fault_sizes, faults, secondary_faults, through
from deadfront.study.faults import Kind
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

Element = Literal["phase", "earth"]


@dataclass(frozen=True, slots=True)
class Family:
    """Faults that differ in size only.

    element   which current of the utility's device they drive
    words     where they are
    """

    element: Element
    words: str


PHASE = Family("phase", "from the smallest LV fault to the bolted fault behind the fuses")
EARTH = Family("earth", "earth fault behind the fuses, arcing to bolted")
LV_EARTH = Family("earth", "LV earth fault, arcing to bolted")
LV_FAULTS = Family("phase", "LV faults, arcing to bolted")


def supplies(walk: Walk) -> tuple[str, ...]:
    """Keys of the supplies."""
    return tuple(key for key in ("supply A", "supply B") if walk.station.has(key))


def cases(walk: Walk, key: str) -> tuple[int, ...]:
    """Operating cases in which one supply feeds the unit by itself."""
    mask = walk.cases.mask(key)
    return tuple(i for i, parallel in enumerate(walk.cases.parallel) if mask[i] > 0.0 and not parallel)


def families(walk: Walk) -> list[Family]:
    """Families of fault that an element can see; the earth current of an unearthed network melts no fuse."""
    found = [PHASE]
    if not faults.unearthed(walk, PRIMARY):
        found.append(EARTH)
        if walk.inputs.word("transformer.connection").startswith("YN") and _earthed(walk):
            found.append(LV_EARTH)
    return found


def _earthed(walk: Walk) -> bool:
    return walk.inputs.word("transformer.neutral") == "earthed"


def currents(walk: Walk, family: Family) -> tuple[Array, tuple[Array, Array]]:
    """MV line current of every size of a family, A, and the smallest and the largest, shape (boxes, cases)."""
    smallest, largest = _ends(walk, family)
    total = fault_sizes.of_every_size(walk, smallest, largest)
    return total, (smallest, largest)


def carried(family: Family, line: Array) -> Carried:
    """What the utility's device carries: an earth fault behind the fuses returns all of its current."""
    return Carried(line, line if family.element == "earth" else 0.0 * line, 1.0)


def _ends(walk: Walk, family: Family) -> tuple[Array, Array]:
    share = fault_sizes.smallest_share(walk)
    if family is EARTH:
        bolted = faults.current(walk, PRIMARY, "line-earth", walk.method)
        smallest = fault_sizes.shared(walk, PRIMARY, "line-earth")
        return share * _line(walk, "line-earth", smallest), _line(walk, "line-earth", bolted)
    if family is LV_EARTH:
        return share * secondary_faults.shared_line(walk, "line-earth"), secondary_faults.primary_line(
            walk, "line-earth"
        )
    kinds = secondary_faults.kinds(walk)
    least, most = secondary_faults.shared_line(walk, kinds[0]), secondary_faults.primary_line(walk, kinds[0])
    for kind in kinds[1:]:
        least = np.minimum(least, secondary_faults.shared_line(walk, kind))
        most = np.maximum(most, secondary_faults.primary_line(walk, kind))
    if family is LV_FAULTS:
        return share * least, most
    behind = _line(walk, "three-phase", faults.current(walk, PRIMARY, "three-phase", walk.method))
    return share * least, np.maximum(behind, most)


def _line(walk: Walk, kind: Kind, total: Array) -> Array:
    """MV line current of a fault of `total` A behind the fuses."""
    return through.infeeds(walk, PRIMARY, kind, walk.method, total)["fuses"].phase
