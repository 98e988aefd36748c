"""Operation: each claim on access is shown, refuted, open and not applicable, as the unit deserves."""

from __future__ import annotations

import pytest
from test_station_machine import AFTER, BEFORE, FILES

from deadfront.claims.access import access_claims
from deadfront.claims.model import Claim
from deadfront.project.reading import load_bytes
from deadfront.station.station import build
from deadfront.study.tables import FaultRow


def row(point: str, current: float, time: float) -> FaultRow:
    """A fault at a point, as the study gives it."""
    parts = (("clearing", time),)
    return FaultRow(
        point,
        "three-phase",
        "maximum",
        "m",
        True,
        current,
        0.0,
        0.0,
        None,
        None,
        1.5,
        None,
        "relay",
        time,
        parts,
        "case",
    )


FAULTS = (row("LV bus", 30e3, 0.25), row("MV fuses, line side", 9.6e3, 0.113))
SOUND = """schemes: [door on earthed switch]
switch_positions: [closed, open, earthed]
vent_first: mechanical
tests: {a: {at: fuse line side}, b: {at: transformer primary terminals}}
doors: {fuse door: {reaches: [fuse line side, transformer primary terminals], space: 3 m}}
gauges: {liquid level: outside, pressure: outside, temperature: outside}"""


def claims(section: str, *, faults=FAULTS, before: str = BEFORE) -> dict[str, Claim]:
    """The claims of the starter unit with another `operation` section, by identifier."""
    text = before + "".join(f"  {line}\n" for line in section.splitlines()) + AFTER
    project = load_bytes("unit.yaml", text.encode(), FILES)
    return {claim.id: claim for claim in access_claims(project, build(project.unit), faults)}


def verdicts(section: str, **changes) -> dict[str, str]:
    """The verdicts, by identifier."""
    return {name: claim.verdict for name, claim in claims(section, **changes).items()}


def test_a_sound_unit_shows_every_claim_but_the_failures():
    """Everything is shown over all states; a portable generator and a welded switch are named as what remains."""
    found = claims(SOUND)
    assert {name for name, claim in found.items() if claim.verdict == "shown"} == {
        "AC-01", "AC-02", "AC-03", "AC-04", "AC-05", "AC-07", "AC-08", "AC-09", "EN-03",
    }  # fmt: skip
    assert found["AC-01"].reason == "None of 260 states is reached by such a move."
    assert found["AC-06"].verdict == "refuted"
    assert "the source portable generator at the LV terminals turns up" in found["AC-06"].reason


def test_a_door_without_interlock_refutes_with_the_moves():
    """AC-01 names the one move; AC-02 the switch that stays closed; AC-04 the load."""
    found = claims("doors: {fuse door: {reaches: [fuse line side]}}\nvent_first: mechanical")
    assert [found[name].verdict for name in ("AC-01", "AC-02", "AC-04")] == ["refuted"] * 3
    assert found["AC-01"].evidence[1].numbers == "open the fuse door"
    assert found["AC-01"].value == 2.0
    assert "the fuse door opens with the switch closed" in found["AC-02"].reason


def test_a_hazard_that_only_obedience_prevents_is_refuted_and_says_so():
    """AC-03 with a work earth on the bus: hardware lets the main close onto it; people who count earths do not."""
    section = SOUND.replace("tests: {", "tests: {c: {at: LV bus}, ")
    found = claims(section + "\nearths: {bus earth: {at: LV bus, size: 350 kcmil}}")
    assert found["AC-03"].verdict == "refuted"
    assert "only obedience prevents it" in found["AC-03"].reason


def test_a_generator_without_interlock_refutes_the_back_feed():
    """AC-05: without `parallel: never` the generator closes onto the live bus in two moves."""
    found = claims(SOUND, before=BEFORE.replace("\n  parallel: never", ""))["AC-05"]
    assert (found.verdict, found.value) == ("refuted", 2.0)


def test_a_single_failure_is_answered_by_rules_or_remains():
    """AC-06: a defeated door interlock remains without a padlock; the reason counts all of them."""
    found = claims(SOUND)["AC-06"]
    remaining = {detail.subject for detail in found.details if detail.margin < 0}
    assert "the interlock fuse door needs switch is defeated" in remaining
    assert found.value == float(len(remaining))


def test_a_hold_point_without_means_leaves_the_procedures_open():
    """AC-07 without a test: a way exists, and the claim names what would prove dead."""
    found = claims("schemes: [one key]\nvent_first: mechanical")["AC-07"]
    assert found.verdict == "open"
    assert [missing.path for missing in found.missing] == ["operation", "operation"]


def test_a_task_without_a_safe_way_refutes_the_procedures():
    """AC-07: a fuse door that needs the switch both open and closed never opens."""
    never = "interlocks: {no: {device: fuse door, to: open, needs: main, stands: [closed], kept_by: mechanical}}"
    found = claims(f"schemes: [door on open switch]\n{never}\ntests: {{t: {{at: fuse line side}}}}")["AC-07"]
    assert found.verdict == "refuted"
    assert found.reason == "No safe way there and back: replace bayonet fuse."


def test_a_unit_without_tasks_needs_no_procedure():
    """AC-07 is not applicable where neither fuse door, LV door, loop nor generator give a task."""
    before = BEFORE[: BEFORE.index("# Standby generator")] + BEFORE[BEFORE.index("# Motors") :]
    assert verdicts("doors: {hatch: {reaches: []}}", before=before)["AC-07"] == "not applicable"


@pytest.mark.parametrize(
    ("size", "verdict"), [("350 kcmil", "shown"), ("2/0", "refuted"), ("", "open"), ("huge", "open")]
)
def test_an_earth_is_sized_for_the_fault_at_its_point(size: str, verdict: str):
    """AC-08: 30 kA for 250 ms at the bus: 350 kcmil carries 74 kA, 2/0 carries 27 kA; without a size it is open."""
    given = f", size: {size}" if size else ""
    tests = SOUND.replace("tests: {", "tests: {c: {at: LV bus}, ")
    found = claims(f"{tests}\nearths: {{bus earth: {{at: LV bus{given}}}}}")["AC-08"]
    assert found.verdict == verdict
    if size == "2/0":
        assert (found.value, found.limit, found.unit) == (30e3, 27e3, "A")


def test_an_earth_slower_than_its_table_is_never_shown():
    """AC-08: beyond 30 cycles the table has nothing, so nothing is shown."""
    section = SOUND + "\nearths: {bus earth: {at: LV bus, size: 350 kcmil}}"
    assert verdicts(section, faults=(row("LV bus", 1e3, 2.0),))["AC-08"] == "refuted"


def test_a_point_that_cannot_be_proved_dead_is_asked_for():
    """AC-08: without a test behind the fuse door, the entry that would give one is named."""
    found = claims(SOUND.replace("a: {at: fuse line side}, ", ""))["AC-08"]
    assert found.verdict == "open"
    assert found.missing[0].what == "a place where fuse line side is proved dead"


@pytest.mark.parametrize(("space", "verdict"), [("3 m", "shown"), ("1.8 m", "refuted"), (None, "open")])
def test_the_limited_boundary_fits_in_front_of_the_door(space: str | None, verdict: str):
    """AC-09 at 24.94 kV: 1.83 m; 3 m in front of the door is enough, 1.8 m is not, nothing given is asked for."""
    section = SOUND.replace(", space: 3 m", "" if space is None else f", space: {space}")
    found = claims(section)["AC-09"]
    assert found.verdict == verdict
    if space is not None:
        assert found.value == 1.83


def test_without_a_live_door_no_distance_is_needed():
    """AC-09 is not applicable where nothing live is behind any door."""
    assert verdicts("doors: {hatch: {reaches: []}}")["AC-09"] == "not applicable"


@pytest.mark.parametrize(("where", "verdict"), [("outside", "shown"), ("fuse door", "refuted"), ("nowhere", "open")])
def test_gauges_are_read_without_opening_a_live_compartment(where: str, verdict: str):
    """EN-03: from outside, past a live part, or behind a door that is not there."""
    section = SOUND.replace("pressure: outside", f"pressure: {where}")
    assert verdicts(section)["EN-03"] == verdict


def test_a_file_without_doors_leaves_every_claim_open_and_says_what_to_write():
    """All ten claims ask for the doors or a scheme, with an example that works."""
    found = claims("")
    assert set(verdicts("").values()) == {"open"}
    assert len(found) == 10
    assert {claim.missing[0].path for claim in found.values()} == {"operation.doors"}


def test_a_file_that_contradicts_itself_leaves_every_claim_open_with_the_finding():
    """A padlock on nothing: nothing is examined, and the finding is the reason."""
    found = claims("schemes: [one key]\npadlocks: {p: gate}")
    assert {claim.verdict for claim in found.values()} == {"open"}
    assert all("operation.padlocks.p: unknown device 'gate'" in claim.reason for claim in found.values())
