"""Claims: the form of a claim; verdicts with their arithmetic pass through, nothing is computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Verdict = Literal["shown", "refuted", "open", "not applicable"]


@dataclass(frozen=True, slots=True)
class Rule:
    """Where a claim's limit comes from: what the rule demands, the text it stands in, how that text was verified."""

    demand: str
    source: str
    tag: str


@dataclass(frozen=True, slots=True)
class Step:
    """One line of arithmetic: symbol, meaning, formula, the formula with its numbers, the result, and its source."""

    symbol: str
    meaning: str
    formula: str
    numbers: str
    result: str
    source: str
    tag: str


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value or fact the tool supplied, or a simplification it made; to be confirmed by somebody on site."""

    key: str
    text: str
    source: str
    tag: str
    confirm: str
    owner: str | None


@dataclass(frozen=True, slots=True)
class MissingEntry:
    """What the file lacks: where to put it, what it is, and an example that works."""

    path: str
    what: str
    example: str


@dataclass(frozen=True, slots=True)
class WorstCase:
    """The case that governs: in words, and the value of every uncertain input there, in SI and as text."""

    words: str
    inputs: Mapping[str, float]
    inputs_text: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class SelectiveRange:
    """Over which currents a pair of devices is selective; A at the device nearer to the fault, and s.

    smallest, largest   the range that was looked at
    up_to               selective from the smallest current up to here; None if not even there
    from_on             selective from here up to the largest current; None if not even there
    tightest            least time that the device behind has beyond what is owed; negative where it is too early; None
                        where it never acts, or where it does and the nearer one does not
    tightest_at         the lowest current at which that is so
    words               the same as a sentence
    """

    smallest: float
    largest: float
    up_to: float | None
    from_on: float | None
    tightest: float | None
    tightest_at: float
    words: str


@dataclass(frozen=True, slots=True)
class Detail:
    """One subject of a claim that covers several (each device, each place), with its own worst value."""

    subject: str
    value: float
    limit: float
    unit: str
    margin: float
    worst_case: str
    selective: SelectiveRange | None = None
    quantity: str = ""
    """What value and limit are, where the unit alone does not say it: `time ratio`; empty for a current, an energy."""

    @property
    def counts(self) -> bool:
        """Whether it has no quantity and is right or wrong; `worst_case` then says what was found."""
        return self.unit == "1" and self.limit == 0.0


@dataclass(frozen=True, slots=True)
class Claim:
    """One sentence somebody signs, with its verdict, a number against a limit, and what shows it.

    `value`, `limit` are in SI in `unit`; `margin` is a share of the limit, negative when refuted; `bound` is proved: no
    point of the ranges has a smaller margin. They are
    None where nothing could be computed. `reason` says in words why a claim is open, refuted or not applicable.
    """

    id: str
    hazard: str
    sentence: str
    verdict: Verdict
    reason: str
    value: float | None
    limit: float | None
    unit: str
    margin: float | None
    bound: float | None
    coverage: str
    worst_case: WorstCase | None
    rule: Rule
    evidence: tuple[Step, ...]
    assumptions: tuple[Assumption, ...]
    missing: tuple[MissingEntry, ...]
    details: tuple[Detail, ...]
    counted: str = ""
    """What was counted, in words, where the value is a number of things that are wrong; empty for a quantity."""
    quantity: str = ""
    """What value and limit are, where the unit alone does not say it."""
