"""Operation: what is wrong with the `operation` section of a file. Paths and words in, one error out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from deadfront.operation.errors import BrokenMachine, Located
from deadfront.operation.schemes import SWITCH, Elsewhere
from deadfront.project.naming import named, suggestion
from deadfront.station.station import FUSE_LINE_SIDE

EXAMPLES = {
    "interlocks": "{device: fuse door, to: open, needs: switch, stands: [open], kept_by: mechanical}",
    "locks": "{device: switch, code: A, free_at: [open]}",
    "exchanges": "{takes: [A], gives: [C]}",
    "keys": "{code: A, start: switch lock}",
    "doors": "{reaches: [fuse line side]}",
    "tests": "{at: fuse line side}",
    "earths": "{at: fuse line side}",
    "padlocks": "switch",
    "charges": "{at: LV bus, drains: yes}",
    "connectors": "{cable: cable A, load_break: yes}",
    "bolts": "{door: fuse door, padlock: yes}",
    "rooms": "{door: fuse door, reaches: [fuse line side]}",
    "far_sources": "{feeder: pump hall, in_step: no}",
}
"""A whole entry of each kind, as a file may have it."""


class Findings:
    """Collects everything that is wrong, so that one run names it all. Paths are below `operation`.

    elsewhere   where an entry stands that the file does not write under its own name: in a scheme, or in a room
    """

    def __init__(self, elsewhere: Mapping[str, Elsewhere]) -> None:
        self._elsewhere = elsewhere
        self._found: dict[tuple[str, str, str], Located] = {}
        self.clashing: set[str] = set()
        """Schemes that contradict each other, by path: what else is wrong with them only follows from that."""

    def wrong(
        self,
        path: str,
        expected: str,
        found: str,
        remedy: str = "",
        *,
        at_key: bool = False,
        other: str = "",
        for_scheme: bool = False,
    ) -> None:
        """Note one finding, at the entry or where that is written.

        other        entry that it contradicts
        for_scheme   the remedy also holds where a scheme writes the entry
        """
        place = self.place(path)
        if place is not None:
            path, at_key = place.path, False
            if path in self.clashing:
                return
            if place.scheme:
                found = f"{found}; the scheme `{place.scheme}` writes that in `{place.entry}`"
                kind, _, name = place.entry.partition(".")
                wanted = remedy if for_scheme else "leave the scheme out, or give the unit what it needs"
                remedy = f"{wanted}; `{kind}: {{{name}: ...}}` of your own would take the place of that entry"
        finding = Located(
            f"operation.{path}", expected, found, remedy, at_key=at_key, other=other and f"operation.{other}"
        )
        self._found.setdefault((finding.path, expected, found), finding)

    def place(self, path: str) -> Elsewhere | None:
        """Where an entry stands if the file does not write it under its own name."""
        return self._elsewhere.get(".".join(path.split(".")[:2]))

    def written_at(self, path: str) -> str:
        """Path under which an entry is found in the file."""
        place = self.place(path)
        return path if place is None else place.path

    def known(
        self, path: str, what: str, name: str | None, names: Iterable[str], plural: str = "", *, at_key: bool = False
    ) -> bool:
        """Whether a name is one of those that are there; notes it if not. `at_key`: it is the entry's own name."""
        listed = list(names)
        if name in listed:
            return True
        many = plural or f"{what}s"
        found = "nothing" if name is None else named(name)
        remedy = (
            suggestion(name or "", listed, "the names") if at_key else _remedy(path, name or "", listed, f"the {many}")
        )
        self.wrong(path, f"a {what} of this unit", found, remedy, at_key=at_key)
        return False

    def position(self, path: str, device: str, name: str, positions: Iterable[str]) -> bool:
        """Whether a device has a position, or is moved to it; notes it if not."""
        listed = list(positions)
        if name in listed:
            return True
        earthed = device == SWITCH and name == "earthed"
        remedy = f"`switch_positions: [closed, open, {name}]` gives it that position"
        remedy = remedy if earthed else _remedy(path, name, listed, "the positions")
        self.wrong(path, f"a position of `{device}`", named(name), remedy, for_scheme=earthed)
        return False

    def whole(self, path: str, **entries: object) -> bool:
        """Whether every entry is given; notes it if only some are."""
        missing = [f"`{name}`" for name, value in entries.items() if not value]
        if missing:
            kind, _, name = path.partition(".")
            expected = _and([f"`{entry}`" for entry in entries])
            remedy = f"for example `{name}: {EXAMPLES[kind]}`"
            self.wrong(path, expected, f"nothing for {_and(missing)}", remedy, at_key=True)
        return not missing

    def refuse(self) -> None:
        """Raise `BrokenMachine` if there is any finding."""
        if self._found:
            raise BrokenMachine(list(self._found.values()))


def _remedy(path: str, name: str, known: list[str], what: str) -> str:
    """The nearest name, or an entry that would be right and all names."""
    text = suggestion(name, known, what)
    if not known:
        table = what.removeprefix("the ")
        return (
            f"{text}; for example `{table}: {{{name or 'fuse door'}: {EXAMPLES[table]}}}`"
            if table in EXAMPLES
            else text
        )
    if text.startswith("did you mean"):
        return text
    entry = path.rpartition(".")[2]
    key, _, number = entry.partition("[")
    word = FUSE_LINE_SIDE if FUSE_LINE_SIDE in known else known[0]
    example = f"{key}: [{word}]" if number else f"{key}: {word}"
    return f"for example `{example}`; {text}"


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
