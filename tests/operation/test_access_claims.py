"""Operation: each claim on access is shown, refuted, open and not applicable, as the unit deserves."""

from __future__ import annotations

from dataclasses import replace

import pytest
from test_station_machine import AFTER, BEFORE, FILES, LOOP

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
switch_earth: {short_time: {current: 12.5 kA, duration: 1 s}, making_current: 32.5 kA}
vent_first: mechanical
tests: {a: {at: fuse line side}, b: {at: transformer primary terminals}}
padlocks: {switch padlock: switch, main padlock: main}
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
    assert found["AC-01"].reason == "None of 892 states is reached by such a move."
    assert found["AC-06"].verdict == "refuted"
    assert "the source portable generator at the transformer secondary terminals turns up" in found["AC-06"].reason


def test_what_was_counted_is_said_in_words():
    """No value of at most 0 for a proof over all states; a claim with a quantity, or open, counts nothing."""
    found = claims(SOUND)
    assert found["AC-01"].counted == "0 hazards in 892 states"
    assert found["AC-06"].counted == f"{int(found['AC-06'].value)} of {len(found['AC-06'].details)} failures unanswered"
    assert not any(
        word in step.numbers for step in found["AC-06"].evidence for word in ("stuck:", "defeat:", "source:")
    )
    assert found["AC-07"].counted == f"0 of {len(found['AC-07'].details)} tasks without a way"
    assert found["AC-09"].counted == ""
    assert {claim.counted for claim in claims("").values()} == {""}


def test_a_door_without_interlock_refutes_with_the_moves():
    """AC-01 names the one move; AC-02 the switch that stays closed; AC-04 the load."""
    found = claims("doors: {fuse door: {reaches: [fuse line side]}}\nvent_first: mechanical")
    assert [found[name].verdict for name in ("AC-01", "AC-02", "AC-04")] == ["refuted"] * 3
    assert found["AC-01"].evidence[1].numbers == "open the fuse door"
    assert (found["AC-01"].value, found["AC-01"].counted) == (2.0, "2 hazards in 96 states")
    assert found["AC-01"].details[0].worst_case == "in 1 move: open the fuse door"
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
    found = claims(SOUND.replace("padlocks: {switch padlock: switch, main padlock: main}\n", ""))["AC-06"]
    remaining = {detail.subject for detail in found.details if detail.margin < 0}
    assert "the interlock fuse door needs switch is defeated" in remaining
    assert found.value == float(len(remaining))


def test_a_hold_point_without_means_leaves_the_procedures_open():
    """AC-07 without a test: a way exists, and the claim names what would prove dead."""
    found = claims("schemes: [one key]\nvent_first: mechanical")["AC-07"]
    assert found.verdict == "open"
    assert [missing.path for missing in found.missing] == ["operation"] * 3


def test_a_task_without_a_safe_way_refutes_the_procedures():
    """AC-07: a fuse door that needs the switch both open and closed never opens."""
    never = "interlocks: {no: {device: fuse door, to: open, needs: main, stands: [closed], kept_by: mechanical}}"
    found = claims(f"schemes: [door on open switch]\n{never}\ntests: {{t: {{at: fuse line side}}}}")["AC-07"]
    assert found.verdict == "refuted"
    assert found.reason == "No way there and back without a hazard: replace bayonet fuse."


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


EARTHED_BUS = SOUND.replace("tests: {", "tests: {c: {at: LV bus}, ") + "\nearths: {bus earth: {at: LV bus%s}}"


@pytest.mark.parametrize(
    ("entry", "carried", "tag"),
    [
        (", size: 4/0, fittings: 5", 43e3, "V"),
        (", size: 4/0, fittings: 3", 27e3, "V"),
        (", size: 4/0, fittings: 7", 43e3, "V"),
        (", size: 4/0, sets: 2", 2 * 0.9 * 43e3, "C"),
        (", size: 4/0, backup_clearing: 0.4 s", 30e3, "V"),
        (", size: 4/0, backup_clearing: 0.1 s", 43e3, "V"),
    ],
)
def test_an_earth_carries_what_its_weakest_part_does_until_the_backup_clears(entry: str, carried: float, tag: str):
    """AC-08, ASTM F855: 4/0 is grade 5 (43 kA for 15 cycles, 30 kA for 30), grade 3 27 kA; two sets are 10 % off."""
    found = claims(EARTHED_BUS % entry)["AC-08"]
    detail = next(one for one in found.details if one.subject == "bus earth")
    assert detail.limit == pytest.approx(carried, rel=1e-12)
    assert next(step for step in found.evidence if step.meaning.startswith("bus earth")).tag == tag


def test_much_asymmetry_takes_the_table_for_it():
    """AC-08: above X/R 1.8 the high-asymmetry rating binds too, and beyond its 15 cycles it says nothing."""
    faults = (replace(row("LV bus", 30e3, 0.3), x_over_r=1.9), FAULTS[1])
    found = claims(EARTHED_BUS % ", size: 4/0", faults=faults)["AC-08"]
    assert (found.verdict, found.missing[0].path) == ("open", "operation.earths.bus earth.short_time")
    assert found.missing[0].what.startswith("its rating for 300 ms at this asymmetry")


@pytest.mark.parametrize(
    ("entry", "name"),
    [(", size: 4/0, fittings: 9", "fittings"), (", size: 4/0, sets: 3", "sets")],
)
def test_a_grade_or_a_number_of_sets_without_a_rule_is_asked_for(entry: str, name: str):
    """AC-08: the table ends at grade 7, and for three sets in parallel there is no rule."""
    found = claims(EARTHED_BUS % entry)["AC-08"]
    assert (found.verdict, [one.path for one in found.missing]) == ("open", [f"operation.earths.bus earth.{name}"])


def test_what_an_earth_is_silent_of_is_an_assumption():
    """AC-08: the first device clears, and the fittings are whole, each until the file says so."""
    silent = {one.key for one in claims(EARTHED_BUS % ", size: 4/0")["AC-08"].assumptions}
    assert {"operation.earths.bus earth.backup_clearing", "operation.earths.bus earth.fittings"} <= silent
    said = {
        one.key for one in claims(EARTHED_BUS % ", size: 4/0, fittings: 5, backup_clearing: 0.2 s")["AC-08"].assumptions
    }
    assert not {key for key in said if key.startswith("operation.earths")}
    assert "operation.switch_earth.backup_clearing" in said


def test_an_earth_slower_than_its_table_is_never_shown():
    """AC-08: beyond 30 cycles the table has nothing; the rating that is marked on the earth is asked for, and used."""
    section = (
        SOUND.replace("tests: {", "tests: {c: {at: LV bus}, ")
        + "\nearths: {bus earth: {at: LV bus, size: 350 kcmil%s}}"
    )
    found = claims(section % "", faults=(row("LV bus", 1e3, 2.0), FAULTS[1]))["AC-08"]
    assert (found.verdict, found.missing[0].path) == ("open", "operation.earths.bus earth.short_time")
    for marked, verdict in (("2 kA", "shown"), ("1.3 kA", "refuted")):
        rated = f", short_time: {{current: {marked}, duration: 1 s}}"
        faults = (row("LV bus", 1e3, 2.0), FAULTS[1])
        assert verdicts(section % rated, faults=faults)["AC-08"] == verdict, "1 kA for 2 s heats like 1.41 kA for 1 s"


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


@pytest.mark.parametrize(
    ("where", "verdict"), [("pressure: outside, ", "shown"), ("pressure: fuse door, ", "refuted"), ("", "open")]
)
def test_gauges_are_read_without_opening_a_live_compartment(where: str, verdict: str):
    """EN-03: from outside, past a live part, or not said where."""
    section = SOUND.replace("pressure: outside, ", where)
    assert verdicts(section)["EN-03"] == verdict


def test_a_file_without_doors_leaves_every_claim_open_and_says_what_to_write():
    """All ten claims ask for the doors or a scheme, with an example that works."""
    found = claims("")
    assert set(verdicts("").values()) == {"open"}
    assert len(found) == 10
    assert {claim.missing[0].path for claim in found.values()} == {"operation.doors"}


# --- earths that are made for a live circuit, portable sources, own distances ---

FAST_EARTH = "earths: {bus earth: {at: LV bus, short_time: {current: 42 kA, duration: 1 s}%s}}"


@pytest.mark.parametrize(
    ("making", "verdict", "words"),
    [
        (", making_current: 90 kA", "refuted", "energised onto an earth in 3 moves"),
        ("", "refuted", "bus earth can be put on a live circuit and is not made for it"),
    ],
)
def test_an_earthing_switch_may_meet_a_live_circuit_only_if_it_is_made_for_it(making: str, verdict: str, words: str):
    """AC-03: with 70 kA peak at the bus, 90 kA is enough; that the main closes onto it is wrong all the same."""
    fault = replace(row("LV bus", 30e3, 0.25), peak=70e3)
    found = claims(f"{SOUND}\n{FAST_EARTH % making}", faults=(fault, FAULTS[1]))["AC-03"]
    assert found.verdict == verdict
    assert words in found.reason
    assert ("not made for it" in found.reason) == (not making)


REMOTE_KEYS = SOUND + "\ninterlocks:\n" + "\n".join(
    f"  key {end}: {{device: remote switch {end}, to: closed, needs: way {end}, stands: [closed, open], kept_by: key}}"
    for end in ("A", "B")
)  # fmt: skip


@pytest.mark.parametrize(
    ("peak", "verdict", "words"),
    [
        (30e3, "shown", "way B, way A can meet a live circuit, and is made for it"),
        (33e3, "refuted", "way A can be put on a live circuit and is not made for it"),
        (float("nan"), "refuted", "way A can be put on a live circuit and is not made for it"),
        (None, "open", "2 entries are missing"),
    ],
)
def test_ways_of_a_loop_may_meet_the_live_cable_if_they_make_its_peak(peak: float | None, verdict: str, words: str):
    """AC-03: the far ends held by keys, only earthing the live cable is left: 32.5 kA made against 30 or 33 kA peak."""
    faults = () if peak is None else (replace(row("MV switch bus", 9e3, 0.1), peak=peak),)
    found = claims(REMOTE_KEYS, faults=faults, before=LOOP)["AC-03"]
    assert found.verdict == verdict, found.reason
    assert words in found.reason


@pytest.mark.parametrize(("duration", "verdict"), [(1.0, "shown"), (4.0, "shown"), (25.0, "refuted")])
def test_the_earthed_position_carries_by_equal_heating(duration: float, verdict: str):
    """AC-08: 12.5 kA for 1 s is 6.25 kA for 4 s and 2.5 kA for 25 s, against 3 kA."""
    faults = (FAULTS[0], row("MV fuses, line side", 3e3, duration))
    found = claims(SOUND, faults=faults)["AC-08"]
    assert found.verdict == verdict
    assert found.limit == pytest.approx(12.5e3 / duration**0.5)


def test_an_unrated_earthed_position_is_asked_for():
    """AC-08: what the switch's earthed position carries is never taken from the closed one."""
    section = "\n".join(line for line in SOUND.splitlines() if not line.startswith("switch_earth"))
    found = claims(section)["AC-08"]
    assert (found.verdict, found.missing[0].path) == ("open", "operation.switch_earth.short_time")


def test_where_nothing_lets_a_portable_generator_in_that_is_an_assumption():
    """AC-06: the failure goes, and an assumption with an owner to be named takes its place."""
    found = claims(f"{SOUND}\nportable_sources: []")["AC-06"]
    assert "portable" not in found.reason
    assumed = {assumption.key: assumption for assumption in found.assumptions}
    assert assumed["operation.portable_sources"].text == "nothing at the unit lets a portable generator be connected"
    assert assumed["operation.portable_sources"].owner is None


def test_own_distances_take_the_place_of_the_table():
    """AC-09: the site's rule book, with its source; without the source the claim asks for it."""
    own = "approach: {source: rule book 7, medium_voltage: {inner: 1 m, outer: 3.2 m}}"
    found = claims(f"{SOUND}\n{own}")["AC-09"]
    assert (found.verdict, found.value) == ("refuted", 3.2)
    assert found.evidence[0].source == "project file: rule book 7"
    bare = claims(SOUND + "\napproach: {medium_voltage: {inner: 1 m, outer: 3.2 m}}")["AC-09"]
    assert (bare.verdict, bare.missing[0].path) == ("open", "operation.approach.source")


IEC = BEFORE.replace("practice: north-american", "practice: iec")


def test_in_iec_practice_the_guidance_of_the_table_is_an_assumption():
    """AC-09: 24.94 kV lies between 20 and 30 kV, so DV is 1.22 + 0.494 x 0.1 m; the national annex governs."""
    found = claims(SOUND, before=IEC)["AC-09"]
    assert (found.verdict, found.value) == ("shown", pytest.approx(1.22 + 0.1 * 4.94 / 10, abs=1e-12))
    assert "vicinity zone begins at 1.27 m, live working zone begins at 0.27 m" in found.evidence[0].numbers
    assumed = {assumption.key: assumption for assumption in found.assumptions}["operation.approach"]
    assert (assumed.text, assumed.tag) == (
        "approach distances are the guidance of EN 50110-1, Table A.1; the national annex governs",
        "V",
    )


def test_own_distances_leave_nothing_to_assume():
    """AC-09: where the file gives the site's own distances, the table is not used and nobody has to own it."""
    own = "approach: {source: rule book 7, medium_voltage: {inner: 0.3 m, outer: 1.3 m}}"
    found = claims(f"{SOUND}\n{own}", before=IEC)["AC-09"]
    assert (found.verdict, found.value) == ("shown", 1.3)
    assert "operation.approach" not in {assumption.key for assumption in found.assumptions}


def test_half_of_the_own_distances_is_asked_for_and_never_filled_in_from_the_table():
    """AC-09: two LV doors ask once for the one missing entry, with an example of the low voltage."""
    doors = (
        "fuse door: {reaches: [LV bus], space: 3 m}, other: {reaches: [transformer secondary terminals], space: 3 m}"
    )
    section = SOUND.replace("fuse door: {reaches: [fuse line side, transformer primary terminals], space: 3 m}", doors)
    found = claims(section + "\napproach: {source: book, low_voltage: {outer: 0.5 m}}", before=IEC)["AC-09"]
    assert (found.verdict, found.reason) == ("open", "1 entry is missing.")
    [entry] = found.missing
    assert (entry.path, entry.example) == ("operation.approach.low_voltage", "{inner: 50 mm, outer: 300 mm}")


def test_a_voltage_below_the_table_of_boundaries_is_asked_for():
    """AC-09 at 208 V: the table of the North American practice begins above 300 V; its silence refutes nothing."""
    doors = SOUND.replace("reaches: [fuse line side, transformer primary terminals]", "reaches: [LV bus]")
    before = BEFORE.replace("voltage: 480 V", "voltage: 208 V")
    assert before != BEFORE
    found = claims(doors, before=before)["AC-09"]
    assert (found.verdict, found.missing[0].path) == ("open", "operation.approach.low_voltage")


@pytest.mark.parametrize(("release", "verdict"), [("yes", "shown"), ("no", "refuted")])
def test_a_person_who_can_be_locked_in_refutes_the_procedures(release: str, verdict: str):
    """AC-07: a room whose locked door does not open from inside, with the moves that lock somebody in."""
    doors = SOUND.replace("doors: {", "doors: {cellar door: {reaches: [], space: 3 m}, ")
    room = f"rooms: {{cellar: {{door: cellar door, reaches: [], release_inside: {release}}}}}"
    found = claims(f"{doors}\n{room}")["AC-07"]
    assert found.verdict == verdict, found.reason
    assert ("A person is locked in in 3 moves: open the cellar door" in found.reason) == (release == "no")
