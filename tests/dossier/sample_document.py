"""The sample report as a document: its result, its curves, its bytes."""

from __future__ import annotations

from functools import cache

import numpy as np
from sample_report import sample_report

from deadfront.claims.report import to_json
from deadfront.dossier.document import document
from deadfront.study.drawing import Characteristic, Edge, Scale, Sheet, Span


def sample_sheet() -> Sheet:
    """Three devices and three currents, invented."""
    current = np.geomspace(1000.0, 60000.0, 200)
    relay = np.where(current > 2500.0, 5.4 / np.maximum(current / 2400.0 - 1.0, 1e-3), np.inf)
    relay = np.where(current > 20000.0, 0.13, relay)
    fuse = np.where(current > 5000.0, 4e10 / current**2.6, np.inf)
    breaker = np.where(current > 24000.0, 0.05, np.where(current > 8000.0, 0.3, 1.2 * (12000.0 / current) ** 2))
    ratio = "24.94 kV / 480 V = 51.96"
    return Sheet(
        title="Gannet Quay cold store. Phase currents",
        scale=Scale("Current at 480 V, A"),
        other=None,
        characteristics=(
            Characteristic("Upstream relay", ("and breaker",), "upstream", (_edge(current, relay),), False, ratio),
            Characteristic(
                "MV fuses", ("in series",), "link", (_edge(current, fuse * 0.7), _edge(current, fuse)), True, ratio
            ),
            Characteristic(
                "LV main", (), "main", (_edge(current, breaker * 0.8), _edge(current, breaker)), True, "own current"
            ),
        ),
        spans=(Span("bolted", 20700.0, 33377.7, ruled=True), Span("arc, reduced", 14200.0, 14200.0)),
    )


def _edge(current, time) -> Edge:
    return Edge("", current, np.where(np.isfinite(time), time, np.nan))


def sample_document(**changes: object) -> bytes:
    """The sample as PDF; `changes` replace slots of the unit."""
    report = sample_report(**changes)
    return document(report, to_json(report), (sample_sheet(),))


@cache
def plain_document() -> bytes:
    """The unchanged sample as PDF, made once."""
    return sample_document()
