"""Operation: what is wrong with the `operation` section of a file. Paths and sentences in, one error out."""

from __future__ import annotations

from collections.abc import Iterable

from deadfront.operation.errors import BrokenMachine, Located


class Findings:
    """Collects everything that is wrong, so that one run names it all."""

    def __init__(self) -> None:
        self._found: dict[str, Located] = {}

    def wrong(self, path: str, text: str) -> None:
        """Note one finding; `path` is below `operation`."""
        finding = Located(f"operation.{path}", text)
        self._found[str(finding)] = finding

    def known(self, path: str, what: str, name: str | None, names: Iterable[str]) -> bool:
        """Whether a name is one of those that are there; notes it if not."""
        listed = list(names)
        if name in listed:
            return True
        self.wrong(path, f"unknown {what} {name!r}, expected one of: {', '.join(listed) or 'none is given'}")
        return False

    def whole(self, path: str, **entries: object) -> bool:
        """Whether every entry is given; notes it if only some are."""
        missing = [f"`{name}`" for name, value in entries.items() if not value]
        if missing:
            self.wrong(
                path, f"expected {', '.join(f'`{name}`' for name in entries)}, got nothing for {', '.join(missing)}"
            )
        return not missing

    def refuse(self) -> None:
        """Raise `BrokenMachine` if there is any finding."""
        if self._found:
            raise BrokenMachine(list(self._found.values()))
