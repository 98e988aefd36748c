"""Dossier: the station as a single-line picture. A report comes in, an SVG with its alternate text goes out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from deadfront.claims.numbers import format_number, typographic
from deadfront.dossier.ratings import found, ratings_of
from deadfront.dossier.sheet import LEADING, TEXT, Hand, Picture, Sheet

if TYPE_CHECKING:
    from deadfront.claims.report import Report
    from deadfront.project.model import Transformer
    from deadfront.station.station import Device

# Layout in half modules (1.25 mm), the grid of the symbols; the numbers are this project's own.
_PITCH = 25.0
_INFEED_PITCH = 35.0
_WAY_PITCH = 42.0
_FIRST_INFEED = 46.0
_DETECTION = -50.0
_TANK_LEFT, _TANK_RIGHT = -7.5, 31.0
_GAP = 1.0
_BUS_OVERHANG = 6.0
_LABEL = 1.4
_DEVICE_LABEL = 3.6
_EARTH_OUT = 4.5
_LABEL_WIDTH = 28.0
_FEEDER_LABEL_WIDTH = 19.5
_LEGEND_WIDTH = 36.0
_BUS_DROP = 10.0
"""From the terminals above a breaker to the bus under it."""
_OVER_BUS = 0.25
"""How much higher lettering stands over a bus bar than over a line."""
_MARGIN = 0.5
"""The page has margins of its own; the drawing needs the room."""
_PRIMARY_Y, _SECONDARY_Y, _NEUTRAL_OUT = 2.8, 7.3, 9.5
_NOT_GIVEN = "not in the file"
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

    def given(self, device: Device) -> bool:
        """Whether the file says anything of this device."""
        return found(self.report.project.unit, device.path) is not None


def single_line(report: Report) -> Picture:
    """The single-line diagram of the station.

    A device of which the file says nothing is a dashed box with its name: no symbol is invented for it.

    Symbols after IEC 60617 or, in the North American practice, IEEE 315 [M, see the table's header]. Beside each point
    its largest and smallest fault current, beside each device its tag, as in the tables, and its ratings as entered.
    """
    drawing = _Drawing(Sheet(), report)
    _board(drawing, _medium_voltage(drawing))
    return drawing.sheet.picture(_alternate_text(report), _MARGIN)


def _medium_voltage(drawing: _Drawing) -> float:
    """Supplies, cables, switch, fuses and transformer, from the top down; where the last one ends."""
    feeds = [name for name in ("A", "B") if drawing.report.station.has(f"supply {name}")]
    left = -_WAY_PITCH / 2 * (len(feeds) - 1)
    ways = [(name, left + n * _WAY_PITCH) for n, name in enumerate(feeds)]
    y = max([_feed(drawing, name, x) for name, x in ways], default=0.0)
    half = -left + _BUS_OVERHANG if feeds else _BUS_OVERHANG
    for name, x in ways:
        drawing.sheet.line((x, _connector_end(drawing, name)), (x, y))
        drawing.sheet.dot(x, y)
    drawing.sheet.bus(-half, half, y)
    drawing.sheet.dot(0, y)
    _fault_flag(drawing, "switch bus", -half, y - _OVER_BUS)
    y = _switch(drawing, drawing.report.station.device("switch"), y)
    tank_top = y + 1
    y = _fuses(drawing, drawing.report.station.device("fuses"), y + 1)
    y = _transformer(drawing, drawing.report.station.device("transformer"), y, tank_top)
    _legend(drawing, half + _LABEL_WIDTH + 4)
    return y


def _cable_top(drawing: _Drawing, name: str) -> float:
    """Where a feed's cable begins: under its supply's label."""
    lines = len(_lines(drawing, drawing.report.station.device(f"supply {name}")))
    return max(8.0, lines * TEXT * LEADING)


def _connector_end(drawing: _Drawing, name: str) -> float:
    return _cable_top(drawing, name) + 12.0


def _absent(drawing: _Drawing, device: Device, x: float, y: float, height: float) -> float:
    """The place of a device of which the file says nothing. Returns where it ends."""
    sheet, lead = drawing.sheet, 1.0
    sheet.line((x, y), (x, y + lead))
    sheet.dashes(
        *((x + dx, y + dy) for dx, dy in ((-2, lead), (2, lead), (2, height - lead), (-2, height - lead), (-2, lead)))
    )
    sheet.line((x, y + height - lead), (x, y + height))
    label = Hand(widest=_LABEL_WIDTH, strong=True)
    sheet.text(x + _DEVICE_LABEL, y + 2.6, [f"{device.tag}  {device.name}", _NOT_GIVEN], label)
    return y + height


def _feed(drawing: _Drawing, name: str, x: float) -> float:
    """One supply with its cable and connector; where the next thing below may stand."""
    sheet, top, station = drawing.sheet, _cable_top(drawing, name), drawing.report.station
    supply, cable = station.device(f"supply {name}"), station.device(f"cable {name}")
    if drawing.given(supply):
        sheet.symbol("supply", x, 0)
        _label(drawing, supply, x, 0)
    else:
        _absent(drawing, supply, x, 0, 6)
    _fault_flag(drawing, f"supply point {name}", x - 2 * _GAP, 5.6, below=True)
    sheet.line((x, 6), (x, top))
    sheet.dot(x, 7)
    end = top + 3
    if drawing.given(cable):
        sheet.symbol("cable", x, top)
        end = _label(drawing, cable, x, top + 1)
    else:
        _absent(drawing, cable, x, top, 8)
    connector = ratings_of(drawing.report.project.unit, "terminations")
    if not connector:
        sheet.line((x, top + 8), (x, top + 12))
        return max(end + 2, top + 13)
    sheet.symbol("separable connector", x, top + 8)
    sheet.compose("filled bar in half circle: separable connector, dead-front")
    label = max(end + TEXT * LEADING + 0.6, top + 9.6)
    return sheet.text(x + _DEVICE_LABEL, label, ["separable connector", *connector], Hand(widest=_LABEL_WIDTH)) + 1.4


def _switch(drawing: _Drawing, device: Device, y: float) -> float:
    """The load-break switch; with an earthed position where the file gives one."""
    positions = getattr(drawing.report.project.unit.switch, "positions", None) or ()
    sheet, three = drawing.sheet, "earthed" in positions
    if drawing.given(device):
        sheet.symbol(f"{'three-position switch' if three else 'load-break switch'}, {drawing.practice}", 0, y)
        _label(drawing, device, 0, y + 0.6, dx=5.8 if three else _DEVICE_LABEL)
    else:
        _absent(drawing, device, 0, y, 8)
    if three:
        sheet.letters(((-1.8, 2.4, "C"), (0.9, 2.0, "O"), (3.0, 3.0, "E")), 0, y)
        sheet.compose("three-position switch: C closed, O open, E earthed")
    elif drawing.practice == "north-american" and drawing.given(device):
        sheet.letters(((-5.4, 3.4, "LBS"),), 0, y)
    sheet.line((0, y + 8), (0, y + 11))
    sheet.dot(0, y + 10)
    _fault_flag(drawing, "fuse line side", -_GAP, y + 10.4)
    return y + 10


def _fuses(drawing: _Drawing, device: Device, y: float) -> float:
    """The two fuses in series, each with its own tag."""
    unit = drawing.report.project.unit
    if not drawing.given(device):
        return _absent(drawing, device, 0, y, 12)
    tags = [tag.strip() for tag in device.tag.split(",")]
    kinds = ("draw-out expulsion link", "current-limiting fuse")
    for tag, slot, words in zip(tags, ("bayonet", "limiter"), kinds, strict=False):
        if found(unit, f"fuses.{slot}") is None:
            drawing.sheet.line((0, y), (0, y + 6))
        else:
            drawing.sheet.symbol("fuse", 0, y)
            lines = [f"{tag}  {words}", *ratings_of(unit, f"fuses.{slot}")]
            drawing.sheet.text(_DEVICE_LABEL, y + 2.0, lines, Hand(widest=_LABEL_WIDTH, strong=True))
        y += 6
    return y


def _transformer(drawing: _Drawing, device: Device, y: float, tank_top: float) -> float:
    """Two windings with their connection, the neutral, and the outline of the tank that holds what lies in liquid."""
    sheet, transformer = drawing.sheet, drawing.report.project.unit.transformer
    sheet.dot(0, y)
    sheet.leader((_TANK_LEFT - 0.5, y), (-0.6, y))
    _fault_flag(drawing, "transformer primary terminals", _TANK_LEFT - _GAP, y)
    if transformer is None:
        _absent(drawing, device, 0, y, 10)
    else:
        sheet.symbol("transformer", 0, y)
        _windings(drawing, transformer, y)
        _label(drawing, device, 0, y + 0.2)
    sheet.dashed_box(_TANK_LEFT, tank_top, _TANK_RIGHT, y + 10.4, "tank, liquid-filled")
    end = y + 16
    sheet.line((0, y + 10), (0, end))
    sheet.dot(0, end)
    _fault_flag(drawing, "transformer secondary terminals", -_GAP, end)
    return end


def _windings(drawing: _Drawing, transformer: Transformer, y: float) -> None:
    """Delta, star or zigzag in each circle, and the neutral of the low-voltage winding; what the file gives of them."""
    group = transformer.connection
    if group:
        primary = "YN" if group.startswith("YN") else group[0]
        secondary = group.removeprefix(primary).rstrip("0123456789")
        drawing.sheet.symbol(f"winding {primary}", 0, y + _PRIMARY_Y)
        drawing.sheet.symbol(f"winding {'D' if secondary == 'd' else secondary}", 0, y + _SECONDARY_Y)
    if transformer.neutral and not (group and group.startswith("Dd")):  # a delta has no neutral to draw
        _neutral(drawing, (0, y + _SECONDARY_Y), -_NEUTRAL_OUT, transformer.neutral)


def _neutral(drawing: _Drawing, start: tuple[float, float], end: float, state: str) -> None:
    """A neutral, drawn out sideways to earth or left free."""
    sheet, y = drawing.sheet, start[1]
    sheet.line(start, (end, y))
    if state == "earthed":
        sheet.symbol("earth", end, y)
    else:
        sheet.text(end - 0.4, y + 0.4, ["neutral isolated"], Hand(anchor="end"))


def _board(drawing: _Drawing, top: float) -> None:
    """The low-voltage board: infeeds from above, feeders and motors below, arc detection with its trips."""
    station, sheet, bus = drawing.report.station, drawing.sheet, top + _BUS_DROP
    below = [device for device in station.devices if device.key.startswith("feeder ") or device.kind == "motors"]
    infeeds = [device for device in station.devices if device.kind in ("tie", "generator")]
    main = station.device("main")
    if drawing.given(main):
        _breaker(drawing, main, 0, top)
    else:
        _absent(drawing, main, 0, top, 8)
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
    _fault_flag(drawing, "LV bus", left, bus - _OVER_BUS)
    _detection(drawing, top, infeeds)


def _infeed(drawing: _Drawing, device: Device, x: float, bus: float) -> None:
    """The tie or the standby generator, coming from above through its own breaker."""
    sheet, top, unit = drawing.sheet, bus - _BUS_DROP, drawing.report.project.unit
    _breaker(drawing, device, x, top, widest=_LABEL_WIDTH if device.kind == "tie" else None)
    sheet.line((x, top + 8), (x, bus))
    sheet.dot(x, bus)
    slot = unit.board.tie if device.kind == "tie" and unit.board else unit.standby_generator
    if device.kind == "generator":
        sheet.symbol("generator", x, top - 6)
        sheet.letters(((-0.55, 2.0, "G"),), x, top - 6)
        _label(drawing, device, x, top - 6)
        sheet.text(x + _LABEL + 1.2, top + 2.6, ratings_of(unit, "standby_generator.device"), Hand(widest=_LABEL_WIDTH))
        if unit.standby_generator and unit.standby_generator.neutral:
            _neutral(drawing, (x - 2.5, top - 3.5), x - _EARTH_OUT, unit.standby_generator.neutral)
    else:
        sheet.line((x, top - 4), (x, top))
        sheet.text(x, top - 5, ["neighbouring board"], Hand(anchor="middle"))
    if slot is not None and slot.parallel == "never":
        sheet.text(x - _GAP, top + 7.6, ["N.O."], Hand(anchor="end", strong=True))


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
            sheet.text(
                x + _DEVICE_LABEL, bus + 3.4, _lines(drawing, device), Hand(widest=_FEEDER_LABEL_WIDTH - 2, strong=True)
            )
        else:
            cable_top = max(cable_top, _breaker(drawing, device, x, bus + 1, widest=_FEEDER_LABEL_WIDTH) + 1)
    for device, x in places:
        if device.kind == "motors":
            continue
        cable = ratings_of(unit, f"{device.path}.cable")
        sheet.line((x, bus + 9), (x, cable_top))
        sheet.text(x + _LABEL, cable_top + 3.4, cable, Hand(widest=_FEEDER_LABEL_WIDTH))
        if cable:
            sheet.symbol("cable", x, cable_top)
        end = cable_top + (8 if cable else 0)
        sheet.symbol("load arrow", x, end)
        point = drawing.report.station.point(device.to_point).name if device.to_point else ""
        sheet.text(x, end + 4.8, fault_lines(drawing.report, point), Hand(anchor="middle", faint=True))


def _breaker(drawing: _Drawing, device: Device, x: float, y: float, *, widest: float | None = _LABEL_WIDTH) -> float:
    """A breaker after the practice, or a fuse where the file says fuse. Returns where the label ends."""
    unit = drawing.report.project.unit
    slot = found(unit, device.path)
    if getattr(getattr(slot, "device", slot), "kind", None) == "fuse":
        drawing.sheet.symbol("fuse", x, y + 1)
        drawing.sheet.line((x, y), (x, y + 1))
        drawing.sheet.line((x, y + 7), (x, y + 8))
    else:
        drawing.sheet.symbol(f"circuit-breaker, {drawing.practice}", x, y)
    if widest is None:
        return y
    label = Hand(widest=widest - 1.2, strong=True)
    return drawing.sheet.text(x + _LABEL + 1.2, y + 2.6, _lines(drawing, device), label)


def _detection(drawing: _Drawing, top: float, infeeds: list[Device]) -> None:
    """The arc detection: sensors at the places they see, relay box, dashed trip lines to what it trips."""
    board = drawing.report.project.unit.board
    detection = board.arc_detection if board else None
    if detection is None:
        return
    sheet, x, y = drawing.sheet, _DETECTION, top - 1.4
    sheet.box(x, y, 8, 4)
    sheet.text(x + 4, y + 2.5, ["AFD"], Hand(anchor="middle", strong=True))
    for number, place in enumerate(detection.covers or ()):
        sensor = y - 3.5 - 4.0 * number
        sheet.symbol("arc light sensor", x + 1, sensor)
        sheet.text(x + 3, sensor + 0.5, [place], Hand(widest=_LABEL_WIDTH))
        sheet.dashes((x + 1, sensor + 1), (x + 1, y if number == 0 else sensor + 3))
    ends = {"main": 0.0} | {device.kind: _FIRST_INFEED + n * _INFEED_PITCH for n, device in enumerate(infeeds)}
    touch = 0.6 if drawing.practice == "north-american" else 1.2
    for end in (ends[name] for name in detection.trips or () if name in ends):
        sheet.dashes((x + 8, y + 2), (end - 3.4, y + 2), (end - 3.4, top + 4.2), (end - touch, top + 4.2))
    if "upstream" in (detection.trips or ()):
        sheet.text(x, y + 5.3, ["trips the upstream device too"])


def _label(drawing: _Drawing, device: Device, x: float, y: float, *, dx: float = _DEVICE_LABEL) -> float:
    return drawing.sheet.text(x + dx, y + 1.6, _lines(drawing, device), Hand(widest=_LABEL_WIDTH, strong=True))


def _lines(drawing: _Drawing, device: Device) -> list[str]:
    """Tag and name, then the ratings as entered."""
    return [f"{device.tag}  {device.name}", *ratings_of(drawing.report.project.unit, device.path)]


def _fault_flag(drawing: _Drawing, key: str, x: float, y: float, *, below: bool = False) -> None:
    """Name, largest and smallest fault current of a point, to its left: upwards from its height, or downwards."""
    point = next((p for p in drawing.report.station.points if p.key == key), None)
    if point is None:
        return
    lines = [point.name, *fault_lines(drawing.report, point.name)]
    shift = 1.8 if below else -0.5 - TEXT * LEADING * (len(lines) - 1)
    drawing.sheet.text(x, y + shift, lines, Hand(anchor="end", faint=True))


def fault_lines(report: Report, point: str) -> list[str]:
    """`fault max 9.80 kA`, `fault min 2.77 kA` at a point by the governing method."""
    rows = [row for row in report.faults if row.point == point and row.governs]
    largest = [row.current for row in rows if row.extreme == "maximum"]
    smallest = [row.current for row in rows if row.extreme == "minimum"]
    lines = [f"fault max {typographic(format_number(max(largest), 'A', 'up'))}"] if largest else []
    return lines + ([f"fault min {typographic(format_number(min(smallest), 'A', 'down'))}"] if smallest else [])


def _legend(drawing: _Drawing, x: float) -> None:
    """What no standard registers is explained on the sheet itself, at the upper right."""
    board = drawing.report.project.unit.board
    if board and board.arc_detection:
        drawing.sheet.compose(
            "square with two arrows: light sensor of the arc detection (AFD) at the place named; dashed: trip"
        )
    drawing.sheet.legend(x, "Composed symbols, and notes", (*drawing.sheet.composed, *_NOTES), _LEGEND_WIDTH)


def _alternate_text(report: Report) -> str:
    """The picture in words, for readers who do not see it."""
    devices = "; ".join(f"{device.tag} {device.name}" for device in report.station.devices)
    points = []
    for point in report.station.points:
        currents = ", ".join(fault_lines(report, point.name))
        points.append(f"{point.name}: {currents}" if currents else point.name)
    return f"Single-line diagram of {report.project.unit.title}. Devices: {devices}. Points: {'; '.join(points)}."
