"""Operating cases: every combination the file allows, and none that it forbids."""

import numpy as np
import pytest
from study_files import NORTH_AMERICAN, edited, walk

GENERATOR = {
    "standby_generator": {
        "rating": "500 kVA",
        "voltage": "480 V",
        "subtransient_reactance": "12 %",
        "zero_reactance": "4 %",
        "x_over_r": 20,
        "power_factor": "80 %",
        "neutral": "earthed",
        "parallel": "permitted",
        "device": NORTH_AMERICAN["board"]["tie"]["device"],
    }
}
BARE = edited(NORTH_AMERICAN, {"board.tie": None, "motors": None})


def test_a_radial_unit_without_anything_else_has_two_cases():
    """Maximum and minimum rule, in the words of the crew and no others."""
    assert walk(BARE).cases.words == ("maximum rule, conductors cold", "minimum rule, conductors hot")


def test_motors_feed_under_the_maximum_rule_only():
    """Minimum currents leave motors out, in both methods."""
    cases = walk(edited(NORTH_AMERICAN, {"board.tie": None})).cases
    assert np.all(cases.motors <= cases.maximum)
    assert cases.motors.sum() == 1


def test_a_tie_that_may_never_run_in_parallel_stands_alone():
    """Tie closed only with the main open; no case is a parallel one."""
    cases = walk(changes={"board.tie.parallel": "never", "motors": None}).cases
    assert not any(cases.parallel)
    assert np.all(cases.tie * cases.main == 0.0)
    assert cases.tie.sum() == 2


def test_whatever_may_be_closed_together_is_also_closed_all_together():
    """Tie and generator both permitted: there is a case with supply, tie and generator, the largest duty of all."""
    cases = walk(edited(BARE, GENERATOR | {"board.tie": NORTH_AMERICAN["board"]["tie"]})).cases
    triple = cases.main * cases.tie * cases.generator
    assert triple.sum() == 2
    assert all(cases.parallel[i] for i in np.flatnonzero(triple))


@pytest.mark.parametrize(("parallel", "ways"), [("never", 2), ("permitted", 3)])
def test_a_loop_feeds_from_either_end_and_from_both_only_where_permitted(parallel, ways):
    """Way A, way B, and both."""
    changes = {"other_feed": {"fault_power": "100 MVA", "x_over_r": 8, "parallel": parallel}}
    cases = walk(edited(BARE, changes)).cases
    assert len(cases) == 2 * ways
    assert (cases.way_a * cases.way_b).sum() == (2 if ways == 3 else 0)


def test_something_always_feeds_the_low_voltage_bus():
    """No case leaves the board dead: main, tie or generator is closed in each."""
    cases = walk(edited(BARE, GENERATOR | {"board.tie": NORTH_AMERICAN["board"]["tie"]})).cases
    assert np.all(cases.main + cases.tie + cases.generator > 0)


def test_words_tell_all_cases_apart():
    """A worst case spelled out can be set up by reading it."""
    found = walk(edited(NORTH_AMERICAN, GENERATOR)).cases.words
    assert len(set(found)) == len(found)
