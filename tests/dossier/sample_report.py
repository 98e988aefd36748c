"""A hand-made report of an invented unit: every slot filled, one claim refuted, one open, one not applicable."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from deadfront.claims.model import Assumption, Claim, Detail, MissingEntry, Rule, Step, WorstCase
from deadfront.claims.report import Report
from deadfront.project.model import Unit
from deadfront.project.project import Project
from deadfront.project.quantities import Quantity
from deadfront.station.station import build
from deadfront.study.tables import ArcPlace, ArcRow, FaultRow

SI = {
    "kA": 1e3,
    "A": 1,
    "kV": 1e3,
    "V": 1,
    "kVA": 1e3,
    "m": 1,
    "mm": 1e-3,
    "ms": 1e-3,
    "s": 1,
    "%": 0.01,
    "L": 1e-3,
    "": 1,
}
SI |= {"Hz": 1, "kW": 1e3, "mm2": 1e-6, "degC": 1, "cal/cm2": 4.184e4}


def q(text: str) -> Quantity:
    """A quantity as the file would give it: a point or a range."""
    numbers = [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text.removesuffix("mm2").removesuffix("cm2"))]
    unit = re.search(r"[A-Za-z%][\w%/]*$", text)
    bounds = [number * SI[unit.group() if unit else ""] for number in (numbers[0], numbers[-1])]
    return Quantity(bounds[0], sum(bounds) / 2, bounds[1], text, "as given")


def breaker(rating: str, **more: object) -> dict[str, object]:
    """A low-voltage breaker."""
    return {"kind": "power circuit breaker", "rating": q(rating), "interrupting": q("50 kA"), **more}


def sample_unit(**changes: object) -> Unit:
    """The unit at Gannet Quay, an invented place; `changes` replace whole slots."""
    cable = {"length": q("180 m"), "conductor": "aluminium", "conductor_area": q("95 mm2"), "insulation": "xlpe"}
    feeder_cable = {"length": q("40 m"), "conductor": "copper", "conductor_area": q("120 mm2")}
    slots: dict[str, object] = {
        "deadfront": 1,
        "title": "Gannet Quay cold store",
        "practice": "north-american",
        "issued": "2026-03-02",
        "prepared_by": "application engineer",
        "data": "demonstration",
        "frequency": q("60 Hz"),
        "supply": {
            "voltage": q("24.94 kV"),
            "fault_current": q("3.2 .. 9.8 kA"),
            "x_over_r": q("6 .. 14"),
            "earthing": "solid",
        },
        "other_feed": {"fault_current": q("2.9 .. 6.1 kA"), "x_over_r": q("8"), "cable": cable, "parallel": "never"},
        "terminations": {"interface": "200 A load-break", "voltage_class": q("25 kV")},
        "mv_cable": cable,
        "switch": {
            "ways": "loop",
            "voltage": q("27 kV"),
            "continuous": q("200 A"),
            "short_time": {"current": q("12 kA"), "duration": q("1 s")},
        },
        "fuses": {
            "bayonet": {"rating": q("65 A"), "interrupting": q("2.5 kA")},
            "limiter": {"rating": q("100 A"), "interrupting": q("50 kA")},
        },
        "transformer": {
            "rating": q("1500 kVA"),
            "primary_voltage": q("24.94 kV"),
            "secondary_voltage": q("480 V"),
            "connection": "Dyn1",
            "impedance": q("5.75 %"),
            "neutral": "earthed",
            "liquid": "natural ester",
            "volume": q("1450 L"),
        },
        "board": {
            "voltage": q("480 V"),
            "bus": {"short_time": {"current": q("50 kA"), "duration": q("1 s")}},
            "main": breaker("2000 A"),
            "feeders": {
                "compressors": breaker("800 A", cable=feeder_cable),
                "blast freezers": breaker("600 A", cable=feeder_cable),
                "shore power and quay lighting": breaker("400 A", cable=feeder_cable),
            },
            "tie": {"fault_current": q("18 kA"), "parallel": "never", "device": breaker("1600 A")},
            "arc_detection": {
                "covers": ["main section", "feeder section"],
                "trips": ["main", "tie", "generator"],
                "reaction": q("2 ms"),
            },
        },
        "standby_generator": {
            "rating": q("625 kVA"),
            "voltage": q("480 V"),
            "subtransient_reactance": q("12 %"),
            "neutral": "earthed",
            "parallel": "never",
            "device": breaker("800 A"),
        },
        "motors": {"groups": {"compressors": {"power": q("450 kW")}, "fans": {"power": q("90 kW")}}},
        "site": {"place": "Gannet Quay", "placing": "outdoor pad"},
        "operation": {
            "places": {
                "main section": {
                    "at": "line side of main",
                    "working_distance": q("610 mm"),
                    "clothing": q("40 cal/cm2"),
                },
                "feeder section": {"at": "bus", "working_distance": q("610 mm"), "clothing": q("8 cal/cm2")},
            }
        },
    }
    return Unit.model_validate({k: v for k, v in (slots | changes).items() if v is not None})


def assumption(key: str, text: str, owner: str | None) -> Assumption:
    """An assumption with how to confirm it."""
    return Assumption(key, text, "IEC 60909-0:2016 clause 3.8", "V2", "read the nameplate on site", owner)


WARM = assumption("motor.x-over-r", "Motor groups on the low-voltage bus have R/X of 0.42.", "maintenance planner")
COLD = assumption(
    "conductor-temperature", "Conductors stand at 20 degC in the largest fault and at 90 degC in the smallest.", None
)

STEPS = (
    Step(
        "Iarc",
        "arcing current at 480 V",
        "f(Ibf, G, V)",
        "f(28.4 kA, 32 mm, 480 V)",
        "21.9 kA",
        "IEEE 1584-2018 eq. (1), (25)",
        "V2",
    ),
    Step(
        "t",
        "clearing time of the MV fuses at the arcing current seen at 24.94 kV",
        "total clearing curve at Iarc · 480/24940",
        "curve at 421 A",
        "1.84 s",
        "curves/bayonet-65.csv",
        "D",
    ),
    Step(
        "E",
        "incident energy at the working distance",
        "f(Iarc, t, G, D, CF)",
        "f(21.9 kA, 1.84 s, 32 mm, 610 mm, 1.284)",
        "63.2 cal/cm2",
        "IEEE 1584-2018 eq. (3) to (6)",
        "V2",
    ),
)


def sample_claims() -> tuple[Claim, ...]:
    """Four claims, one per verdict."""
    worst = WorstCase(
        "utility at 3.2 kA, fed by way A, generator off, motors off, conductors hot, reduced arcing current",
        {"supply.fault_current": 3200.0, "supply.x_over_r": 6.0},
        {"supply.fault_current": "3.2 kA", "supply.x_over_r": "6"},
    )
    fuses = Rule("the interrupting rating covers the largest fault at its X/R", "IEEE C37.42-family", "M")
    energy = Rule(
        "the energy stays below the arc rating of the clothing worn", "IEEE 1584-2018 with NFPA 70E 130.5(G)", "V2"
    )
    return (
        Claim(
            "SC-03",
            "faults",
            "The MV fuses interrupt the largest fault at their terminals.",
            "shown",
            "",
            9613.2,
            50000.0,
            "A",
            0.8077,
            0.8077,
            "sampled, 4096 points",
            replace(worst, words="utility at 9.8 kA, fed by way A, conductors cold"),
            fuses,
            STEPS[:1],
            (WARM, COLD),
            (),
            (
                Detail("bayonet", 2400.0, 2500.0, "A", 0.04, "utility at 9.8 kA"),
                Detail("limiter", 9613.2, 50000.0, "A", 0.8077, "utility at 9.8 kA"),
            ),
        ),
        Claim(
            "SC-07",
            "faults",
            "The MV cable conductor and screen survive the worst fault until it is cleared.",
            "open",
            "The file does not give the cross-section of the screen.",
            None,
            None,
            "A2s",
            None,
            None,
            "sampled, 4096 points",
            None,
            Rule("let-through energy below the adiabatic limit of conductor and screen", "ICEA P-45-482", "M"),
            (),
            (COLD,),
            (
                MissingEntry(
                    "mv_cable.screen_area", "effective cross-section of the cable's screen", "screen_area: 16 mm2"
                ),
            ),
            (),
        ),
        Claim(
            "SC-09",
            "faults",
            "The unit still holds with both supplies in parallel.",
            "not applicable",
            "No second supply may run in parallel in this unit.",
            None,
            None,
            "1",
            None,
            None,
            "exact",
            None,
            Rule("all ratings hold in each parallel state the file permits", "common practice", "C"),
            (),
            (),
            (),
            (),
        ),
        Claim(
            "AE-02",
            "arc",
            "On the line side of the LV main, where only the MV fuses clear, the incident energy at 610 mm "
            "stays below the 40 cal/cm2 of the clothing worn there.",
            "refuted",
            "The bayonet fuse needs 1.84 s at the smallest supply.",
            63.14 * 4.184e4,
            40 * 4.184e4,
            "J/m2",
            -0.5785,
            -0.5785,
            "sampled, 4096 points",
            worst,
            energy,
            STEPS,
            (WARM,),
            (),
            (),
        ),
        Claim(
            "AE-01",
            "arc",
            "The incident energy at the working distance of each place stays below the arc rating "
            "of the clothing worn there.",
            "shown",
            "",
            6.31 * 4.184e4,
            8 * 4.184e4,
            "J/m2",
            0.21125,
            0.21125,
            "sampled, 4096 points",
            worst,
            energy,
            STEPS,
            (WARM,),
            (),
            (),
        ),
    )


def fault(point: str, kind: str, extreme: str, method: str, governs: bool, current: float, **more: object) -> FaultRow:
    """One row of the table of faults."""
    row = {"point": point, "kind": kind, "extreme": extreme, "method": method, "governs": governs, "current": current}
    row |= {"earth_current": 0.0, "peak": current * 2.4 if extreme == "maximum" else math.nan, "breaking": None}
    row |= {"thermal": current * 1.02 if method.startswith("IEC") else None, "x_over_r": 8.123}
    row |= {
        "clearing_device": "F1, F2",
        "clearing_time": 0.0312,
        "time_parts": (("pre-arcing", 0.02), ("arcing", 0.0112)),
    }
    return FaultRow(**(row | {"primary_lines": None, "case": "maximum rule, conductors cold, generator off"} | more))


def sample_faults() -> tuple[FaultRow, ...]:
    """Faults at three points, both methods, both extremes."""
    rows = []
    points = (
        ("Supply point", 9800.0, 3200.0),
        ("MV switch bus", 9613.2, 3105.0),
        ("Transformer primary terminals", 9613.2, 3105.0),
    )
    points += ("LV bus", 33_377.7, 24_010.0), ("End of feeder compressors", 21_300.0, 9_020.0)
    for name, high, low in points:
        for method, governs in (("IEC 60909-0:2016", False), ("North American per unit", True)):
            factor = 1.0 if governs else 1.04
            rows.append(fault(name, "three-phase", "maximum", method, governs, high * factor))
            rows.append(fault(name, "line-earth", "maximum", method, governs, high * factor * 0.97))
            rows.append(fault(name, "line-line", "minimum", method, governs, low * factor * 0.866, clearing_time=1.234))
            if not governs:
                rows.append(
                    fault(
                        name,
                        "line-line-earth",
                        "maximum",
                        method,
                        governs,
                        high,
                        clearing_device=None,
                        clearing_time=math.inf,
                        time_parts=(),
                    )
                )
    return tuple(rows)


def arc(case: str, state: str, electrodes: str, kind: str, energy: float, boundary: float, time: float) -> ArcRow:
    """One row of the table of arcs."""
    return ArcRow(
        case=case,
        state=state,
        electrodes=electrodes,
        current_kind=kind,
        bolted_current=28_400.0,
        arcing_current=21_900.0,
        clearing_device="F1, F2" if time > 0.1 else "Q2, tripped by the arc detection",
        clearing_time=time,
        exposure_time=min(time, 2.0),
        energy=energy * 4.184e4,
        boundary=boundary,
    )


def sample_arcs() -> tuple[ArcPlace, ...]:
    """Two places with results and one that is refused."""
    slow = arc(
        "minimum rule, conductors hot, generator off", "detection in service", "VCB", "reduced", 63.14, 6.11, 1.84
    )
    wide = arc("minimum rule, conductors hot, generator off", "detection in service", "HCB", "normal", 61.9, 6.32, 1.79)
    fast = arc(
        "maximum rule, conductors cold, generator off", "detection in service", "VCBB", "normal", 2.04, 0.77, 0.052
    )
    off = arc(
        "minimum rule, conductors hot, generator off", "detection out of service", "VCBB", "reduced", 9.87, 1.93, 0.42
    )
    refusal = "The system voltage is 24.94 kV; the model of IEEE 1584-2018 ends at 15 kV."
    return (
        ArcPlace(
            place="main section",
            at="line side of main",
            refused=None,
            governing=slow,
            largest_boundary=wide,
            rows=(slow, wide),
        ),
        ArcPlace(place="feeder section", at="bus", refused=None, governing=off, largest_boundary=off, rows=(fast, off)),
        ArcPlace(
            place="switch compartment", at="switch", refused=refusal, governing=None, largest_boundary=None, rows=()
        ),
    )


def sample_report(**changes: object) -> Report:
    """The whole report; `changes` replace slots of the unit."""
    unit = sample_unit(**changes)
    yaml = f"deadfront: 1\ntitle: {unit.title!r}\npractice: {unit.practice}\n".encode()
    curve = b"# invented data\ncurrent_a,min_melt_s,total_clear_s\n130,300,400\n421,1.5,1.84\n2500,0.02,0.03\n"
    project = Project(
        unit, "gannet-quay.yaml", yaml, {"curves/bayonet-65.csv": curve}, {}, {}, {}, {}, unit.data == "demonstration"
    )
    return Report(project, build(unit), None, sample_claims(), sample_faults(), sample_arcs(), (WARM, COLD), "0.1.0")
