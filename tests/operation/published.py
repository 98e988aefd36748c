"""Tests: the worked cases that came with the rules of the model, as they are printed there."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"

CASES: dict[str, dict[str, Any]] = {
    case["id"]: case for case in json.loads((DATA / "cases.json").read_text(encoding="utf-8"))["cases"]
}
"""22 invented stations; states and hazards agreed with an independent model checker, see `meta` in the file."""


def failure_rows() -> list[dict[str, str]]:
    """The 426 printed verdicts on single failures."""
    with (DATA / "failures.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


LARGE = ("C20",)
"""Cases whose failures take seconds."""
