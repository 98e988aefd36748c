"""The sample report as a document: its result, its curves, its bytes."""

from __future__ import annotations

from functools import cache
from types import SimpleNamespace as Row

import numpy as np
from sample_report import sample_report

from deadfront.claims.report import to_json
from deadfront.dossier.document import Characteristics, document


def sample_characteristics() -> Characteristics:
    """Three devices and three currents, invented."""
    current = np.geomspace(1000.0, 60000.0, 200)
    relay = np.where(
        current > 20000.0, 0.13, np.where(current > 2500.0, 5.4 / np.maximum(current / 2400.0 - 1.0, 1e-3), np.inf)
    )
    fuse = np.where(current > 5000.0, 4e10 / current**2.6, np.inf)
    breaker = np.where(current > 24000.0, 0.05, np.where(current > 8000.0, 0.3, 1.2 * (12000.0 / current) ** 2))
    ratio = "24.94 kV / 480 V = 51.96"
    curves = (
        Row(
            name="Upstream relay and breaker",
            tag="G1",
            current=current,
            earliest=None,
            latest=relay,
            reference_ratio=ratio,
        ),
        Row(
            name="MV fuses in series",
            tag="F1, F2",
            current=current,
            earliest=fuse * 0.7,
            latest=fuse,
            reference_ratio=ratio,
        ),
        Row(
            name="LV main breaker",
            tag="Q2",
            current=current,
            earliest=breaker * 0.8,
            latest=breaker,
            reference_ratio="1",
        ),
    )
    markers = (
        Row(words="bolted, largest", current=33377.7, time=0.05),
        Row(words="bolted, smallest", current=20700.0, time=None),
        Row(words="arc, reduced", current=14200.0, time=1.84),
    )
    return Characteristics(curves, markers, "480 V")


def sample_document(**changes: object) -> bytes:
    """The sample as PDF; `changes` replace slots of the unit."""
    report = sample_report(**changes)
    return document(report, to_json(report), sample_characteristics())


@cache
def plain_document() -> bytes:
    """The unchanged sample as PDF, made once."""
    return sample_document()
