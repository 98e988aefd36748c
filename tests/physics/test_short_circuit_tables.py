"""Tests: the short-circuit tables agree with one another and with the metal they are about."""

from __future__ import annotations

import numpy as np
import pytest

from deadfront.tables import read


@pytest.mark.parametrize(
    ("column", "resistivity"),
    [("r20_cu_plain_class2_ohm_per_km", 17.241e-9), ("r20_al_class2_ohm_per_km", 28.264e-9)],
)
def test_class_2_resistances_are_those_of_the_metal(column: str, resistivity: float) -> None:
    """IEC 60228: the largest resistance of each size is that of 0.88 to 1.02 of its nominal section."""
    table = read("iec60228-class-2")
    area = table.column("size_mm2")
    resistance = table.column(column, blank=np.nan)
    section = resistivity / resistance * 1e9 / area
    known = section[~np.isnan(section)]
    assert known.size >= 18
    assert np.all((known > 0.88) & (known < 1.02))


def test_aluminium_cables_have_their_class_2_resistance() -> None:
    """Line-parameter data against IEC 60228: the three sizes that differ are known and named here."""
    class_2 = {row["size_mm2"]: row["r20_al_class2_ohm_per_km"] for row in read("iec60228-class-2").rows}
    odd = set()
    for row in read("lines-50hz").rows:
        if row["kind"] == "cable" and float(row["r20_ohm_per_km"]) != float(class_2[row["size_mm2"]]):
            odd.add((row["size_mm2"], row["r20_ohm_per_km"], class_2[row["size_mm2"]]))
    assert odd == {("95", "0.313", "0.32"), ("185", "0.161", "0.164"), ("240", "0.122", "0.125")}


def test_larger_conductors_have_less_resistance() -> None:
    """Each table falls with size, in each of its resistance columns."""
    for name, columns in (
        ("iec60228-class-2", ("r20_cu_plain_class2_ohm_per_km", "r20_al_class2_ohm_per_km")),
        ("nec-table-9", ("r_cu_pvc", "r_cu_al", "r_cu_steel", "r_al_pvc", "r_al_al", "r_al_steel")),
    ):
        for column in columns:
            values = read(name).column(column, blank=np.inf)
            assert np.all(np.diff(values[np.isfinite(values)]) < 0), (name, column)


def test_hot_mv_cable_resistance_is_dc_resistance_and_a_little_skin_effect() -> None:
    """60 Hz cables at 90 degC: 10.575 ohm cmil/ft copper at 25 degC times 1.25, up to 10 % more at 1000 kcmil."""
    table = read("mv-cables-60hz")
    area = table.column("area_kcmil")
    for column, resistivity, zero in (("r90_cu_ohm_per_kft", 10.575, 234.5), ("r90_al_ohm_per_kft", 17.345, 228.1)):
        direct = resistivity / area * (zero + 90) / (zero + 25)
        ratio = table.column(column) / direct
        assert np.all((ratio > 0.99) & (ratio < 1.12)), (column, ratio)


def test_voltage_factor_rows_meet_without_gap_for_each_tolerance() -> None:
    """Each tolerance covers 100 V to 550 kV once."""
    for tolerance in ("0.06", "0.10"):
        rows = read("iec60909-voltage-factors").where(tolerance=tolerance).rows
        assert [row["to_v"] for row in rows[:-1]] == [row["from_v"] for row in rows[1:]]
        assert all(float(row["c_max"]) > float(row["c_min"]) for row in rows)


def test_machine_table_lists_every_duty_that_the_standard_has() -> None:
    """IEEE 551 Table 9-1: 8 machines in 5 networks and duties; C37.13 has no interrupting network."""
    rows = read("ieee551-machine-multipliers").rows
    assert len({(row["machine"], row["network"], row["duty"]) for row in rows}) == 8 * 5
    assert not [row for row in rows if (row["network"], row["duty"]) == ("low-voltage", "interrupting")]
    assert {row["multiplier"] for row in rows if row["counts"] == "no"} == {"0"}
