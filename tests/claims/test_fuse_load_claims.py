"""OC-01 and OC-02 against hand calculations on the curves of the invented catalogue, hot and after load."""

import numpy as np
import pytest
from pair_files import pair, parts

LINK, LIMITER = "Draw-out expulsion link", "Current-limiting fuse"


def test_permitted_load_against_what_each_fuse_carries_in_hot_liquid():
    """Case A at 85 degC: 46.30 A against 0.843 x 75 A of the tin link, 0.967 x 125 A of the silver limiter."""
    found = parts("OC-01", "A", {"transformer.liquid_temperature": "25 .. 85 degC"})
    assert found[f"{LINK}, permitted load"].value == pytest.approx(46.30, rel=1e-4)
    assert found[f"{LINK}, permitted load"].limit == pytest.approx(0.843 * 75, rel=1e-3)
    assert found[f"{LIMITER}, permitted load"].limit == pytest.approx(0.967 * 125, rel=1e-3)


def test_overload_counts():
    """At 140 % of the rating the link of case A is asked for more than it carries at 85 degC."""
    hot = {"transformer.liquid_temperature": "25 .. 85 degC"}
    assert pair("OC-01", "A", hot).verdict == "refuted"  # six times for a second in hot liquid
    some = hot | {"transformer.cold_load": {"restart": {"multiple": 2, "time": "1 s"}}}
    assert pair("OC-01", "A", some).verdict == "shown"
    assert pair("OC-01", "A", some | {"transformer.permitted_load": "140 %"}).verdict == "refuted"


def test_cold_load_pickup_of_the_table_is_an_assumption():
    """Where the file is silent the customary points count, and are listed as such."""
    found = pair("OC-01", "A")
    text = next(a for a in found.assumptions if a.key == "transformer.cold_load")
    assert text.tag == "C"
    assert text.text == (
        "The cold load is taken as 6 times for 1 s, 3 times for 10 s, 2 times for 100 s, of the transformer's rated "
        "current."
    )


def test_inrush_is_worst_with_a_hot_link():
    """Trap 5: D50 melts in 0.142 s at 555.6 A in liquid of 25 degC, in 0.088 s at 85 degC: it fails the 0.1 s point."""
    subject = f"{LINK}, 12 times for 0.1 s"
    cold, hot = (parts("OC-02", "A", {"transformer.liquid_temperature": t})[subject] for t in ("25 degC", "85 degC"))
    assert cold.value == pytest.approx(555.6, rel=1e-4)
    assert cold.limit == pytest.approx(625.0)
    assert hot.limit == pytest.approx(np.sqrt(147 / 207) * 625.0, rel=1e-6)
    assert pair("OC-02", "A", {"transformer.liquid_temperature": "25 degC"}).verdict == "shown"
    assert pair("OC-02", "A", {"transformer.liquid_temperature": "25 .. 85 degC"}).verdict == "refuted"


def test_load_before_shortens_the_melting_time():
    """A link that keeps 75 % of its melting time is read at 0.1 s / 0.75."""
    after = parts("OC-02", "A", {"fuses.bayonet.preload": "75 %"})[f"{LINK}, 12 times for 0.1 s"].limit
    slope = np.log(290.0 / 625.0) / np.log(1.0 / 0.1)  # between the points of 0.1 s and 1 s
    assert after == pytest.approx(625.0 * (1.0 / 0.75) ** slope)


def test_a_limiter_is_used_to_a_share_of_its_melting_current():
    """90 % of the file, 75 % where it is silent: its elements age."""
    subject = f"{LIMITER}, 12 times for 0.1 s"
    told, silent = (
        parts("OC-02", "A", {"fuses.limiter.ageing_share": share})[subject].limit for share in ("90 %", None)
    )
    assert silent == pytest.approx(0.75 / 0.90 * told)


def test_preload_follows_from_the_permitted_load_where_the_file_is_silent():
    """1 - (46.30 / 120)^2: listed as an assumption with its number."""
    found = pair("OC-02", "A", {"fuses.bayonet.preload": None})
    share = 1.0 - (46.30 / 120.0) ** 2
    text = next(a for a in found.assumptions if a.key == "fuses.bayonet.preload")
    assert text.text == f"After the permitted load the draw-out expulsion link keeps {share:.1%} of its melting time."
    assert text.tag == "D"


def test_the_points_of_the_file_replace_those_of_the_table():
    """One named point: no other is asked."""
    found = parts("OC-02", "A", {"transformer.inrush": {"measured": {"multiple": 8, "time": "0.1 s"}}})
    assert sorted(found) == [f"{LIMITER}, measured", f"{LINK}, measured"]
    assert found[f"{LINK}, measured"].value == pytest.approx(8 * 46.30, rel=1e-4)


def test_a_point_longer_than_a_curve_leaves_the_claim_open_in_words():
    """Twice the rated current for 900 s: a link's curve that begins at 300 s does not say."""
    changes = {"transformer.cold_load": {"long": {"multiple": 2, "time": "900 s"}}}
    found = pair("OC-01", "A", changes)
    assert found.verdict == "open"
    assert found.reason == (
        "The curve of the draw-out expulsion link begins at 300 s: it does not say what melts it in 900 s, which is "
        "long after load."
    )


def test_a_load_that_melts_a_fuse_leaves_no_time_to_compare():
    """Three times the rating is above the first point of the link's curve: open, in words."""
    changes = {"fuses.bayonet.preload": None, "transformer.permitted_load": "300 %"}
    found = pair("OC-02", "A", changes)
    assert found.verdict == "open"
    assert found.reason == "The permitted load alone melts the draw-out expulsion link in hot liquid."


def test_a_link_s_load_by_its_rating_is_an_assumption():
    """1.5 times the rating of links of K and T type; of a limiter 0.9 times."""
    changes = {"fuses.bayonet.permitted_load": None, "fuses.limiter.permitted_load": None}
    found = parts("OC-01", "A", changes)
    assert found[f"{LINK}, permitted load"].limit == pytest.approx(75.0)
    assert found[f"{LIMITER}, permitted load"].limit == pytest.approx(112.5)
    tags = {a.key: a.tag for a in pair("OC-01", "A", changes).assumptions}
    assert (tags["fuses.bayonet.permitted_load"], tags["fuses.limiter.permitted_load"]) == ("V", "C")


@pytest.mark.parametrize("identifier", ["OC-01", "OC-02"])
@pytest.mark.parametrize(
    "path",
    ["transformer.liquid_temperature", "fuses.bayonet.element", "fuses.limiter.curve", "transformer.primary_voltage"],
)
def test_a_missing_entry_leaves_the_claim_open_and_is_named(identifier, path):
    """Open, and it says what to put where."""
    found = pair(identifier, "A", {path: None})
    assert found.verdict == "open", found.reason
    assert path in [entry.path for entry in found.missing]


def test_a_temperature_sensing_element_is_taken_at_its_customary_melting_point():
    """About 145 degC [C], listed; in liquid of 120 degC it carries 0.456 of its load."""
    changes = {"fuses.bayonet.element": "temperature-sensing", "transformer.liquid_temperature": "120 degC"}
    found = parts("OC-01", "A", changes)
    assert found[f"{LINK}, permitted load"].limit == pytest.approx(0.456 * 75, rel=1e-3)
    keys = [a.key for a in pair("OC-01", "A", changes).assumptions]
    assert "fuses.bayonet.melting_temperature" in keys
