"""Physics: the coefficients of IEEE Std 1584-2018 by electrode configuration. Names in, coefficients per case out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from deadfront.physics.types import Array
from deadfront.tables import Table, read

ELECTRODES = ("VCB", "VCBB", "HCB", "VOA", "HOA")
"""Electrode configurations: vertical in a box, vertical ending on a barrier, horizontal in a box, and the open two."""

BOXES = ("VCB", "VCBB", "HCB")
"""The configurations inside an enclosure."""


class Node(NamedTuple):
    """Coefficients at one voltage: k1 to k3 and k4 to k10 of Table 1, k1 to k3 and k11 to k13 of Tables 3 to 5."""

    law: tuple[Array, ...]
    polynomial: tuple[Array, ...]
    energy: tuple[Array, ...]


class Coefficients(NamedTuple):
    """All coefficients of one setting, each a number or one number per case (last axis).

    nodes          at 600, 2700 and 14300 V
    variation      k1 to k7 of Table 2
    enclosed       whether the configuration stands in an enclosure
    width, height  A and B of Eqs. (11), (12), and whether the straight rule holds up to 1244.6 mm
    typical        b1 to b3 of Eq. (14)
    shallow        b1 to b3 of Eq. (15)
    """

    nodes: tuple[Node, Node, Node]
    variation: tuple[Array, ...]
    enclosed: Array
    width: tuple[Array, ...]
    height: tuple[Array, ...]
    typical: tuple[Array, ...]
    shallow: tuple[Array, ...]


def coefficients(electrodes: str | Sequence[str]) -> Coefficients:
    """Coefficients of one configuration, or of one configuration per case.

    electrodes  names out of `ELECTRODES`; structural            () or (cases,)
    returns     numbers of shape () or (cases,)
    holds       the five configurations of the standard
    raises      ValueError for an unknown configuration
    source      IEEE Std 1584-2018 Tables 1 to 7, tags in the tables
    """
    return _gathered(electrodes if isinstance(electrodes, str) else tuple(electrodes))


@lru_cache(maxsize=16)
def _gathered(electrodes: str | tuple[str, ...]) -> Coefficients:
    index = _position(electrodes) if isinstance(electrodes, str) else [_position(name) for name in electrodes]
    current = read("ieee1584-arcing-current")
    nodes = tuple(
        _node(current.where(voltage_v=volts), read(f"ieee1584-energy-{volts}v"), index)
        for volts in ("600", "2700", "14300")
    )
    size, factor = read("ieee1584-enclosure-size"), read("ieee1584-enclosure-factor")
    return Coefficients(
        (nodes[0], nodes[1], nodes[2]),
        _picked(read("ieee1584-current-variation"), _numbered(1, 7), index),
        np.array([name in BOXES for name in ELECTRODES])[index],
        _growth(size.where(dimension="width"), index),
        _growth(size.where(dimension="height"), index),
        _picked(factor.where(box_type="typical"), ("b1", "b2", "b3"), index, "001"),
        _picked(factor.where(box_type="shallow"), ("b1", "b2", "b3"), index, "001"),
    )


def _node(current: Table, energy: Table, index: int | list[int]) -> Node:
    polynomial = _picked(current, _numbered(4, 10), index)
    return Node(
        _picked(current, _numbered(1, 3), index),
        _without_leading_zeros(polynomial),
        _picked(energy, (*_numbered(1, 3), *_numbered(11, 13)), index),
    )


def _growth(size: Table, index: int | list[int]) -> tuple[Array, ...]:
    a, b, straight = _picked(size, ("a_kv", "b_kv", "straight"), index, "010")
    return a, b, straight > 0.0


def _picked(table: Table, columns: Iterable[str], index: int | list[int], absent: str = "") -> tuple[Array, ...]:
    """Columns of a table in the order of the cases.

    `absent` has one digit per column for the configurations in the open, which the tables of enclosures leave out.
    Nothing is ever taken from these digits: `enclosed` is false there.
    """
    rows = {row["electrodes"]: row for row in table.rows}
    order = ELECTRODES if not absent else BOXES
    found = []
    for at, column in enumerate(columns):
        values = [float(rows[name][column]) for name in order]
        values += [float(absent[at])] * (len(ELECTRODES) - len(order)) if absent else []
        numbers: NDArray[np.float64] = np.array(values)
        found.append(numbers[index])
    return tuple(found)


def _without_leading_zeros(polynomial: tuple[Array, ...]) -> tuple[Array, ...]:
    """Polynomial without the powers that no case uses: at 600 V the sixth and fifth are zero throughout Table 1."""
    while len(polynomial) > 1 and not np.count_nonzero(polynomial[0]):
        polynomial = polynomial[1:]
    return polynomial


def _numbered(first: int, last: int) -> tuple[str, ...]:
    return tuple(f"k{number}" for number in range(first, last + 1))


def _position(electrodes: str) -> int:
    if electrodes not in ELECTRODES:
        raise ValueError(f"electrodes: expected {', '.join(ELECTRODES[:-1])} or {ELECTRODES[-1]}, got {electrodes!r}")
    return ELECTRODES.index(electrodes)
