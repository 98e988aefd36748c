"""Where a code demands low-voltage earth-fault protection: published thresholds, and both sides of each."""

import re

import pytest

from deadfront.physics.earth_fault_protection import EarthFaultDemand, earth_fault_demand


def test_published_thresholds_of_nfpa_70():
    """NFPA 70 230.95: 480Y/277 V and 1000 A: pickup at most 1200 A, 1 s at 3000 A [V2]; 208Y/120 V is outside [V2]."""
    assert earth_fault_demand("NFPA 70", 480.0, 1000.0) == EarthFaultDemand(1200.0, 1.0, 3000.0, "V2")
    assert earth_fault_demand("NFPA 70", 480.0, 999.0) is None
    assert earth_fault_demand("NFPA 70", 208.0, 4000.0) is None
    assert earth_fault_demand("NFPA 70", 1001.0, 4000.0) is None


def test_csa_asks_below_150_v_from_2000_a():
    """CSA C22.1 14-102: above 150 V to earth from 1000 A, up to 150 V from 2000 A [M]."""
    assert earth_fault_demand("CSA C22.1", 600.0, 1000.0) == EarthFaultDemand(1200.0, 1.0, 3000.0, "M")
    assert earth_fault_demand("CSA C22.1", 208.0, 1999.0) is None
    assert earth_fault_demand("CSA C22.1", 208.0, 2000.0) is not None


def test_voltages_at_which_the_demand_begins_and_ends():
    """More than 150 V to earth, 259.8 V between lines, and not more than 1000 V between lines; NFPA 70 230.95 [V2]."""
    assert earth_fault_demand("NFPA 70", 259.0, 1000.0) is None
    assert earth_fault_demand("NFPA 70", 261.0, 1000.0) is not None
    assert earth_fault_demand("NFPA 70", 1000.0, 1000.0) is not None
    assert earth_fault_demand("CSA C22.1", 259.0, 1999.0) is None
    assert earth_fault_demand("CSA C22.1", 261.0, 1999.0) is not None


def test_another_code_is_refused():
    """The parameter, what is known, and what came."""
    words = "code: expected one of CSA C22.1, NFPA 70, got 'IEC 60364'"
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        earth_fault_demand("IEC 60364", 400.0, 1600.0)
