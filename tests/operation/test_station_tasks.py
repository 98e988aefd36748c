"""Operation: tasks of a unit hold the order that rules demand: load, locks, discharge, proof, earth, and back."""

from __future__ import annotations

import pytest
from test_access_claims import SOUND
from test_station_additions import CONNECTOR, ONE_KEY, WITHOUT_GENERATOR, with_tie
from test_station_machine import BEFORE, LOOP, hands, unit

from deadfront.operation.building import build
from deadfront.operation.examining import examine
from deadfront.operation.machine import Machine
from deadfront.operation.phases import by_phase, of_pole
from deadfront.operation.procedures import procedure, there_and_back
from deadfront.operation.sheets import Sheet, sheet
from deadfront.operation.tasks import lacking
from deadfront.operation.telling import told

LOOPED = """schemes: [door on earthed switch]
switch_positions: [closed, open, earthed]
vent_first: mechanical
tests: {fuse test: {at: fuse line side}, pt: {at: transformer primary terminals}, ca: {at: cable A}, bt: {at: LV bus}}
padlocks: {sp: switch, mp: main, wp: way A, rp: remote switch A}
contacts_seen: [main]
doors: {LV door: {reaches: [LV bus]}, fuse door: {reaches: [fuse line side, transformer primary terminals]}}"""


def ways(machine: Machine, task: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The moves of a task there and back."""
    found = there_and_back(machine, next(goal for goal in machine.goals if goal.id == task))
    assert found is not None
    assert found[1] is not None
    return found[0], found[1]


def first_sheet(machine: Machine) -> Sheet:
    """The sheet of the first task."""
    done = procedure(machine, machine.goals[0])
    assert done is not None
    return sheet(machine, done, "")


@pytest.mark.parametrize("section", [LOOPED, SOUND, "schemes: [key exchange]\ntests: {a: {at: fuse line side}}"])
def test_load_comes_off_first_and_on_last(section: str):
    """In every task the main opens before any MV switch does, and closes after all of them (OSHA 1910.147(d), [V])."""
    machine = unit(section, LOOP if section == LOOPED else BEFORE).machine
    for goal in machine.goals:
        there, back = ways(machine, goal.id)
        upstream = ("switch: ", "way A: ", "remote switch A: ")
        opened = [n for n, text in enumerate(there) if text.startswith(upstream) and "closed->" in text]
        assert all(there.index("main: closed->open") < n for n in opened), goal.id
        closed = [n for n, text in enumerate(back) if text.startswith(upstream) and "->closed" in text]
        assert all(n < back.index("main: open->closed") for n in closed), goal.id


def test_a_fuse_is_replaced_without_breaking_the_ring():
    """The switch is locked and earths, the main is locked and seen apart: ways and far ends are left alone."""
    there, _ = ways(unit(LOOPED, LOOP).machine, "replace bayonet fuse")
    assert {"sp: off->on", "mp: off->on"} <= set(there)
    assert not [text for text in there if text.startswith(("way", "remote", "wp", "rp"))]


def test_a_cable_is_earthed_with_both_its_ends_locked():
    """Isolate and earth the incoming cable: far end open and locked, own way open and locked, proved dead, earthed."""
    there, _ = ways(unit(LOOPED, LOOP).machine, "isolate and earth cable A")
    earthed = there.index("way A: open->earthed")
    for step in ("remote switch A: closed->open", "rp: off->on", "wp: off->on", "test ca"):
        assert there.index(step) < earthed


def test_a_far_end_without_a_padlock_is_named():
    """H2 does not pass in silence where nothing takes an own lock."""
    machine = unit(LOOPED.replace(", rp: remote switch A", ""), LOOP).machine
    named = {task: what for task, hold, what in lacking(machine) if hold == "H2"}
    assert named["isolate and earth cable A"] == "an own padlock on the remote switch A (`operation.padlocks`)"
    assert "replace bayonet fuse" not in named


def test_a_feeder_that_feeds_back_is_locked_on_both_sides():
    """Its breaker and the source at its far end, each with an own padlock; both come off on the way back."""
    section = (
        f"{ONE_KEY}\nfar_sources: {{ups: {{feeder: pump hall, in_step: no}}}}\n"
        "tests: {end test: {at: feeder end pump hall}}\npadlocks: {fp: feeder pump hall, up: ups}"
    )
    there, back = ways(unit(section).machine, "work on feeder pump hall")
    assert {"fp: off->on", "up: off->on"} <= set(there[: there.index("test end test")])
    assert {"fp: on->off", "up: on->off"} <= set(back)


def test_the_first_source_is_locked_before_the_second_closes():
    """Transfer to the generator, and the other way round on the way back; the generator never closes standing still."""
    section = "schemes: [door on open switch]\npadlocks: {mp: main, gp: generator breaker}"
    there, back = ways(unit(section).machine, "transfer to the generator")
    assert there == (
        "main: closed->open",
        "generator: off->on",
        "mp: off->on",
        "generator breaker: open->closed",
    )
    assert back.index("generator breaker: closed->open") < back.index("generator: on->off")
    assert back.index("gp: off->on") < back.index("main: open->closed")


def test_what_is_charged_is_discharged_before_it_is_proved_dead():
    """A tester for alternating voltage sees no charge: a proof before the discharge counts for nothing (trap 5)."""
    section = (
        "schemes: [door on open switch]\ncharges: {bank: {at: LV bus, drains: yes}}\ntests: {bt: {at: LV bus}}\n"
        "doors: {LV door: {reaches: [LV bus]}}\npadlocks: {sp: switch, mp: main, gp: generator breaker}"
    )
    there, _ = ways(unit(section).machine, "work behind LV door")
    assert there.index("wait bank") < there.index("test bt")


def test_captive_bolts_are_no_padlocks():
    """A bolt on a door is loosened, not locked out: tasks of a unit with bolts have their way."""
    section = f"{ONE_KEY}\nbolts: {{fuse bolt: {{door: fuse door, padlock: yes}}}}\npadlocks: {{sp: switch}}"
    there, back = ways(unit(section).machine, "replace bayonet fuse")
    assert there.index("fuse bolt: locked->tight") < there.index("fuse door: closed->open")
    assert "fuse bolt: tight->locked" in back


@pytest.mark.parametrize(
    "before",
    [
        with_tie("permitted"),
        BEFORE.replace("\n  parallel: never", "\n  parallel: permitted"),
    ],
)
def test_a_source_in_step_feeds_back_once_the_utility_is_gone(before: str):
    """Permitted to run in parallel is not permitted to make the MV side live alone: that is a back-feed."""
    found = hands("schemes: [door on earthed switch]\nswitch_positions: [closed, open, earthed]", before)
    assert "BACKFEED" in found
    assert "PARALLEL" not in found


def test_joined_to_the_utility_a_source_in_step_is_no_back_feed():
    """With the switch closed the tie only runs in parallel."""
    machine = unit("schemes: [door on open switch]", with_tie("permitted")).machine
    sequence = examine(machine, "hands").sequences["BACKFEED"]
    assert sequence in (("switch: closed->open", "tie: open->closed"), ("tie: open->closed", "switch: closed->open"))


def test_a_dead_break_connector_is_never_pulled_from_a_live_cable():
    """Not even without load: hardware lets a hand do it once the switch is open; people prove the cable dead first."""
    held = "interlocks: {d: {device: cable door, to: open, needs: switch, stands: [open], kept_by: mechanical}}"
    machine = unit(f"{ONE_KEY}\n{CONNECTOR % 'no'}\n{held}").machine
    assert examine(machine, "hands").sequences["LOAD"][-1] == "elbow: on->parked"
    there, _ = ways(machine, "earth cable A at elbow")
    assert there.index("test cable test") < there.index("elbow: on->parked")


def test_an_earth_on_the_other_side_of_the_transformer_is_no_earth():
    """With the MV side earthed, the LV terminals are dead; nobody reads on a sheet that they are earthed."""
    section = SOUND.replace("tests: {", "tests: {c: {at: transformer secondary terminals}, ")
    machine = unit(section).machine
    done = procedure(machine, machine.goals[0])
    assert done is not None
    earthed = [step.after.earthed for step in done.steps if "fuse line side" in step.after.earthed]
    assert earthed
    assert all("transformer secondary terminals" not in points for points in earthed)


def test_what_starts_by_itself_obeys_no_rule():
    """Trap 11: an inverter at a far end starts when it likes; only its breaker waits for the crew."""
    section = (
        f"{ONE_KEY}\nfar_sources: {{inverter: {{feeder: pump hall, in_step: yes}}}}\n"
        "tests: {end: {at: feeder end pump hall}}\nearths: {end earth: {at: feeder end pump hall}}"
    )
    machine = unit(section, WITHOUT_GENERATOR).machine
    assert "LIVE_EARTH" in examine(machine, "rules").sequences


def test_what_no_door_reaches_is_an_assumption():
    """A file that is silent about the board says nothing of hands at the board: somebody has to confirm the covers."""
    supplied = unit("schemes: [one key]").supplied["operation.doors"]
    assert supplied == (
        "covers that hands do not open lie over all that no door of the file reaches: switch bus, "
        "transformer secondary terminals, LV bus"
    )


def test_a_feeder_that_the_file_says_how_to_work_on_has_its_task():
    """A test at its end or a padlock on its breaker is enough; other feeders stay out of the machine."""
    section = f"{ONE_KEY}\ntests: {{end test: {{at: feeder end pump hall}}}}\npadlocks: {{fp: feeder pump hall}}"
    machine = unit(section).machine
    there, back = ways(machine, "work on feeder pump hall")
    assert there == ("feeder pump hall: closed->open", "fp: off->on", "test end test")
    assert back == ("fp: on->off", "feeder pump hall: open->closed")
    assert not [device for device in unit(ONE_KEY).machine.devices if device.id.startswith("feeder ")]


def test_work_on_the_transformer_earths_both_sides():
    """Two sources, two earths; the tank is vented (task list: all MV ways earthed, LV terminals earthed, vented)."""
    section = SOUND.replace("tests: {", "tests: {c: {at: transformer secondary terminals}, ")
    machine = unit(f"{section}\nearths: {{LV earth: {{at: transformer secondary terminals}}}}").machine
    goal = next(goal for goal in machine.goals if goal.id == "work on transformer")
    there, back = ways(machine, goal.id)
    assert {"switch: open->earthed", "LV earth: off->on", "tank vent: sealed->vented"} <= set(there)
    assert there.index("test c") < there.index("LV earth: off->on")
    assert back.index("LV earth: on->off") < back.index("switch: open->closed")


def test_a_point_that_nothing_proves_dead_is_named_though_another_is_proved():
    """H3 asks for each point that a hand reaches behind the door; one tester for two points is not enough."""
    section = SOUND.replace(
        "tests: {a: {at: fuse line side}, b: {at: transformer primary terminals}}", "tests: {a: {at: fuse line side}}"
    )
    named = [(hold, what) for task, hold, what in lacking(unit(section).machine) if task == "replace bayonet fuse"]
    assert named == [("H3", "a place where transformer primary terminals is proved dead (`operation.tests`)")]


def test_what_is_proved_behind_the_door_is_proved_before_the_earth():
    """A tester behind the fuse door counts too: after the door opens, before anything is earthed or drawn."""
    section = SOUND.replace(
        "b: {at: transformer primary terminals}", "b: {at: transformer primary terminals, behind: fuse door}"
    )
    section = section.replace("schemes: [door on earthed switch]", "schemes: [door on open switch]")
    there, _ = ways(unit(section).machine, "replace bayonet fuse")
    assert there.index("test a") < there.index("fuse door: closed->open") < there.index("test b")
    assert there.index("test b") < there.index("switch: open->earthed") < there.index("bayonet fuse: in->out")


def test_a_dead_front_fuse_door_has_its_task_and_its_well():
    """Nothing to touch behind the door, but the well of a drawn holder is bare: the switch closed on it is a hazard."""
    machine = unit("doors: {fuse door: {reaches: []}}\nvent_first: mechanical").machine
    assert "replace bayonet fuse" in [goal.id for goal in machine.goals]
    found = examine(machine, "hands").sequences
    assert found["EXP_CLOSE"][-1] in ("switch: open->closed", "fuse door: closed->open")
    assert "bayonet fuse: in->out" in found["EXP_CLOSE"]


def test_a_shut_door_covers_the_drawn_well():
    """With the fuse out and its door shut, no hand reaches anything: the switch may be closed."""
    door = "interlocks: {sw: {device: switch, to: closed, needs: fuse door, stands: [closed], kept_by: mechanical}}"
    machine = unit(f"schemes: [door on open switch]\nvent_first: mechanical\n{door}").machine
    assert not {"EXP_OPEN", "EXP_CLOSE"} & set(examine(machine, "hands").sequences)


@pytest.mark.parametrize(("bushing", "bare"), [("", True), (", bushing: bare", True), (", bushing: capped", False)])
def test_a_parked_connector_leaves_a_bushing_that_is_bare_unless_capped(bushing: str, bare: bool):
    """Live from the other end of a loop behind the connector that was pulled."""
    section = f"{ONE_KEY}\nconnectors: {{elbow: {{cable: cable A, load_break: yes{bushing}}}}}"
    found = hands(section, LOOP.replace("parallel: never", "parallel: permitted"))
    assert (found["EXP_OPEN"] == 1) == bare


def test_a_winding_feeds_a_phase_that_was_cut_off():
    """Phase 1 of the fuse drawn: a delta still holds its primary terminal live from the two others."""
    unit_machine = unit("doors: {fuse door: {reaches: []}}\nvent_first: mechanical").machine
    machine = by_phase(unit_machine, ["bayonet fuse"])
    moves = ["fuse door: closed->open", "tank vent: sealed->vented", f"{of_pole('bayonet fuse', '1')}: in->out"]
    after = told(build(machine, "hands"), moves)[-1].after
    assert of_pole("transformer primary terminals", "1") in after.live


def test_the_sheet_asks_for_every_look_that_the_rules_ask_for():
    """AC-06 counts on contacts that are seen; so the step before which they are seen says which."""
    machine = unit(f"{SOUND}\ncontacts_seen: [main]").machine
    made = first_sheet(machine)
    opened = next(step for step in made.steps if step.device == "the fuse door")
    assert opened.looks == ("the main",)


def test_hold_points_of_people_stand_on_every_sheet():
    """Sources by name with where they are, live parts shrouded, tools and people out."""
    machine = unit(SOUND).machine
    made = first_sheet(machine)
    holds = dict(made.prompts)
    assert set(holds) == {"H1", "H7", "H11"}
    assert "utility supply (fixed on at supply point A)" in holds["H1"]
    assert "generator (off at generator terminals)" in holds["H1"]
