"""Operation: what can be wrong with a machine. A path and what was expected in, one error that names all places out."""

from __future__ import annotations

from collections.abc import Sequence


class Located(ValueError):  # noqa: N818  (one finding; `BrokenMachine` is what a caller catches)
    """One thing that is wrong.

    path      of the entry: `operation.locks.door lock.code` in a project, `devices[2].moves[0].to` in a machine
    expected  what may stand there; found, what stands there; remedy, what would be right, empty if nothing is known
    at_key    it is the name of the entry that is wrong, not its value
    other     path of another entry that this one contradicts, empty if there is none
    """

    def __init__(
        self, path: str, expected: str, found: str, remedy: str = "", *, at_key: bool = False, other: str = ""
    ) -> None:
        super().__init__(f"{path}: expected {expected}, got {found}" if path else f"expected {expected}, got {found}")
        self.path = path
        self.expected = expected
        self.found = found
        self.remedy = remedy
        self.at_key = at_key
        self.other = other


class BrokenMachine(ValueError):  # noqa: N818  (a machine that is broken, not an error class of a library)
    """A machine that says something impossible. `findings` holds every place, its text has one line for each."""

    def __init__(self, findings: Sequence[Located]) -> None:
        super().__init__("\n".join(str(finding) for finding in findings))
        self.findings = tuple(findings)


class MachineTooLarge(ValueError):  # noqa: N818  (says what the machine is)
    """A machine with more possible states than can be looked at; nothing was concluded from a part of them."""
