"""Study: the file's numbers as arrays over a box; what is missing or assumed is noted on the way through."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass

from deadfront.physics.types import Array
from deadfront.project.project import Project
from deadfront.project.quantities import Quantity


class MissingEntryError(Exception):
    """The study needs an entry that the file does not give."""

    def __init__(self, path: str) -> None:
        super().__init__(path)
        self.path = path


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value or fact the tool supplies: why, whence, and how it can be confirmed."""

    key: str
    text: str
    source: str
    tag: str
    confirm: str


class Inputs:
    """Numbers, words and curves of one project, at the points of one box.

    `values` maps a path to an array of shape (boxes, 1): floats, intervals or gradients. A path that is not in it
    stands at its centre. Every path read is noted in `used`, every assumption in `assumed`: a claim thus knows which
    ranges it depends on, and lists what it assumed, without its author keeping a list.
    """

    def __init__(
        self, project: Project, values: Mapping[str, Array] | None = None, *, placeholders: bool = False
    ) -> None:
        self.project = project
        self.values = dict(values or {})
        self.placeholders = placeholders
        self.used: dict[str, Quantity] = {}
        self.readings: list[set[str]] = [set()]
        self.assumed: dict[str, Assumed] = {}
        self.missing: dict[str, None] = {}
        self.ends: set[str] = set()
        """Paths of which an end, not every point, chose a row of a table or a rule."""
        self.asked: set[str] = set()
        """Names of numbers that belong to a question, not to the file: `between`."""

    @contextmanager
    def reading(self) -> Iterator[set[str]]:
        """Collects the paths read inside the `with`, also those of results remembered from before."""
        inside: set[str] = set()
        self.readings.append(inside)
        try:
            yield inside
        finally:
            self.readings.pop()
            self.readings[-1] |= inside

    def given(self, path: str) -> bool:
        """Whether the file (or a catalogue it names) gives this number."""
        return path in self.project.quantities

    def number(self, path: str) -> Array:
        """The number at `path` in SI.

        Raises MissingEntryError when the file lacks it. While the missing entries of a claim are being gathered
        (`placeholders`), a missing number is noted and stands as 1, and the result is thrown away.
        """
        quantity = self.project.quantities.get(path)
        if quantity is None:
            return self._miss(path)
        return self._value(path, quantity)

    def lowest(self, path: str) -> float:
        """Lower end of a number that chooses a row of a table; the caller says why that row is on the safe side."""
        return self._end(path, highest=False)

    def highest(self, path: str) -> float:
        """Upper end of a number that chooses a row of a table; the caller says why that row is on the safe side."""
        return self._end(path, highest=True)

    def whole(self, path: str, *, otherwise: int | None = None) -> int:
        """A whole number of the file; without it `otherwise`, where the file's form states that value itself."""
        found = self.entry(path)
        if isinstance(found, int):
            return found
        if otherwise is not None:
            return otherwise
        self._miss(path)
        return 1

    def assume(self, path: str, low: float, high: float, assumed: Assumed) -> Array:
        """The number at `path`, or else an assumed value or range, which is then listed as an assumption."""
        if self.given(path):
            return self.number(path)
        self.assumed[assumed.key] = assumed
        return self._value(path, Quantity(low, (low + high) / 2, high, assumed.text, "assumed"))

    def between(self, name: str, low: float, high: float, dimension: str) -> Array:
        """A number of the question itself, such as the size of a fault: everything from `low` to `high` is meant.

        It is a coordinate like any range of the file, and the worst case names it; but it is not uncertain.
        """
        self.asked.add(name)
        return self._value(name, Quantity(low, (low + high) / 2, high, f"{low:g} .. {high:g}", dimension))

    def note(self, assumed: Assumed) -> None:
        """List a simplification that rests on no number of the file."""
        self.assumed[assumed.key] = assumed

    def word(self, path: str) -> str:
        """A word of the file, for example an earthing; MissingEntryError when it is not there."""
        found = self.maybe_word(path)
        if found is None:
            raise MissingEntryError(path)
        return found

    def maybe_word(self, path: str) -> str | None:
        """A word of the file, or None."""
        found = self.entry(path)
        return found if isinstance(found, str) else None

    def entry(self, path: str) -> object:
        """What stands in the file at a path; None where nothing does."""
        found: object = self.project.unit
        for name in path.split("."):
            found = found.get(name) if isinstance(found, Mapping) else getattr(found, name, None)
        return found

    def _end(self, path: str, *, highest: bool) -> float:
        quantity = self.project.quantities.get(path)
        if quantity is None:
            return self._miss(path)
        self.ends.add(path)
        return quantity.high if highest else quantity.low

    def _miss(self, path: str) -> float:
        """Note a missing entry and stand in for it while gathering; else say that it is missing."""
        if not self.placeholders:
            raise MissingEntryError(path)
        self.missing[path] = None
        return 1.0

    def _value(self, path: str, quantity: Quantity) -> Array:
        self.used[path] = quantity
        self.readings[-1].add(path)
        return self.values.get(path, quantity.centre)
