"""Letters, numbers and gates of fuses: what they promise, and that they promise nothing else."""

from itertools import pairwise

import numpy as np
import pytest
from demonstration import links

from deadfront.physics.curves import TimeCurrentCurve
from deadfront.physics.fuse_ratings import gate_problem, gg_discrimination, letter_gate, link_gates
from deadfront.physics.trips import gg_gates
from deadfront.tables import read

GG = sorted(read("iec60269-gg-gates").column("rated_a"))


def test_e_number_melts_in_300_s_up_to_100_and_in_600_s_above():
    """IEEE C37.46 and C37.47: 200 to 240 % in 300 s, above 100E 220 to 264 % in 600 s [M]."""
    small, large = letter_gate("E", 100.0), letter_gate("E", 125.0)
    assert (small.least_current, small.most_current, small.earliest) == (200.0, 240.0, 300.0)
    assert (large.least_current, large.most_current, large.earliest) == (275.0, pytest.approx(330.0), 600.0)


def test_c_and_r_fix_other_points():
    """C: 170 to 240 % in 1000 s; R: 15 to 35 s at 100 times its number [M]."""
    c, r = letter_gate("C", 50.0), letter_gate("R", 9.0)
    assert (c.least_current, c.most_current, c.earliest, c.latest) == (85.0, 120.0, 1000.0, 1000.0)
    assert (r.least_current, r.most_current, r.earliest, r.latest) == (900.0, 900.0, 15.0, 35.0)


@pytest.mark.parametrize("kind", ["K", "T"])
def test_link_gates_agree_with_their_speed_ratio(kind):
    """Every link with a ratio: 0.1 s over long-time least current equals it to one decimal, a recalled table [M]."""
    for row in (row for row in read("c37-42-kt-links").rows if row["kind"] == kind and row["speed_ratio"]):
        long, _, short = link_gates(kind, float(row["rating_a"]))
        assert short.least_current / long.least_current == pytest.approx(float(row["speed_ratio"]), abs=0.0501)
        assert long.earliest == (300.0 if float(row["rating_a"]) <= 100.0 else 600.0)


def test_link_gates_stand_at_10_s_and_a_tenth_with_no_lower_limit_below_6_a():
    """K link of 6 A: 12.0 to 14.4 A at 300 s, 13.5 to 20.5 A at 10 s, 72 to 86 A at 0.1 s; 3 A: up to 10, 58 A [M]."""
    gates = link_gates("K", 6.0)
    found = [(gate.least_current, gate.most_current, gate.earliest, gate.latest) for gate in gates]
    assert found == [(12.0, 14.4, 300.0, 300.0), (13.5, 20.5, 10.0, 10.0), (72.0, 86.0, 0.1, 0.1)]
    found = [(gate.least_current, gate.most_current) for gate in link_gates("K", 3.0)]
    assert found == [(6.0, 7.2), (0.0, 10.0), (0.0, 58.0)]


def test_curve_at_the_very_end_of_its_gate_passes():
    """A gate holds its ends: 200 % and 240 % of 50 A at 300 s, and 35 s where it asks for 15 to 35 s."""
    time = np.array([300.0, 1.0])
    for first in (100.0, 120.0):
        assert gate_problem(TimeCurrentCurve(np.array([first, 1000.0]), time, time), letter_gate("E", 50.0)) is None
    late = np.array([35.0, 1.0])
    assert gate_problem(TimeCurrentCurve(np.array([150.0, 1000.0]), late, late), letter_gate("R", 1.5)) is None


def test_smallest_and_largest_speed_ratios_are_the_published_ones():
    """K 6 at 6 A to 8.1 at 200 A, T 10 to 13 [V]."""
    for kind, rating, ratio in (("K", 6.0, 6.0), ("K", 200.0, 8.1), ("T", 6.0, 10.0), ("T", 200.0, 13.0)):
        long, _, short = link_gates(kind, rating)
        assert short.least_current / long.least_current == pytest.approx(ratio, abs=0.05)


def test_curve_is_held_against_its_gate_in_words():
    """A link of 50 A passes 2 to 2.4 times at 300 s; its neighbours do not, and a short curve says nothing there."""
    d50 = links()["D50"]
    assert gate_problem(d50, letter_gate("E", 50.0)) is None
    assert gate_problem(d50, letter_gate("E", 40.0)) == "expected a melting current of 80 to 96 A at 300 s, got 120 A"
    short = TimeCurrentCurve(d50.current[2:], d50.minimum_melting[2:], d50.total_clearing[2:])
    assert gate_problem(short, letter_gate("E", 50.0)) == (
        "expected a melting current of 100 to 120 A at 300 s, the curve begins at a shorter time"
    )
    assert gate_problem(d50, letter_gate("R", 1.5)) == "expected melting within 15 to 35 s at 150 A, got 43.0289 s"
    assert gate_problem(d50, letter_gate("R", 1.65)) is None


def test_gg_fuses_1_6_apart_discriminate():
    """All 18 pairs from 16 to 1250 A, 1.6 : 1 apart: current and energy at least one, of neighbours not [M]."""
    from_16 = [rating for rating in GG if rating >= 16]
    apart = list(zip(from_16[:-2], from_16[2:], strict=True))
    assert len(apart) == 18
    for small, large in apart:
        found = gg_discrimination(small, large)
        assert large / small == pytest.approx(1.6, rel=0.04)
        assert found.current >= 1.0
        assert found.energy >= 1.0
    for small, large in pairwise(from_16):
        assert gg_discrimination(small, large).current < 1.0
    assert np.isnan(gg_discrimination(6.0, 10.0).energy)


def test_gg_gates_are_in_order():
    """Each gate leaves room: earliest below latest, shorter time at the higher current."""
    for rating in GG:
        gates = gg_gates(rating)
        assert gates.non_fusing < gates.fusing
        assert gates.lowest_10s < gates.highest_5s
        assert gates.lowest_100ms < gates.highest_100ms
        assert gates.lowest_10s < gates.lowest_100ms


def test_unknown_letters_and_links_are_refused():
    """A letter that fixes nothing, a number of nothing, a link that is not in the table."""
    with pytest.raises(ValueError, match=r"^letter: expected one of C, E, R, others fix no point, got 'K'$"):
        letter_gate("K", 50.0)
    with pytest.raises(ValueError, match=r"^number: expected above zero, got 0$"):
        letter_gate("E", 0.0)
    with pytest.raises(ValueError, match=r"^kind, rating: the table has no link 'K' of 55 A$"):
        link_gates("K", 55.0)
