"""Physics: where a code demands earth-fault protection of equipment, and how it is to be set. Names in, limits out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.tables import read


@dataclass(frozen=True, slots=True)
class EarthFaultDemand:
    """What a code demands of the earth-fault protection of a low-voltage main.

    largest_pickup  A, largest setting
    longest_time    s, longest time at `at_current` and above
    at_current      A
    tag             how the numbers were verified
    """

    largest_pickup: float
    longest_time: float
    at_current: float
    tag: str


def earth_fault_demand(code: str, line_voltage: float, rating: float) -> EarthFaultDemand | None:
    """What a code demands of a main behind a solidly earthed neutral.

    code          "NFPA 70" or "CSA C22.1"; structural
    line_voltage  V between lines, nominal; structural
    rating        A, largest rating or setting of the main; structural
    returns       the demand; None where the code makes none at this voltage and rating
    holds         solidly earthed star. Beware: NFPA 70 exempts fire pumps and processes that an abrupt stop endangers
    raises        ValueError: another code
    source        NFPA 70 230.95 [V2], CSA C22.1 14-102 [M]
    """
    rows = read("earth-fault-protection").rows
    codes = sorted({row["code"] for row in rows})
    if code not in codes:
        raise ValueError(f"code: expected one of {', '.join(codes)}, got {code!r}")
    to_earth = line_voltage / float(np.sqrt(3.0))
    for row in rows:
        within = float(row["above_to_earth_v"]) < to_earth <= float(row["up_to_to_earth_v"] or np.inf)
        within = within and line_voltage <= float(row["up_to_between_lines_v"] or np.inf)
        if row["code"] == code and within and rating >= float(row["from_rating_a"]):
            pickup, time, current = (float(row[name]) for name in ("largest_pickup_a", "longest_s", "at_current_a"))
            return EarthFaultDemand(pickup, time, current, row["tag"])
    return None
