"""Operation: what can be wrong with a machine. A path and a sentence in, one error that names all places out."""

from __future__ import annotations

from collections.abc import Sequence


class Located(ValueError):  # noqa: N818  (one finding; `BrokenMachine` is what a caller catches)
    """One thing that is wrong, with the path of the entry, such as `devices[2].moves[0].to`."""

    def __init__(self, path: str, text: str) -> None:
        super().__init__(f"{path}: {text}")
        self.path = path
        self.text = text


class BrokenMachine(ValueError):  # noqa: N818  (a machine that is broken, not an error class of a library)
    """A machine that says something impossible. `findings` holds every place, its text has one line for each."""

    def __init__(self, findings: Sequence[Located]) -> None:
        super().__init__("\n".join(str(finding) for finding in findings))
        self.findings = tuple(findings)


class MachineTooLarge(ValueError):  # noqa: N818  (says what the machine is)
    """A machine with more possible states than can be looked at; nothing was concluded from a part of them."""
