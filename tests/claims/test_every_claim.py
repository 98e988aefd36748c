"""Every claim of the list: shown on a complete unit, refuted, open for each missing entry, not applicable.

Hand-checked numbers stand in `test_short_circuit_claims.py` (SC-01 to SC-09), `test_arc_energy_claims.py` (AE-01,
AE-02, AE-04, AE-08), `test_coordination_claims.py` (CO-04, CO-06), `test_selectivity_claims.py` (CO-01 to CO-03),
`test_code_maxima_claims.py` (OC-09, CO-05) and `test_documents_claims.py` (DO-02).
"""

from pathlib import Path

import pytest
from claim_files import DEFINITIONS, NORTH_AMERICAN, judged

HERE = Path(__file__).parent
OF_THIS_ROOM = (
    *(f"SC-{number:02}" for number in range(1, 10)),
    *("CO-01", "CO-02", "CO-03", "CO-04", "CO-05", "CO-06", "AE-01", "AE-02", "AE-04", "AE-08", "OC-09"),
)

BEHIND_THE_TRANSFORMER = tuple(
    i for i in OF_THIS_ROOM if i not in ("SC-01", "SC-02", "SC-03", "SC-07", "SC-09", "OC-09", "CO-05")
)
"""Claims that rest on the transformer's impedance in every operating case they look at."""

SLOW = {
    "supply.protection.phase.definite_time": "20 s",
    "fuses.bayonet": None,
    "fuses.limiter.minimum_interrupting": "2 kA",
}

REFUTED = {
    "SC-01": {"switch.short_time.current": "6 kA"},
    "SC-02": {"switch.required_closings": 4},
    "SC-03": {"fuses.limiter.interrupting": "6 kA"},
    "SC-04": {"board.feeders.pumps.interrupting": "30 kA"},
    "SC-05": {"board.bus.short_time.current": "30 kA"},
    "SC-06": SLOW,
    "SC-07": {"mv_cable.screen_area": "20 mm2"},
    "SC-08": {"board.feeders.pumps.cable.earth_area": "30 mm2"},
    "SC-09": {"board.feeders.pumps.interrupting": "40 kA"},
    "CO-01": {"supply.protection.phase.definite_time": "100 ms"},
    "CO-02": {"board.main.trip.short_time.delay": "400 ms"},
    "CO-03": {"board.main.trip.short_time.delay": "20 ms"},
    "CO-04": {"board.required_clearing": "200 ms"},
    "CO-05": {"board.main.trip.earth.pickup": "1300 A"},
    "CO-06": {"board.arc_detection.current_supervision": "20 kA"},
    "OC-09": {"fuses.bayonet.rating": "225 A", "fuses.limiter.rating": "225 A"},
    "AE-01": {"operation.places.bus section.clothing": "4 cal/cm2"},
    "AE-02": {"operation.places.line side.clothing": "25 cal/cm2"},
    "AE-04": {"operation.places.line side.kept_clear": "2.5 m"},
    "AE-08": {"operation.places.bus section.without_detection": "15 cal/cm2"},
}

MISSING = {
    "SC-01": (
        "switch.short_time.current",
        "switch.short_time.duration",
        "switch.peak_withstand",
        "terminations.short_time.current",
        "supply.x_over_r",
        "supply.earthing",
        "supply.protection.breaker_opening",
        "supply.protection.phase.pickup",
    ),
    "SC-02": ("switch.making_current", "switch.making_operations", "switch.required_closings", "supply.r0_over_x0"),
    "SC-03": ("fuses.limiter.interrupting", "supply.x_over_r", "mv_cable.zero_resistance"),
    "SC-04": (
        "board.main.interrupting",
        "board.main.kind",
        "board.main.short_time.current",
        "board.main.short_time.duration",
        "board.tie.fault_current",
        "motors.groups.first.size",
        "motors.groups.second.locked_rotor_ratio",
        "transformer.neutral",
    ),
    "SC-05": ("board.bus.short_time.current", "transformer.secondary_voltage"),
    "SC-06": (
        "transformer.rating",
        "transformer.faults_expected",
        "transformer.impedance",
        "fuses.limiter.minimum_interrupting",
        "fuses.limiter.curve",
        "supply.protection.phase.definite_time",
    ),
    "SC-07": (
        "mv_cable.conductor",
        "mv_cable.conductor_area",
        "mv_cable.insulation",
        "mv_cable.screen",
        "mv_cable.screen_area",
        "mv_cable.screen_temperature",
        "mv_cable.screen_limit",
        "frequency",
    ),
    "SC-08": (
        "board.feeders.pumps.cable.resistance",
        "board.feeders.pumps.cable.conductor_area",
        "board.feeders.pumps.cable.earth_area",
        "board.feeders.pumps.cable.earth_conductor",
        "board.feeders.pumps.opening",
        "board.bus.neutral_area",
        "board.bus.neutral_conductor",
        "board.bus.neutral_limit",
    ),
    "SC-09": ("board.tie.parallel", "board.tie.device.interrupting"),
    "CO-04": (
        "board.required_clearing",
        "board.feeders.pumps.required_clearing",
        "board.feeders.pumps.cable.length",
        "board.tie.device.opening",
        "board.tie.earth_fault_current",
        "board.main.trip.short_time.pickup",
    ),
    "CO-01": (
        "supply.protection.phase.pickup",
        "supply.protection.phase.definite_time",
        "fuses.limiter.curve",
        "fuses.limiter.minimum_interrupting",
        "transformer.connection",
    ),
    "CO-02": (
        "transformer.liquid_temperature",
        "fuses.bayonet.element",
        "fuses.bayonet.curve",
        "board.main.opening",
        "board.main.trip.short_time.pickup",
        "board.feeders.pumps.cable.length",
    ),
    "CO-03": (
        "board.main.trip",
        "board.main.trip.short_time.pickup",
        "board.feeders.pumps.opening",
        "board.feeders.pumps.trip",
        "board.feeders.pumps.cable.length",
    ),
    "CO-05": ("code", "board.main.rating", "board.main.trip.earth", "board.main.opening", "transformer.neutral"),
    "OC-09": ("code", "fuses.bayonet.rating", "board.main.rating", "transformer.rating", "transformer.impedance"),
    "CO-06": (
        "operation.places.bus section.electrodes",
        "operation.places.bus section.gap",
        "operation.places.bus section.at",
        "board.arc_detection.reaction",
    ),
    "AE-01": (
        "operation.places.bus section.clothing",
        "operation.places.bus section.working_distance",
        "operation.places.bus section.enclosure.depth",
        "operation.places.bus section.main_separated",
        "board.main.opening",
    ),
    "AE-02": ("operation.places.line side.clothing", "operation.places.line side.gap", "fuses.bayonet.interrupting"),
    "AE-04": ("operation.places.line side.kept_clear", "operation.places.bus section.kept_clear"),
    "AE-08": ("operation.places.bus section.without_detection",),
}

NO_PLACE = {"operation.places": {"fuse door": {"at": "switch"}}, "board.arc_detection": None}

NOT_APPLICABLE = {
    "SC-07": ({"mv_cable": None}, "The file has no MV cable: the unit stands at the supply point."),
    "SC-08": (
        {"board.feeders": None, "transformer.neutral": "isolated"},
        "The board has no feeders, and its neutral is not earthed.",
    ),
    "SC-09": ({"board.tie": None}, "The file permits no two infeeds to be closed together."),
    "CO-02": ({"board.feeders": None}, "The board has no feeders."),
    "CO-03": ({"board.feeders": None}, "The board has no feeders."),
    "CO-05": (
        {"practice": "iec"},
        "The IEC practice has no such rule; CO-04 asks for the time in which an earth fault goes.",
    ),
    "CO-06": (NO_PLACE, "The file names no LV place of work."),
    "AE-01": (NO_PLACE, "The file names no LV place of work behind the main."),
    "AE-02": (NO_PLACE, "The file names no place of work on the line side of the main."),
    "AE-04": (NO_PLACE, "The file names no LV place of work."),
    "AE-08": (
        {"board.arc_detection": None, "board.main.trip.maintenance_instantaneous": None},
        "No place of work has arc detection or a maintenance setting.",
    ),
}


SEES_TERMINALS = {
    "board.arc_detection.covers": ["bus section", "line side"],
    "board.arc_detection.trips": ["main", "tie", "upstream"],
}

HIGH_RELAY = {
    "supply.protection.phase.pickup": "2 kA",
    "supply.protection.earth.pickup": "2 kA",
    "supply.protection.relay": "numerical",
}

QUICK_MAIN = {
    "board.main.trip.short_time": {"pickup": "4 kA", "delay": "20 ms"},
    "fuses.bayonet.element": "copper",
    "fuses.bayonet.preload": "100 %",
    "fuses.limiter.element": "silver",
    "fuses.limiter.preload": "100 %",
    "transformer.liquid_temperature": "25 degC",
}

ALSO = {"SC-06": SEES_TERMINALS, "SC-09": SEES_TERMINALS, "CO-01": HIGH_RELAY, "CO-02": QUICK_MAIN}
"""What the complete unit needs besides to be shown."""


def claim(identifier, changes=None):
    """A claim on the complete unit with changes."""
    return judged(identifier, ALSO.get(identifier, {}) | (changes or {}), NORTH_AMERICAN)


@pytest.mark.parametrize("identifier", OF_THIS_ROOM)
def test_a_complete_unit_is_shown(identifier):
    """Nothing missing, nothing short: shown, with value, limit, margin, worst case in words and arithmetic."""
    found = claim(identifier)
    assert found.verdict == "shown", found.reason
    assert found.value is not None
    assert found.margin is not None
    assert found.margin >= 0.0
    assert found.worst_case is not None
    assert found.evidence
    assert all(step.result and step.source and step.tag for step in found.evidence)


@pytest.mark.parametrize("identifier", OF_THIS_ROOM)
def test_one_bad_entry_refutes(identifier):
    """The same unit with one entry too small is refuted, with a margin below zero."""
    found = claim(identifier, REFUTED[identifier])
    assert found.verdict == "refuted", found.reason
    assert found.margin is not None
    assert found.margin < 0.0


@pytest.mark.parametrize(
    ("identifier", "path"), [(key, path) for key, paths in MISSING.items() for path in paths], ids=lambda v: str(v)
)
def test_a_missing_entry_leaves_the_claim_open_and_is_named(identifier, path):
    """No default hides a missing input: the claim is open and says exactly what to put where."""
    found = claim(identifier, {path: None})
    assert found.verdict == "open"
    assert found.value is None
    assert path in [entry.path for entry in found.missing]
    assert all(entry.what and entry.example for entry in found.missing)


@pytest.mark.parametrize("identifier", sorted(NOT_APPLICABLE))
def test_a_sentence_that_says_nothing_about_a_unit_is_not_applicable(identifier):
    """It says why, in one sentence."""
    changes, reason = NOT_APPLICABLE[identifier]
    found = claim(identifier, changes)
    assert (found.verdict, found.reason) == ("not applicable", reason)


@pytest.mark.parametrize("identifier", BEHIND_THE_TRANSFORMER)
def test_a_result_outside_the_model_is_never_shown(identifier):
    """A load loss that may be larger than the impedance allows may leave no reactance: open, and it says so."""
    found = claim(identifier, {"transformer.x_over_r": None, "transformer.load_loss": "80 .. 150 kW"})
    assert found.verdict == "open", found.reason
    assert found.missing == ()
    assert "outside the range of the model" in found.reason


@pytest.mark.parametrize("definition", [DEFINITIONS[i] for i in OF_THIS_ROOM], ids=lambda d: d.id)
@pytest.mark.parametrize("practice", ["iec", "north-american"])
def test_a_claim_has_sentence_rule_and_tag(definition, practice):
    """A sentence somebody signs, the rule it rests on, and how that rule was verified."""
    rule = definition.rule(practice)
    assert definition.sentence.endswith(".")
    assert definition.hazard
    assert rule.demand
    assert rule.source
    assert rule.tag in ("V", "V2", "M", "C", "D")


@pytest.mark.parametrize("identifier", [*OF_THIS_ROOM, "DO-02"])
def test_a_claim_has_a_test_module_that_names_it(identifier):
    """A hand-checked number for each claim stands in a module of this folder."""
    modules = [p for p in HERE.glob("test_*.py") if p.name != Path(__file__).name]
    assert any(identifier in p.read_text(encoding="utf-8") for p in modules)


def test_the_tables_below_cover_every_claim_of_this_room():
    """A claim cannot be added to the room and left out of these tests."""
    of_this_room = {i for i in DEFINITIONS if i.startswith(("SC-", "AE-0", "CO-0", "OC-09"))} & set(OF_THIS_ROOM)
    assert of_this_room == set(OF_THIS_ROOM) == set(REFUTED) == set(MISSING)
