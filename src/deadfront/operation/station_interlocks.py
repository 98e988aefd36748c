"""Operation: interlocks that could not hold or never let go. Entries of the file in, each contradiction noted."""

from __future__ import annotations

from collections.abc import Mapping

from deadfront.operation.findings import Findings
from deadfront.operation.machine import Device
from deadfront.operation.schemes import Entries
from deadfront.project.model import Interlock


def check_interlocks(entries: Entries, devices: Mapping[str, Device], findings: Findings) -> None:
    """Note every interlock with a part missing, a device or position that the unit has not, or without effect."""
    movable = {name: device for name, device in devices.items() if device.moves}
    for name, entry in entries.interlocks.items():
        path = f"interlocks.{name}"
        parts = {"device": entry.device, "to": entry.to, "needs": entry.needs}
        whole = findings.whole(path, **parts, stands=entry.stands, kept_by=entry.kept_by)
        if entry.device is not None and findings.known(f"{path}.device", "device", entry.device, movable):
            targets = dict.fromkeys(move.target for move in movable[entry.device].moves)
            if entry.to is not None:
                findings.position(f"{path}.to", entry.device, entry.to, targets)
        if entry.needs is not None and findings.known(f"{path}.needs", "device", entry.needs, movable):
            _stands(findings, path, entry, movable[entry.needs])
        if whole and entry.device == entry.needs:
            other = next((one for one in movable if one != entry.device), "main")
            found = f"`{entry.device}` itself, which its own position cannot hold"
            findings.wrong(f"{path}.needs", "another device", found, f"for example `needs: {other}`")


def _stands(findings: Findings, path: str, entry: Interlock, needed: Device) -> None:
    """Positions that are there, and not all of them: such an interlock would hold nothing."""
    fine = [
        findings.position(f"{path}.stands[{n}]", needed.id, position, needed.positions)
        for n, position in enumerate(entry.stands or ())
    ]
    written_by_scheme = findings.place(path) is not None  # what its unit lacks was noted
    if fine and all(fine) and not written_by_scheme and set(needed.positions) <= set(entry.stands or ()):
        found = "all of them, so that nothing is held"
        remedy = f"for example `stands: [{needed.positions[-1]}]`"
        findings.wrong(f"{path}.stands", f"some of the positions of `{needed.id}`", found, remedy)
