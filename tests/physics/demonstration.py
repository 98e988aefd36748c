"""Tests: the invented demonstration catalogue of links and limiters, as curves."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from deadfront.physics.curves import TimeCurrentCurve

HERE = Path(__file__).parent
TOLERANCE, ARCING_TIME = 0.20, 0.0133
LINK_TIMES = ("300", "100", "10", "1", "0.1", "0.02", "0.01")
LIMITER_TIMES = ("1000", *LINK_TIMES)

CLASS_FACTOR = {"8.3": 5.0, "15.5": 5.5, "23.0": 6.0}
"""Unrounded minimum interrupting current of the invented limiters over their rating, by class in kV."""


def rows(name: str) -> list[dict[str, str]]:
    """Rows of a CSV file beside the tests, its comment lines left out."""
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def links() -> dict[str, TimeCurrentCurve]:
    """Melting curves of the links; they have no clearing curve of their own."""
    return {row["link"]: _curve(row, LINK_TIMES) for row in rows("demonstration-links.csv")}


def limiters(voltage_class: str) -> dict[int, TimeCurrentCurve]:
    """Melting curves of the limiters of a class in kV, by rating."""
    data = [row for row in rows("demonstration-limiters.csv") if row["class_kV"] == voltage_class]
    return {int(row["In_A"]): _curve(row, LIMITER_TIMES) for row in data}


def limiter_row(voltage_class: str, rating: int) -> dict[str, str]:
    """The catalogue row of a limiter."""
    data = rows("demonstration-limiters.csv")
    return next(row for row in data if (row["class_kV"], row["In_A"]) == (voltage_class, str(rating)))


def link_row(name: str) -> dict[str, str]:
    """The catalogue row of a link."""
    return next(row for row in rows("demonstration-links.csv") if row["link"] == name)


def _curve(row: dict[str, str], times: tuple[str, ...]) -> TimeCurrentCurve:
    seconds = np.array([float(time) for time in times])
    current = np.array([float(row[f"I_minmelt_A_{time}s"]) for time in times])
    return TimeCurrentCurve(current, seconds, seconds)
