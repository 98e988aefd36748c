"""DO-02: every assumption of the other claims has an owner, or is named."""

from claim_files import NORTH_AMERICAN, project

from deadfront.claims.report import check

ASSUMED = (
    "board.arc_detection.supervised_infeeds",
    "board.arc_detection.unselective",
    "board.bus.peak_withstand",
    "board.tie.zero_sequence_angle",
    "fuses.coldest_liquid",
    "supply.highest_voltage",
    "supply.protection.earth.accuracy",
    "supply.protection.margin",
    "supply.protection.phase.accuracy",
    "supply.protection.relay",
    "terminations.voltage_class",
)
OWNERS = {"assumptions": {key: {"owner": "commissioning engineer"} for key in ASSUMED}}


def do_02(changes=None):
    """DO-02 of the complete unit with changes."""
    return next(claim for claim in check(project(NORTH_AMERICAN, changes)).claims if claim.id == "DO-02")


def test_do_02_names_each_assumption_without_an_owner():
    """DO-02: open, with the count and the place in the file where each owner belongs."""
    found = do_02()
    assert found.verdict == "open"
    assert found.reason == "11 of 11 assumptions have no owner."
    assert [entry.path for entry in found.missing] == [f"assumptions.{key}.owner" for key in ASSUMED]


def test_do_02_is_shown_when_all_have_an_owner():
    """DO-02: each with an owner and a way to confirm it."""
    found = do_02(OWNERS)
    assert (found.verdict, found.value, found.limit) == ("shown", 0.0, 0.0)
    assert all(assumption.confirm and assumption.owner for assumption in found.assumptions)


def test_do_02_is_never_refuted():
    """DO-02: an assumption without an owner is an open question, not a fault of the unit."""
    one = {"assumptions": {ASSUMED[0]: {"owner": "commissioning engineer"}}}
    assert do_02(one).reason == "10 of 11 assumptions have no owner."
