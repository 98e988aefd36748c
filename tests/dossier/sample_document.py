"""The sample report as a document: its result, its curves, its bytes."""

from __future__ import annotations

import hashlib
from functools import cache
from types import SimpleNamespace as Row
from typing import Any

import numpy as np
from sample_report import SampleReport, sample_report

from deadfront.dossier.document import Characteristics, document


def sample_result(report: SampleReport) -> dict[str, Any]:
    """A result of the promised form for the sample's claims."""
    claims = [
        {"id": c.id, "sentence": c.sentence, "verdict": c.verdict, "value": c.value, "limit": c.limit, "unit": c.unit, "margin": c.margin,
         "coverage": c.coverage, "worst_case": None if c.worst_case is None else {"words": c.worst_case.words, "inputs": dict(c.worst_case.inputs)}}
        for c in report.claims
    ]
    digest = hashlib.sha256(report.project.source).hexdigest()
    return {"deadfront": 1, "version": report.version, "title": report.project.unit.title, "input_sha256": digest, "claims": claims}


def sample_characteristics() -> Characteristics:
    """Three devices and three currents, invented."""
    current = np.geomspace(1000.0, 60000.0, 200)
    relay = np.where(current > 20000.0, 0.13, np.where(current > 2500.0, 5.4 / np.maximum(current / 2400.0 - 1.0, 1e-3), np.inf))
    fuse = np.where(current > 5000.0, 4e10 / current**2.6, np.inf)
    breaker = np.where(current > 24000.0, 0.05, np.where(current > 8000.0, 0.3, 1.2 * (12000.0 / current) ** 2))
    ratio = "24.94 kV / 480 V = 51.96"
    curves = (
        Row(name="Upstream relay and breaker", tag="G1", current=current, earliest=None, latest=relay, reference_ratio=ratio),
        Row(name="MV fuses in series", tag="F1, F2", current=current, earliest=fuse * 0.7, latest=fuse, reference_ratio=ratio),
        Row(name="LV main breaker", tag="Q2", current=current, earliest=breaker * 0.8, latest=breaker, reference_ratio="1"),
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
    return document(report, sample_result(report), sample_characteristics())


@cache
def plain_document() -> bytes:
    """The unchanged sample as PDF, made once."""
    return sample_document()
