"""Code maxima: published sizing examples, every row of both tables, standard ratings up and down."""

import numpy as np
import pytest
from demonstration import rows

from deadfront.intervals import Interval
from deadfront.physics.code_maxima import (
    E_RATINGS,
    GUIDE_OVERLOAD,
    GUIDE_RESERVE,
    IEC_RATINGS,
    NEC_RATINGS,
    csa_multiple,
    iec_guide_rating,
    iec_guide_window,
    next_rating_down,
    next_rating_up,
    nfpa_multiple,
    note_1_applies,
)
from deadfront.physics.fuse_pair import largest_secondary_fault
from deadfront.physics.sequence import ROOT3


def rated(power: float, voltage: float) -> float:
    """Primary line current."""
    return power / (ROOT3 * voltage)


def test_exam_fuse_of_250_kva_is_35_a():
    """P3: NFPA 70, any location, 13.2 kV, 3.25 %: 10.93 A, 300 % is 32.79 A, next size 35 A [V, examination text]."""
    current = rated(250e3, 13200.0)
    assert current == pytest.approx(10.93, rel=1e-3)
    most = nfpa_multiple("any", "primary fuse", 0.0325) * current
    assert most == pytest.approx(32.79, rel=1e-3)
    assert next_rating_up(NEC_RATINGS, most) == 35.0


def test_exam_breaker_of_250_kva_is_45_a():
    """P4: NFPA 70, the same at 7.25 %: breaker 400 % is 43.72 A, by note 1 45 A [V; the text wavers with 40 A]."""
    most = nfpa_multiple("any", "primary breaker", 0.0725) * rated(250e3, 13200.0)
    assert most == pytest.approx(43.72, rel=1e-3)
    assert note_1_applies("any")
    assert next_rating_up(NEC_RATINGS, most) == 45.0


def test_canadian_fuse_goes_up_and_breaker_down():
    """P5: CSA C22.1 26-250, 200 kVA, 4160 V: 27.75 A; fuse 41.6 to 45 A, breaker 83.25 to 80 A [V, guide]."""
    current = rated(200e3, 4160.0)
    assert current == pytest.approx(27.75, rel=1e-3)
    fuse = csa_multiple("26-250", "primary fuse", 0.055) * current
    breaker = csa_multiple("26-250", "primary breaker", 0.055) * current
    assert (fuse, breaker) == (pytest.approx(41.6, rel=1.1e-3), pytest.approx(83.25, rel=1e-3))
    assert next_rating_up(NEC_RATINGS, fuse) == 45.0
    assert next_rating_down(NEC_RATINGS, breaker) == 80.0


def test_handbook_fuse_of_800_kva_is_80_a():
    """P6: IEC fuse, 10 kV, 1.5 x 1.1: 46.2 A, 76.23 A, next R10 rating 80 A [V, handbook]."""
    current = rated(800e3, 10e3)
    least = iec_guide_rating(current, GUIDE_OVERLOAD, GUIDE_RESERVE)
    assert current == pytest.approx(46.2, rel=1e-3)
    assert least == pytest.approx(76.23, rel=1e-3)
    assert next_rating_up(IEC_RATINGS, least) == 80.0


def test_fuse_of_500_kva_is_40_a_but_its_printed_fault_is_wrong():
    """P7: IEC fuse, 11 kV, 150 %: 26.3 A, 39.45 to 40 A; the fault at 5 % printed as 210 A is 525 A [V]."""
    current = rated(500e3, 11e3)
    least = iec_guide_rating(current, 1.5, 1.0)
    assert current == pytest.approx(26.3, rel=2.5e-3)
    assert least == pytest.approx(39.45, rel=2.5e-3)
    assert next_rating_up(IEC_RATINGS, least) == 40.0
    assert largest_secondary_fault(current, 0.05, 0.0, 0.0, 1.0) == pytest.approx(524.9, abs=0.1)


@pytest.mark.parametrize(
    ("power", "impedance", "published"), [(800e3, 0.06, 19.20), (1250e3, 0.06, 30.00), (400e3, 0.04, 14.40)]
)
def test_low_voltage_faults_of_the_handbook(power, impedance, published):
    """P8: 10/0.4 kV behind an infinite source, in kA, to the 0.25 % the text rounds its constant by [V]."""
    current = largest_secondary_fault(rated(power, 400.0), impedance, 0.0, 0.0, 1.0)
    assert current / 1e3 == pytest.approx(published, rel=2.5e-3)


@pytest.mark.parametrize("row", rows("iec-guide-fuses.csv"), ids=lambda row: f"{row['S_kVA']} kVA")
@pytest.mark.parametrize("kilovolts", [10, 20])
def test_guide_rule_gives_the_r10_rating(row, kilovolts):
    """17 sizes at 10 and 20 kV: the rule 1.65 and the next R10 rating; fault and inrush currents beside it."""
    current = rated(1e3 * float(row["S_kVA"]), 1e3 * kilovolts)
    least = iec_guide_rating(current, GUIDE_OVERLOAD, GUIDE_RESERVE)
    assert least == pytest.approx(float(row[f"rule_{kilovolts}kV_A"]), abs=0.0051)
    assert next_rating_up(IEC_RATINGS, least) == float(row[f"R10_fuse_{kilovolts}kV_A"])
    fault = largest_secondary_fault(current, float(row["uk_pct_assumed"]) / 100.0, 0.0, 0.0, 1.0)
    assert fault == pytest.approx(float(row[f"I_sec_fault_{kilovolts}kV_A"]), abs=0.051)
    assert 12 * current == pytest.approx(float(row[f"I_inrush12x_{kilovolts}kV_A"]), abs=0.051)


def test_application_rule_frames_the_guide_rule():
    """1.5 to 2 times from 100 kVA, 2 to 3 times below, never under 10 A; 1.65 times lies inside from 125 kVA."""
    assert iec_guide_window(800e3, 46.2) == pytest.approx((69.3, 92.4))
    assert iec_guide_window(100e3, 10.0) == pytest.approx((15.0, 20.0))
    assert iec_guide_window(99e3, 5.7) == pytest.approx((11.4, 17.1))
    assert iec_guide_window(50e3, 2.89) == (10.0, 10.0)
    for power in (125e3, 630e3, 2500e3):
        window = iec_guide_window(power, rated(power, 10e3))
        assert window.least <= iec_guide_rating(rated(power, 10e3), GUIDE_OVERLOAD, GUIDE_RESERVE) <= window.most
    with pytest.raises(ValueError, match=r"^rated_power: expected above zero, got 0$"):
        iec_guide_window(0.0, 1.0)


DEVICES = ("primary breaker", "primary fuse", "secondary breaker", "secondary fuse", "low-voltage secondary")


@pytest.mark.parametrize(
    ("location", "impedance", "multiples"),
    [
        ("any", 0.06, (6.0, 3.0, 3.0, 2.5, 1.25)),
        ("any", 0.0601, (4.0, 3.0, 2.5, 2.25, 1.25)),
        ("any", 0.101, (np.nan,) * 5),
        ("supervised, primary only", 0.2, (3.0, 2.5, np.inf, np.inf, np.inf)),
        ("supervised", 0.06, (6.0, 3.0, 3.0, 2.5, 2.5)),
        ("supervised", 0.10, (4.0, 3.0, 2.5, 2.25, 2.5)),
    ],
)
def test_nfpa_table_reads_row_by_row(location, impedance, multiples):
    """NFPA 70-2017 Table 450.3(A), every row and its limits of impedance; above them nothing is known."""
    np.testing.assert_array_equal([nfpa_multiple(location, device, impedance) for device in DEVICES], multiples)


@pytest.mark.parametrize(
    ("rule", "impedance", "multiples"),
    [
        ("26-250", 0.3, (3.0, 1.5, np.inf, np.inf, np.inf)),
        ("Table 50", 0.075, (6.0, 3.0, 3.0, 1.5, 2.5)),
        ("Table 50", 0.0751, (4.0, 2.0, 2.5, 1.25, 2.5)),
        ("Table 50", 0.1001, (np.nan,) * 5),
    ],
)
def test_canadian_table_reads_row_by_row(rule, impedance, multiples):
    """CSA C22.1 Rule 26-250 and Table 50 (from memory), every row."""
    np.testing.assert_array_equal([csa_multiple(rule, device, impedance) for device in DEVICES], multiples)


def test_note_1_is_not_in_every_row():
    """Next size up everywhere but in the supervised rows with secondary protection [M]."""
    assert [note_1_applies(place) for place in ("any", "supervised, primary only", "supervised")] == [True, True, False]


def test_standard_ratings_go_up_and_down_and_stay():
    """Between two ratings up and down differ, at a rating they agree, beyond the series there is none."""
    current = np.array([14.0, 15.0, 61.0, 6000.0, 6001.0])
    np.testing.assert_array_equal(next_rating_up(NEC_RATINGS, current), [15, 15, 70, 6000, np.nan])
    np.testing.assert_array_equal(next_rating_down(NEC_RATINGS, current), [np.nan, 15, 60, 6000, 6000])
    assert next_rating_up(E_RATINGS, 101.0) == 125.0
    assert np.isnan(next_rating_up(IEC_RATINGS, np.nan))


def test_rounding_of_floats_does_not_permit_the_next_size():
    """3 x 15.0 A computed a hair above 45 A stays 45 A."""
    assert next_rating_up(NEC_RATINGS, np.nextafter(45.0, 46.0)) == 45.0
    assert next_rating_down(NEC_RATINGS, np.nextafter(45.0, 44.0)) == 45.0
    assert next_rating_up(NEC_RATINGS, 45.001) == 50.0


def test_ratings_over_ranges_take_in_every_size_of_the_range():
    """41 to 61 A may mean 45 to 70 A; an impedance across 6 % either multiple."""
    enclosing = next_rating_up(NEC_RATINGS, Interval(41.0, 61.0))
    assert (enclosing.lower, enclosing.upper) == (45.0, 70.0)
    multiple = nfpa_multiple("any", "primary breaker", Interval(0.055, 0.065))
    assert (multiple.lower, multiple.upper) == (4.0, 6.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: nfpa_multiple("roof", "primary fuse", 0.05),
         r"^location: expected one of any, supervised, primary only, supervised, got 'roof'$"),
        (lambda: csa_multiple("26-252", "primary fuse", 0.05),
         r"^rule: expected one of 26-250, Table 50, got '26-252'$"),
        (lambda: nfpa_multiple("any", "switch", 0.05),
         r"^device: expected one of primary fuse, primary breaker, .*, got 'switch'$"),
        (lambda: note_1_applies("roof"), r"^location: expected one of .*, got 'roof'$"),
        (lambda: next_rating_up("inches", 1.0),
         r"^ratings: expected one of nec-standard-ratings, iec60282-rated-currents, c37-e-ratings, got 'inches'$"),
    ],
)  # fmt: skip
def test_unknown_names_are_refused(call, message):
    """Place, rule, device, series: the sentence lists what there is."""
    with pytest.raises(ValueError, match=message):
        call()
