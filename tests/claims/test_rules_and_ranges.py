"""What a claim says of its rule, of a limit that is just met, and of entries that leave the model's range."""

import pytest
from claim_files import BARE, details, edited, judged, project

from deadfront import check
from deadfront.claims.comparing import CLAIMS

RANGE = {"transformer.impedance": "5.75 % +/- 7.5 %", "fuses.limiter": None, "fuses.bayonet.rating": "150 A"}


def test_exactly_the_code_maximum_is_permitted_with_a_range_elsewhere():
    """OC-09: 125 % of 1804 A is 2255 A, next rating 2500 A: a main of 2500 A is at most that, 3000 A is not."""
    equal = judged("OC-09", RANGE | {"board.main.rating": "2500 A"})
    main = next(one for one in equal.details if one.subject == "LV main breaker")
    assert (main.value, main.limit) == (2500.0, 2500.0)
    assert (equal.verdict, equal.bound, equal.coverage) == ("shown", 0.0, "proved")
    assert judged("OC-09", RANGE | {"board.main.rating": "3000 A"}).verdict == "refuted"


def test_the_iec_practice_is_not_asked_for_an_earth_fault_protection_it_does_not_know():
    """CO-05: not applicable whatever the file lacks; the North American practice asks for the slots."""
    bare = {"transformer": None, "board": None}
    found = judged("CO-05", bare | {"practice": "iec", "code": None})
    assert (found.verdict, found.missing) == ("not applicable", ())
    assert [one.path for one in judged("CO-05", bare).missing] == ["transformer", "board"]


OUTSIDE = {
    "gap": ("320 mm", "is 320 mm: IEEE 1584-2018 holds from 6.35 to 76.2 mm at 480 V."),
    "working_distance": ("200 mm", "is 200 mm: IEEE 1584-2018 holds from 305 mm on."),
}


@pytest.mark.parametrize("entry", OUTSIDE)
@pytest.mark.parametrize("identifier", ["AE-02", "AE-04", "CO-06"])
def test_an_entry_outside_the_range_of_the_arc_model_is_named_with_the_range(identifier, entry):
    """IEEE 1584-2018, clause 4.2 [M]: gaps 6.35 to 76.2 mm up to 600 V, distances from 305 mm on."""
    value, words = OUTSIDE[entry]
    path = f"operation.places.line side.{entry}"
    found = judged(identifier, {path: value})
    assert found.verdict == "open"
    assert found.reason == f"{path} {words} No energy is given beyond."


def test_a_double_earth_fault_is_called_what_it_is():
    """SC-07: without an earthed neutral the screen carries a double earth fault, bounded by the line-line fault."""
    isolated = {
        "supply.earthing": "isolated",
        "supply.x0_over_x1": None,
        "supply.r0_over_x0": None,
        "supply.capacitive_earth_current": "20 A",
    }
    screens = [one for one in details("SC-07", isolated) if one.startswith("Screen")]
    assert screens == [
        "Screen of mv_cable, double earth fault bounded by the line-line fault at Supply point",
        "Screen of mv_cable, double earth fault bounded by the line-line fault at MV switch bus",
    ]
    assert "Screen of mv_cable, line-earth fault at Supply point" in details("SC-07")


AMERICAN = ("NFPA", "OSHA", "ASTM", "C37.", "CSA", "UL ", "C57.")


@pytest.mark.parametrize("practice", ["iec", "north-american"])
def test_the_rules_on_hands_arcs_and_plates_are_those_of_the_practice(practice):
    """AC, AE and DO: an IEC dossier cites no North American code, and the other way round."""
    changes = {"practice": practice} | ({"code": None} if practice == "iec" else {})
    found = [one for one in check(project(edited(BARE, changes))).claims if one.id[:2] in ("AC", "AE", "DO", "EN")]
    assert len(found) > 12
    for one in found:
        if practice == "iec":
            assert not any(word in one.rule.source for word in AMERICAN), one.rule.source
        else:
            assert "EN 50110" not in one.rule.source
            assert "IEC " not in one.rule.source


def test_a_rule_carries_the_lowest_tag_of_its_parts():
    """OC-11: only the 0.9 T0 rule was seen in a text; the comparisons and the take-over are from memory."""
    rules = {definition.id: definition.rule("iec") for definition in CLAIMS}
    assert rules["OC-11"].tag == "M"
    assert rules["OC-02"].tag == "C"  # the points are V, hot and after load is custom
