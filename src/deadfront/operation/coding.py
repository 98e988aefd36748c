"""Operation: a state as one number. Names with their positions in, strides and columns out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from deadfront.operation.errors import MachineTooLarge

LARGEST = 1 << 62
"""A state number must fit a signed 64-bit integer; beyond it nothing is explored rather than a part of it."""


def device_digit(name: str) -> str:
    """The digit that holds where the handle of a device stands."""
    return f"position of {name}"


def key_digit(name: str) -> str:
    """The digit that holds where a key is."""
    return f"place of {name}"


def charge_digit(name: str) -> str:
    """The digit that holds whether a store is charged."""
    return f"charge of {name}"


def mark_digit(name: str) -> str:
    """The digit that holds whether a test point was proved dead."""
    return f"mark of {name}"


WELD = "blade that has welded"
"""The digit that holds which blade has welded, if any; a part of what conducts."""

STAGE = "hold points passed"
"""The digit that counts the hold points a procedure has passed."""


@dataclass(frozen=True, slots=True)
class Field:
    """One digit of a state number: `size` values, worth `stride` each, `start` at the outset."""

    name: str
    values: tuple[str, ...]
    start: int
    stride: int

    @property
    def size(self) -> int:
        """How many values the digit has."""
        return len(self.values)

    def number(self, value: str) -> int:
        """The digit that stands for a value."""
        return self.values.index(value)


@dataclass(frozen=True, slots=True)
class Coding:
    """The digits of a state number, electrical positions first: `number % electrical` is the electrical part."""

    fields: dict[str, Field]
    electrical: int
    space: int

    @property
    def start(self) -> int:
        """The number of the state at the outset."""
        return sum(field.start * field.stride for field in self.fields.values())


def coding(
    electrical: Iterable[tuple[str, tuple[str, ...], str]], other: Iterable[tuple[str, tuple[str, ...], str]]
) -> Coding:
    """Return the digits for names with their values and starting value. Raises `MachineTooLarge`."""
    fields: dict[str, Field] = {}
    stride = 1
    for name, values, start in electrical:
        fields[name] = Field(name, values, values.index(start), stride)
        stride *= len(values)
    part = stride
    for name, values, start in other:
        fields[name] = Field(name, values, values.index(start), stride)
        stride *= len(values)
    if stride > LARGEST:
        raise MachineTooLarge(
            f"{len(fields)} moving parts have {stride:.1e} combined positions, more than {LARGEST:.1e} can be numbered"
        )
    return Coding(fields, part, stride)
