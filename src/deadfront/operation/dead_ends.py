"""Operation: positions of a unit that can be reached and never left. A machine in, an error at the interlocks out."""

from __future__ import annotations

from collections.abc import Iterator

from deadfront.operation.errors import BrokenMachine, Located
from deadfront.operation.examining import dead_ends
from deadfront.operation.machine import Machine
from deadfront.project.model import Unit


def refuse_dead_ends(unit: Unit, machine: Machine) -> None:
    """Raise `BrokenMachine` for every position that the interlocks and locks of the file never let go of."""
    findings = []
    for device, position in dead_ends(machine):
        text = f"{device} can be brought to {position!r} and never leave it: what holds it there is never satisfied"
        findings += [Located(path, text) for path in _holding(unit, device)]
    if findings:
        raise BrokenMachine(findings)


def _holding(unit: Unit, device: str) -> Iterator[str]:
    """Entries of the file that hold a device; the section itself where a named scheme does."""
    operation = unit.operation
    own = (
        []
        if operation is None
        else [
            *(
                f"operation.interlocks.{name}"
                for name, one in (operation.interlocks or {}).items()
                if one.device == device
            ),
            *(f"operation.locks.{name}" for name, one in (operation.locks or {}).items() if one.device == device),
        ]
    )
    yield from own or ["operation"]
