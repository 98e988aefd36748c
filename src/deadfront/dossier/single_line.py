"""Dossier: the station as a single-line picture. A report comes in, an SVG with its alternate text goes out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from deadfront.dossier.numbers import format_number, typographic
from deadfront.dossier.ratings import found, ratings_of
from deadfront.dossier.sheet import TEXT, Picture, Sheet

if TYPE_CHECKING:
    from deadfront.claims.report import Report
    from deadfront.station.station import Device

# Layout in half modules (1.25 mm), the grid of the symbols; the numbers are this project's own.
_PITCH = 22.0
_INFEED_PITCH = 31.0
_WAY_PITCH = 38.0
_FIRST_INFEED = 40.0
_DETECTION = -32.0
_TANK_LEFT, _TANK_RIGHT = -7.5, 27.0
_GAP = 1.0
_BUS_OVERHANG = 6.0
_LABEL = 1.4
_DEVICE_LABEL = 3.6
_EARTH_OUT = 4.5
_LABEL_WIDTH = 23.5
_FEEDER_LABEL_WIDTH = 16.5
_PRIMARY_Y, _SECONDARY_Y, _NEUTRAL_OUT = 2.8, 7.3, 9.5
_NOTES = (
    "Drawn de-energised, with all switching devices open, for study; not an operation drawing.",
    "Fault max and min at a point: of all kinds of fault and all operating cases, by the governing method.",
)


@dataclass(frozen=True, slots=True)
class _Drawing:
    """What every part of the picture needs: the sheet, the report and the variant of the symbols."""

    sheet: Sheet
    report: Report

    @property
    def practice(self) -> str:
        return self.report.project.unit.practice

    def device(self, key: str) -> Device | None:
        station = self.report.station
        return next((device for device in station.devices if device.key == key), None)


def single_line(report: Report) -> Picture:
    """The single-line diagram of the station: the slots that the file fills, and no others.

    Symbols after IEC 60617 or, in the North American practice, IEEE 315 [M, see the table's header]. Beside each point
    its largest and smallest fault current, beside each device its tag, as in the tables, and its ratings as entered.
    """
    drawing = _Drawing(Sheet(), report)
    bottom = _medium_voltage(drawing)
    if report.project.unit.board is not None:
        _board(drawing, bottom)
    _legend(drawing)
    return drawing.sheet.picture(_alternate_text(report))


def _medium_voltage(drawing: _Drawing) -> float:
    """Supplies, cables, switch, fuses and transformer, from the top down; where the last one ends."""
    feeds = [name for name in ("A", "B") if drawing.device(f"supply {name}")]
    left = -_WAY_PITCH / 2 * (len(feeds) - 1)
    y = max([_feed(drawing, name, left + n * _WAY_PITCH) for n, name in enumerate(feeds)], default=0.0)
    half = -left + _BUS_OVERHANG if feeds else _BUS_OVERHANG
    drawing.sheet.bus(-half, half, y)
    for number in range(len(feeds)):
        drawing.sheet.dot(left + number * _WAY_PITCH, y)
    drawing.sheet.dot(0, y)
    _fault_flag(drawing, "switch bus", -half, y, below=True)
    if drawing.device("switch"):
        y = _switch(drawing, y)
    tank_top = y + 1
    if drawing.device("fuses"):
        y = _fuses(drawing, y + 1)
    if drawing.device("transformer"):
        y = _transformer(drawing, y, tank_top)
    return y


def _feed(drawing: _Drawing, name: str, x: float) -> float:
    """One supply with its cable and connector."""
    sheet = drawing.sheet
    sheet.symbol("supply", x, 0)
    _label(drawing, drawing.device(f"supply {name}"), x, 0)
    _fault_flag(drawing, f"supply point {name}", x - 2 * _GAP, 5.4, below=True)
    sheet.dot(x, 7)
    sheet.line((x, 6), (x, 8))
    sheet.symbol("cable", x, 8)
    _label(drawing, drawing.device(f"cable {name}"), x, 9.4)
    sheet.symbol("separable connector", x, 16)
    sheet.line((x, 20), (x, 21.5))
    connector = ratings_of(drawing.report.project.unit, "terminations")
    sheet.text(x + _DEVICE_LABEL, 17.2, ["separable connector", *connector], widest=_LABEL_WIDTH)
    return 21.5


def _switch(drawing: _Drawing, y: float) -> float:
    """The load-break switch; with an earthed position where the file gives one."""
    positions = getattr(drawing.report.project.unit.switch, "positions", None) or ()
    sheet, three = drawing.sheet, "earthed" in positions
    sheet.symbol(f"{'three-position switch' if three else 'load-break switch'}, {drawing.practice}", 0, y)
    if three:
        sheet.letters(((-1.6, 2.4, "C"), (0.9, 2.0, "O"), (3.0, 3.0, "E")), 0, y)
        sheet.compose("three-position switch: C closed, O open, E earthed")
    elif drawing.practice == "north-american":
        sheet.letters(((-4.6, 4.8, "LBS"),), 0, y)
    _label(drawing, drawing.device("switch"), 0, y + 0.6, dx=5.4 if three else _DEVICE_LABEL)
    return y + 8


def _fuses(drawing: _Drawing, y: float) -> float:
    """The two fuses in series, each with its own tag."""
    unit, device = drawing.report.project.unit, drawing.device("fuses")
    tags = [tag.strip() for tag in (device.tag if device else "").split(",")]
    _fault_flag(drawing, "fuse load side", -_GAP, y - 0.4)
    for tag, slot, words in zip(tags, ("bayonet", "limiter"), ("draw-out expulsion link", "current-limiting fuse"), strict=False):
        drawing.sheet.symbol("fuse", 0, y)
        lines = [f"{tag}  {words}", *ratings_of(unit, f"fuses.{slot}")]
        drawing.sheet.text(_DEVICE_LABEL, y + 1.9, lines, widest=_LABEL_WIDTH, strong=True)
        y += 6
    return y


def _transformer(drawing: _Drawing, y: float, tank_top: float) -> float:
    """Two windings with their connection, the neutral, and the outline of the tank that holds what lies in liquid."""
    sheet, transformer = drawing.sheet, drawing.report.project.unit.transformer
    sheet.dot(0, y)
    sheet.leader((_TANK_LEFT - 0.5, y), (-0.6, y))
    _fault_flag(drawing, "transformer primary terminals", _TANK_LEFT - _GAP, y)
    sheet.symbol("transformer", 0, y)
    group = transformer.connection if transformer else None
    if group:
        primary = "YN" if group.startswith("YN") else group[0]
        secondary = group.removeprefix(primary).rstrip("0123456789")
        sheet.symbol(f"winding {primary}", 0, y + _PRIMARY_Y)
        sheet.symbol(f"winding {secondary}", 0, y + _SECONDARY_Y)
    if transformer and transformer.neutral:
        _neutral(drawing, y + _SECONDARY_Y, transformer.neutral)
    _label(drawing, drawing.device("transformer"), 0, y + 0.8)
    sheet.dashed_box(_TANK_LEFT, tank_top, _TANK_RIGHT, y + 9.6, "tank, liquid-filled")
    end = y + 14.5
    sheet.line((0, y + 10), (0, end))
    sheet.dot(0, end)
    _fault_flag(drawing, "transformer secondary terminals", -_GAP, end)
    return end


def _neutral(drawing: _Drawing, y: float, state: str, x: float = 0.0) -> None:
    """The low-voltage neutral, drawn out sideways to earth or left free."""
    sheet = drawing.sheet
    sheet.line((x, y), (x - _NEUTRAL_OUT, y))
    if state == "earthed":
        sheet.symbol("earth", x - _NEUTRAL_OUT, y)
    else:
        sheet.text(x - _NEUTRAL_OUT - 0.4, y + 0.4, ["neutral isolated"], anchor="end")


def _board(drawing: _Drawing, top: float) -> None:
    """The low-voltage board: infeeds from above, feeders and motors below, arc detection with its trips."""
    station, sheet, bus = drawing.report.station, drawing.sheet, top + 11
    below = [device for device in station.devices if device.key.startswith("feeder ") or device.kind == "motors"]
    infeeds = [device for device in station.devices if device.kind in ("tie", "generator")]
    if drawing.device("main"):
        _breaker(drawing, drawing.device("main"), 0, top)
        sheet.line((0, top + 8), (0, bus))
        sheet.dot(0, bus)
    for number, device in enumerate(infeeds):
        _infeed(drawing, device, _FIRST_INFEED + number * _INFEED_PITCH, bus)
    end = _FIRST_INFEED + (len(infeeds) - 1) * _INFEED_PITCH if infeeds else _BUS_OVERHANG
    middle = (end + _DETECTION) / 2 if infeeds else 0.0
    start = middle - (len(below) - 1) * _PITCH / 2
    left, right = min([start, 0.0]) - _BUS_OVERHANG, max(start + (len(below) - 1) * _PITCH, end) + _BUS_OVERHANG
    _outgoing(drawing, below, start, bus)
    sheet.bus(left, right, bus)
    _fault_flag(drawing, "LV bus", left, bus)
    _detection(drawing, top, infeeds)


def _infeed(drawing: _Drawing, device: Device, x: float, bus: float) -> None:
    """The tie or the standby generator, coming from above through its own breaker."""
    sheet, top, unit = drawing.sheet, bus - 11, drawing.report.project.unit
    _breaker(drawing, device, x, top, label=device.kind == "tie")
    sheet.line((x, top + 8), (x, bus))
    sheet.dot(x, bus)
    slot = unit.board.tie if device.kind == "tie" and unit.board else unit.standby_generator
    if device.kind == "generator":
        sheet.symbol("generator", x, top - 6)
        sheet.letters(((-0.5, 2.0, "G"),), x, top - 6)
        _label(drawing, device, x, top - 6)
        sheet.text(x + _LABEL + 1.2, top + 2.6, ratings_of(unit, "standby_generator.device"), widest=_LABEL_WIDTH)
        if unit.standby_generator and unit.standby_generator.neutral:
            _generator_neutral(drawing, x, top - 3.5, unit.standby_generator.neutral)
    else:
        sheet.line((x, top - 4), (x, top))
        sheet.text(x, top - 5, ["neighbouring board"], anchor="middle")
    if slot is not None and slot.parallel == "never":
        sheet.text(x - _GAP, top + 7.6, ["N.O."], anchor="end", strong=True)


def _generator_neutral(drawing: _Drawing, x: float, y: float, state: str) -> None:
    drawing.sheet.line((x - 2.5, y), (x - _EARTH_OUT, y))
    if state == "earthed":
        drawing.sheet.symbol("earth", x - _EARTH_OUT, y)
    else:
        drawing.sheet.text(x - _EARTH_OUT - 0.4, y + 0.4, ["neutral isolated"], anchor="end")


def _outgoing(drawing: _Drawing, devices: list[Device], start: float, bus: float) -> None:
    """Feeders with breaker and cable, their ends in one line, and groups of motors."""
    sheet, unit = drawing.sheet, drawing.report.project.unit
    places = [(device, start + number * _PITCH) for number, device in enumerate(devices)]
    cable_top = bus + 9
    for device, x in places:
        sheet.dot(x, bus)
        sheet.line((x, bus), (x, bus + 1))
        if device.kind == "motors":
            sheet.symbol("motors", x, bus + 1)
            sheet.letters(((-0.6, 4.0, "M"),), x, bus + 1)
            sheet.text(x + _DEVICE_LABEL, bus + 3.4, _lines(drawing, device), widest=_FEEDER_LABEL_WIDTH - 2, strong=True)
        else:
            cable_top = max(cable_top, _breaker(drawing, device, x, bus + 1, widest=_FEEDER_LABEL_WIDTH) + 1)
    for device, x in places:
        if device.kind == "motors":
            continue
        cable = ratings_of(unit, f"{device.path}.cable")
        sheet.line((x, bus + 9), (x, cable_top))
        sheet.text(x + _LABEL, cable_top + 3.2, cable, widest=_FEEDER_LABEL_WIDTH)
        if cable:
            sheet.symbol("cable", x, cable_top)
        end = cable_top + (8 if cable else 0)
        sheet.symbol("load arrow", x, end)
        _fault_flag(drawing, device.to_point, x, end + 4.8, anchor="middle", named=False)


def _breaker(drawing: _Drawing, device: Device | None, x: float, y: float, *, label: bool = True, widest: float = _LABEL_WIDTH) -> float:
    """A breaker after the practice, or a fuse where the file says fuse. Returns where its label ends."""
    unit = drawing.report.project.unit
    slot = found(unit, device.path) if device else None
    if getattr(getattr(slot, "device", slot), "kind", None) == "fuse":
        drawing.sheet.symbol("fuse", x, y + 1)
        drawing.sheet.line((x, y), (x, y + 1))
        drawing.sheet.line((x, y + 7), (x, y + 8))
    else:
        drawing.sheet.symbol(f"circuit-breaker, {drawing.practice}", x, y)
    if not label:
        return y
    return drawing.sheet.text(x + _LABEL + 1.2, y + 2.6, _lines(drawing, device), widest=widest - 1.2, strong=True)


def _detection(drawing: _Drawing, top: float, infeeds: list[Device]) -> None:
    """The arc detection: sensors at the places they see, relay box, dashed trip lines to what it trips."""
    board = drawing.report.project.unit.board
    detection = board.arc_detection if board else None
    if detection is None:
        return
    sheet, x, y = drawing.sheet, _DETECTION, top - 1.4
    sheet.box(x, y, 8, 4)
    sheet.text(x + 4, y + 2.5, ["AFD"], anchor="middle", strong=True)
    for number, place in enumerate(detection.covers or ()):
        sensor = y - 3.5 - 4.0 * number
        sheet.symbol("arc light sensor", x + 1, sensor)
        sheet.text(x + 3, sensor + 0.5, [place], widest=_LABEL_WIDTH)
        sheet.dashes((x + 1, sensor + 1), (x + 1, y if number == 0 else sensor + 3))
    sheet.compose("square with two arrows: light sensor of the arc detection (AFD) at the place named; dashed: trip")
    ends = {"main": 0.0} | {device.kind: _FIRST_INFEED + n * _INFEED_PITCH for n, device in enumerate(infeeds)}
    touch = 0.6 if drawing.practice == "north-american" else 1.2
    for end in (ends[name] for name in detection.trips or () if name in ends):
        sheet.dashes((x + 8, y + 2), (end - 3.4, y + 2), (end - 3.4, top + 4.2), (end - touch, top + 4.2))
    if "upstream" in (detection.trips or ()):
        sheet.text(x, y + 5.6, ["trips the upstream device too"])


def _label(drawing: _Drawing, device: Device | None, x: float, y: float, *, dx: float = _DEVICE_LABEL) -> None:
    drawing.sheet.text(x + dx, y + 1.6, _lines(drawing, device), widest=_LABEL_WIDTH, strong=True)


def _lines(drawing: _Drawing, device: Device | None) -> list[str]:
    """Tag and name, then the ratings as entered."""
    if device is None:
        return []
    return [f"{device.tag}  {device.name}", *ratings_of(drawing.report.project.unit, device.path)]


def _fault_flag(
    drawing: _Drawing, key: str | None, x: float, y: float, *, below: bool = False, anchor: str = "end", named: bool = True
) -> None:
    """Largest and smallest fault current of the governing method at a point, beside it."""
    point = next((p for p in drawing.report.station.points if p.key == key), None)
    if point is None:
        return
    lines = [point.name] if named else []
    lines += fault_lines(drawing.report, point.name)
    shift = 1.8 if below else -0.5 - TEXT * 1.25 * (len(lines) - 1) if anchor == "end" else 0.0
    drawing.sheet.text(x, y + shift, lines, anchor=anchor, faint=True)


def fault_lines(report: Report, point: str) -> list[str]:
    """`fault max 9.80 kA` and `fault min 2.77 kA` of one point by the governing method; nothing where it was not computed."""
    rows = [row for row in report.faults if row.point == point and row.governs]
    largest = [row.current for row in rows if row.extreme == "maximum"]
    smallest = [row.current for row in rows if row.extreme == "minimum"]
    lines = [f"fault max {typographic(format_number(max(largest), 'A', 'up'))}"] if largest else []
    return lines + ([f"fault min {typographic(format_number(min(smallest), 'A', 'down'))}"] if smallest else [])


def _legend(drawing: _Drawing) -> None:
    """What no standard registers is explained on the sheet itself."""
    sheet = drawing.sheet
    sheet.compose("filled bar in half circle: separable connector, dead-front")
    sheet.legend("Symbols composed for this sheet", (*sheet.composed, *_NOTES))


def _alternate_text(report: Report) -> str:
    """The picture in words, for readers who do not see it."""
    devices = "; ".join(f"{device.tag} {device.name}" for device in report.station.devices)
    points = []
    for point in report.station.points:
        currents = ", ".join(fault_lines(report, point.name))
        points.append(f"{point.name}: {currents}" if currents else point.name)
    return f"Single-line diagram of {report.project.unit.title}. Devices: {devices}. Points: {'; '.join(points)}."
