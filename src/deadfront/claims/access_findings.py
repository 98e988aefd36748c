"""Claims: what the claims on access share. A unit's machine and its faults come in, explored once; findings go out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from deadfront.claims.model import Assumption, Claim, Detail, MissingEntry, Rule, Step, Verdict
from deadfront.claims.wording import number_of
from deadfront.operation.examining import Examination, examine
from deadfront.operation.machine import KINDS, Kind, Machine
from deadfront.operation.station_machine import StationMachine
from deadfront.operation.trimming import without_own_locks_and_tests
from deadfront.operation.wording import move_words
from deadfront.project.project import Project
from deadfront.station.station import SWITCH_BUS, Station
from deadfront.study.tables import FaultRow

HAZARD = "A sequence of hands reaches a live part"
GAUGES = "A gauge that can only be read past a live part"
OVER_ALL = "exact"

PROVED: tuple[Kind, ...] = tuple(kind for kind in KINDS if kind != "PERSON")
"""Kinds of hazard that AC-01 to AC-05 speak of; a person locked in is AC-07's."""

METHOD = "method: all states of the machine"


class Subject:
    """A unit with its machine and faults; each exploration is made when first asked for, and once."""

    def __init__(self, project: Project, station: Station, built: StationMachine, faults: Sequence[FaultRow]) -> None:
        self.project = project
        self.station = station
        self.built = built
        self.faults = faults

    @property
    def machine(self) -> Machine:
        """The unit as a machine."""
        return self.built.machine

    @cached_property
    def bare(self) -> Machine:
        """The machine without what only people use: smaller, and as dangerous to hands."""
        return without_own_locks_and_tests(self.machine)

    @cached_property
    def hands(self) -> Examination:
        """What the hardware alone allows."""
        return examine(self.machine, "hands")

    @cached_property
    def rules(self) -> Examination:
        """What is left if people also obey."""
        return examine(self.machine, "rules")

    @cached_property
    def assumptions(self) -> tuple[Assumption, ...]:
        """What the tool supplied for the machine, with the owner the file names."""
        source = "named scheme or default of the tool"
        supplied = sorted(self.built.supplied.items())
        return tuple(self.assumed(key, text, source, "C", _confirming(key)) for key, text in supplied)

    def assumed(self, key: str, text: str, source: str, tag: str, confirm: str) -> Assumption:
        """One assumption, with its owner and the way to confirm it where the file names them."""
        own = (self.project.unit.assumptions or {}).get(key)
        return Assumption(key, text, source, tag, (own.confirm if own else None) or confirm, own.owner if own else None)

    def at(self, point: str) -> tuple[FaultRow, ...]:
        """The rows of faults at a point of the machine; of a cable's end at the unit, those at the switch bus."""
        near = SWITCH_BUS if point in ("cable A", "cable B") else point
        if not any(known.key == near for known in self.station.points):
            return ()
        name = self.station.point(near).name
        return tuple(row for row in self.faults if row.point == name)

    def words(self, sequence: Sequence[str]) -> str:
        """A sequence of moves as a crew would say it."""
        return "; ".join(move_words(self.machine, text) for text in sequence)


_CONFIRMED = {
    "operation.doors": "drawing of the covers, and a look at what takes each of them off",
    "operation.charges": "drawing of the board and of the cables: capacitors, filters, long cables",
    "operation.far_sources": "a question to whoever runs each feeder's load: generator, inverter, battery",
    "operation.portable_sources": "a walk round the unit: inlets, sockets, loose leads",
    "operation.switch_positions": "plate and drawing of the switch",
    "operation.switch_indicator": "drawing of the switch's drive",
    "operation.connectors": "drawing of the far end of the cable",
    "operation.rooms": "opening the locked door from inside",
    "switch.ways": "drawing of the loop",
}
"""How what the tool supplied is confirmed on site, by the first words of its path; all else is a lock to be tried."""


def _confirming(path: str) -> str:
    """How somebody confirms an assumption of the machine on site."""
    for start, words in _CONFIRMED.items():
        if path == start or path.startswith(f"{start}."):
            return words
    return "try it at the unit, in both directions"


@dataclass(frozen=True, slots=True)
class Finding:
    """What a claim found; `value` counts what is wrong, where no detail has a quantity of its own."""

    verdict: Verdict
    reason: str
    value: float | None = None
    steps: tuple[Step, ...] = ()
    details: tuple[Detail, ...] = ()
    missing: tuple[MissingEntry, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    counted: str = ""
    """What was counted, and among how many."""


@dataclass(frozen=True, slots=True)
class Question:
    """A claim of this hazard before it meets a unit."""

    id: str
    sentence: str
    rule: Rule
    hazard: str = HAZARD
    iec: Rule | None = None
    """The rule in the IEC practice, where it is not the same."""

    def of(self, project: Project) -> Question:
        """The question with the rule of a project's practice."""
        return replace(self, rule=self.iec) if self.iec is not None and project.unit.practice == "iec" else self


def claimed(question: Question, finding: Finding) -> Claim:
    """The finding in the form of every claim; the detail with the least margin governs."""
    governs = min(finding.details, key=lambda detail: detail.margin, default=None)
    value, limit, unit = finding.value, None if finding.value is None else 0.0, "1"
    margin = None if finding.value is None else 0.0 - finding.value
    quantity = governs is not None and not governs.counts
    if governs is not None and quantity:
        value, limit, unit, margin = governs.value, governs.limit, governs.unit, governs.margin
    decided = finding.verdict in ("shown", "refuted")
    told = decided or quantity  # a count of nothing wrong says nothing where something is missing
    return Claim(
        id=question.id,
        hazard=question.hazard,
        sentence=question.sentence,
        verdict=finding.verdict,
        reason=finding.reason,
        value=value if told else None,
        limit=limit if told else None,
        unit=unit if told else "",
        margin=margin if decided else None,
        bound=margin if decided else None,
        coverage=OVER_ALL if decided else "none",
        worst_case=None,
        rule=question.rule,
        evidence=finding.steps,
        assumptions=finding.assumptions,
        missing=tuple(dict.fromkeys(finding.missing)),
        details=finding.details,
        counted="" if quantity or not decided else finding.counted,
    )


def counted(subject: str, wrong: bool, words: str) -> Detail:
    """One thing that is right or wrong, and has no quantity; the words say what was found."""
    return Detail(subject, float(wrong), 0.0, "1", 0.0 - float(wrong), words)


def decided(bad: Sequence[object], missing: Sequence[object], *, otherwise: Verdict = "shown") -> Verdict:
    """Refuted by anything that is wrong; open while something is missing."""
    return "refuted" if bad else "open" if missing else otherwise


def lacks(missing: Sequence[object]) -> str:
    """How many entries are missing."""
    return number_of(len(missing), "entry is missing", "entries are missing")
