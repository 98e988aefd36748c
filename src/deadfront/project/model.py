"""Project: the slots of the file and what may stand in each; plain mappings come in, frozen models go out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from deadfront.project.quantities import Measured, Quantity

# --- kinds of number: dimension, an example that works, and the span outside which a value is a slip of the pen ---

SupplyVoltage = Annotated[Quantity, Measured("voltage", "24.94 kV", 1e3, 52e3)]
LowVoltage = Annotated[Quantity, Measured("voltage", "480 V", 100.0, 1000.0)]
MachineVoltage = Annotated[Quantity, Measured("voltage", "480 V", 100.0, 52e3)]
RatedVoltage = Annotated[Quantity, Measured("voltage", "25 kV", 100.0, 72.5e3)]
FaultCurrent = Annotated[Quantity, Measured("current", "9.8 kA", 1.0, 300e3)]
SmallCurrent = Annotated[Quantity, Measured("current", "12 A", 0.0, 100e3)]
DeviceCurrent = Annotated[Quantity, Measured("current", "400 A", 0.1, 300e3)]
PeakCurrent = Annotated[Quantity, Measured("current", "32.5 kA", 1.0, 800e3)]
FaultPower = Annotated[Quantity, Measured("apparent power", "420 MVA", 1e5, 2e10)]
Rating = Annotated[Quantity, Measured("apparent power", "1500 kVA", 1e3, 2e7)]
ActivePower = Annotated[Quantity, Measured("power", "14.2 kW", 1.0, 2e7)]
Share = Annotated[Quantity, Measured("share", "5.75 %", 0.0, 1.0)]
SmallShare = Annotated[Quantity, Measured("share", "5.75 %", 0.001, 0.5)]
Ratio = Annotated[Quantity, Measured("number", "8", 0.0, 1000.0)]
PositiveRatio = Annotated[Quantity, Measured("number", "8", 0.01, 1000.0)]
ShortTime = Annotated[Quantity, Measured("time", "83 ms", 0.0, 60.0)]
Duration = Annotated[Quantity, Measured("time", "1 s", 1e-3, 3600.0)]
LongTime = Annotated[Quantity, Measured("time", "12 s", 1e-3, 3600.0)]
Dial = Annotated[Quantity, Measured("number", "0.3", 0.001, 100.0)]
CableLength = Annotated[Quantity, Measured("length", "180 m", 0.0, 100e3)]
Distance = Annotated[Quantity, Measured("length", "610 mm", 0.01, 200.0)]
HotStick = Annotated[Quantity, Measured("length", "2.4 m", 0.3, 12.0)]
Gap = Annotated[Quantity, Measured("length", "32 mm", 1e-3, 1.0)]
Area = Annotated[Quantity, Measured("area", "95 mm2", 1e-7, 0.01)]
LineImpedance = Annotated[Quantity, Measured("impedance per length", "0.206 ohm/km", 0.0, 0.1)]
Ohms = Annotated[Quantity, Measured("impedance", "12 ohm", 0.0, 1e5)]
Temperature = Annotated[Quantity, Measured("temperature", "40 degC", -60.0, 300.0)]
Volume = Annotated[Quantity, Measured("volume", "1450 L", 1e-3, 100.0)]
HeatDose = Annotated[Quantity, Measured("incident energy", "8 cal/cm2", 1e3, 1e8)]
HotTemperature = Annotated[Quantity, Measured("temperature", "232 degC", 100.0, 1500.0)]
LiquidTemperature = Annotated[Quantity, Measured("temperature", "-25 .. 95 degC", -60.0, 200.0)]
CurrentSquaredTime = Annotated[Quantity, Measured("current squared time", "15800 A2s", 1.0, 1e9)]
Energy = Annotated[Quantity, Measured("energy", "60 kJ", 1.0, 1e9)]
PeakVoltage = Annotated[Quantity, Measured("voltage", "70 kV", 100.0, 500e3)]
PartShare = Annotated[Quantity, Measured("share", "75 %", 0.01, 1.0)]
OpeningTime = Annotated[Quantity, Measured("time", "50 ms", 1e-3, 60.0)]
LoadShare = Annotated[Quantity, Measured("share", "120 %", 0.1, 5.0)]
TapShare = Annotated[Quantity, Measured("share", "105 %", 0.8, 1.3)]
Multiple = Annotated[Quantity, Measured("number", "1.25", 1.0, 10.0)]
LoadMultiple = Annotated[Quantity, Measured("number", "12", 0.5, 50.0)]
Frequency = Annotated[Quantity, Measured("frequency", "60 Hz", 45.0, 65.0)]
Altitude = Annotated[Quantity, Measured("length", "12 m", -430.0, 6000.0)]

FuseClass = Literal["gG", "J", "RK1", "L"]

Whole = Annotated[int, Field(ge=1, le=1000)]
Text = Annotated[str, Field(min_length=1, max_length=400)]
FileName = Annotated[str, Field(min_length=1, max_length=200, json_schema_extra={"format": "uri-reference"})]


class Slot(BaseModel):
    """A named part of the file. Unknown entries are errors; a missing entry is an open question, never a default."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        arbitrary_types_allowed=True,
        use_attribute_docstrings=True,
        coerce_numbers_to_str=True,  # a feeder may be called 12
    )


class Relay(Slot):
    """An inverse-time relay element, with an optional instantaneous step."""

    curve: Text | None = None
    """Name of the time curve, for example `iec very inverse`, `ieee extremely inverse`, `definite time`."""
    pickup: DeviceCurrent | None = None
    """Primary current at which the element starts."""
    time_dial: Dial | None = None
    """Time multiplier (IEC) or time dial (IEEE)."""
    definite_time: LongTime | None = None
    """Delay of a `definite time` element."""
    instantaneous: DeviceCurrent | None = None
    """Primary current above which the instantaneous step operates."""
    instantaneous_time: ShortTime | None = None
    """Operating time of the instantaneous step, relay alone."""


class Reclosing(Slot):
    """Shots of the upstream device: it opens, waits, and closes again onto a fault that may have gone."""

    fast: Relay | None = None
    """Time curve of the fast phase shots of a recloser; leave out where every shot follows `phase`."""
    fast_shots: Whole | None = None
    """How many shots follow the fast curve, before those that follow `phase`."""
    fuse_saving: Literal["yes", "no"] | None = None
    """Whether the fast shots are meant to open before the unit's fuses melt, so that a passing fault costs no fuse."""


class UpstreamProtection(Slot):
    """What the utility has in front of the unit: a relay with its breaker, a recloser, or a fuse."""

    phase: Relay | None = None
    """Phase overcurrent element."""
    earth: Relay | None = None
    """Earth-fault (residual) element."""
    breaker_opening: ShortTime | None = None
    """From trip signal to the end of arcing in the breaker."""
    fuse: FileName | None = None
    """Curve file of an upstream fuse, instead of a relay."""
    relay: Literal["numerical", "static", "induction"] | None = None
    """Kind of the relays; an induction disc runs on when the current has gone."""
    margin: ShortTime | None = None
    """Time that the utility wants between the clearing of the unit's fuses and its own relay."""
    reclosing: Reclosing | None = None
    """Automatic reclosing, where the upstream device recloses."""


class Supply(Slot):
    """The utility's medium-voltage supply at the point where the customer's cable begins."""

    voltage: SupplyVoltage | None = None
    """Nominal voltage between lines."""
    highest_voltage: SupplyVoltage | None = None
    """Highest voltage of the system in service (Um), where the utility states it."""
    fault_current: FaultCurrent | None = None
    """Three-phase fault current, symmetrical; a range from the smallest to the largest the utility gives."""
    fault_power: FaultPower | None = None
    """Three-phase fault power, instead of `fault_current`."""
    x_over_r: PositiveRatio | None = None
    """Reactance over resistance of the supply."""
    earthing: Literal["solid", "impedance", "isolated", "resonant"] | None = None
    """How the neutral of the supply is earthed."""
    earth_fault_current: FaultCurrent | None = None
    """Line-to-earth fault current of a solidly or impedance-earthed supply."""
    x0_over_x1: PositiveRatio | None = None
    """Zero over positive sequence reactance, instead of `earth_fault_current`."""
    r0_over_x0: Ratio | None = None
    """Zero-sequence resistance over zero-sequence reactance."""
    neutral_resistance: Ohms | None = None
    """Resistor between the neutral and earth (earthing: impedance)."""
    neutral_reactance: Ohms | None = None
    """Reactor between the neutral and earth (earthing: impedance)."""
    capacitive_earth_current: SmallCurrent | None = None
    """Capacitive earth-fault current of the whole galvanically connected network (isolated or resonant)."""
    residual_share: Share | None = None
    """Share of the capacitive current that a tuned arc-suppression reactor leaves (resonant)."""
    protection: UpstreamProtection | None = None
    """The device that clears a fault on this side of the unit's own fuses."""


class Cable(Slot):
    """A cable: inline values, or a row of a catalogue file; an inline value wins over the catalogue's."""

    length: CableLength | None = None
    """Route length."""
    catalogue: FileName | None = None
    """CSV file with one cable type per row and units in the header."""
    type: Text | None = None
    """Row of the catalogue."""
    parallel: Whole | None = None
    """Cables per phase; one if not given."""
    resistance: LineImpedance | None = None
    """Positive-sequence resistance at 20 degC."""
    reactance: LineImpedance | None = None
    """Positive-sequence reactance."""
    zero_resistance: LineImpedance | None = None
    """Zero-sequence resistance of phase and return together."""
    zero_reactance: LineImpedance | None = None
    """Zero-sequence reactance of phase and return together."""
    conductor: Literal["copper", "aluminium"] | None = None
    """Metal of the phase conductor."""
    conductor_area: Area | None = None
    """Cross-section of one phase conductor."""
    insulation: Literal["xlpe", "epr", "pvc"] | None = None
    """Insulation: sets the temperature at which a conductor starts and may end."""
    operating_temperature: Temperature | None = None
    """Conductor temperature in service, before the fault."""
    fault_temperature: Temperature | None = None
    """Conductor temperature at the end of the fault, for the smallest fault current."""
    screen: Literal["copper", "aluminium", "lead"] | None = None
    """Metal of the screen."""
    screen_area: Area | None = None
    """Effective cross-section of the screen."""
    screen_temperature: Temperature | None = None
    """Screen temperature in service, before the fault."""
    screen_limit: Temperature | None = None
    """Temperature the screen may reach at the end of an earth fault."""
    earth_area: Area | None = None
    """Cross-section of the neutral or protective conductor that carries the earth fault."""
    earth_conductor: Literal["copper", "aluminium", "steel"] | None = None
    """Metal of the neutral or protective conductor."""


class OtherFeed(Slot):
    """The other end of a loop: a second supply that can feed the unit through its second way."""

    fault_current: FaultCurrent | None = None
    """Three-phase fault current at the far end's supply point."""
    fault_power: FaultPower | None = None
    """Three-phase fault power, instead of `fault_current`."""
    x_over_r: PositiveRatio | None = None
    """Reactance over resistance of that supply."""
    earth_fault_current: FaultCurrent | None = None
    """Line-to-earth fault current of that supply."""
    x0_over_x1: PositiveRatio | None = None
    """Zero over positive sequence reactance, instead of `earth_fault_current`."""
    r0_over_x0: Ratio | None = None
    """Zero-sequence resistance over zero-sequence reactance."""
    cable: Cable | None = None
    """Cable from that supply to the unit."""
    protection: UpstreamProtection | None = None
    """The device that clears a fault when this end feeds the unit."""
    parallel: Literal["never", "permitted"] | None = None
    """Whether both ends may feed the unit at the same time."""


class ShortTimeRating(Slot):
    """Short-time withstand: a current for a duration."""

    current: FaultCurrent | None = None
    """Symmetrical current withstood."""
    duration: Duration | None = None
    """For how long."""


class Terminations(Slot):
    """The separable, dead-front connectors of the medium-voltage cables."""

    interface: Literal["200 A load-break", "200 A dead-break", "600 A dead-break", "900 A dead-break"] | None = None
    """Interface of IEEE 386, or leave out and give the ratings."""
    voltage_class: RatedVoltage | None = None
    """Voltage class of the connector."""
    continuous: DeviceCurrent | None = None
    """Continuous current."""
    short_time: ShortTimeRating | None = None
    """Short-time rating, shorter of the two that makers state."""
    short_time_long: ShortTimeRating | None = None
    """Second short-time rating, for a longer time."""
    peak_withstand: PeakCurrent | None = None
    """Peak withstand."""


class Switch(Slot):
    """The medium-voltage load-break switch."""

    ways: Literal["radial", "loop"] | None = None
    """`radial`: one cable comes in. `loop`: two, and the unit stands in a ring."""
    voltage: RatedVoltage | None = None
    """Rated voltage."""
    continuous: DeviceCurrent | None = None
    """Continuous current."""
    short_time: ShortTimeRating | None = None
    """Short-time withstand."""
    peak_withstand: PeakCurrent | None = None
    """Peak withstand."""
    making_current: PeakCurrent | None = None
    """Peak current onto which the switch may be closed."""
    making_operations: Whole | None = None
    """How often it may be closed onto that current."""
    required_closings: Whole | None = None
    """How often the site may have to close onto a fault before the switch is overhauled."""
    fused: Literal["yes", "no"] | None = None
    """Whether switch and fuses are one combination: what the fuses cannot break, the switch breaks (IEC 62271-105)."""
    striker: Literal["yes", "no"] | None = None
    """Whether the striker of a fuse that has melted opens the switch."""
    fuse_opening: OpeningTime | None = None
    """Opening time of the switch from the striker's blow (fuse-initiated opening time T0)."""
    release_opening: OpeningTime | None = None
    """Shortest opening time of the switch from its release; leave out where no relay trips it."""
    release_relay: ShortTime | None = None
    """Time of the external relay that trips the release."""
    transfer_current: FaultCurrent | None = None
    """Rated transfer current: largest current the switch breaks when a striker opens it."""
    take_over_current: FaultCurrent | None = None
    """Rated take-over current: largest current the switch breaks when its release opens it."""


class Fuse(Slot):
    """One medium-voltage fuse of the series pair."""

    curve: FileName | None = None
    """Curve file: current_a, min_melt_s, total_clear_s; an expulsion link's file may leave the last column out."""
    rating: DeviceCurrent | None = None
    """Rated current."""
    voltage: RatedVoltage | None = None
    """Rated voltage."""
    interrupting: FaultCurrent | None = None
    """Largest symmetrical current it interrupts, at this system's recovery voltage."""
    minimum_interrupting: FaultCurrent | None = None
    """Smallest current it interrupts (backup current-limiting fuse)."""
    test_x_over_r: PositiveRatio | None = None
    """X/R up to which the symmetrical rating was tested."""
    element: Literal["temperature-sensing", "tin-lead", "tin", "silver", "copper"] | None = None
    """Material of the element that melts; sets how hot liquid shifts the curve."""
    melting_temperature: HotTemperature | None = None
    """Melting temperature of the element, instead of `element`."""
    reference_temperature: LiquidTemperature | None = None
    """Temperature at which the curve and the permitted load are published."""
    reference_frequency: Frequency | None = None
    """Frequency for which the curve is published."""
    melting_tolerance: Share | None = None
    """By how much larger a current than the curve's may be needed to melt it in the same time."""
    arcing_time: ShortTime | None = None
    """Arcing after melting, of a link whose curve file has no clearing times."""
    permitted_load: DeviceCurrent | None = None
    """Current it carries without end at the reference temperature."""
    preload: PartShare | None = None
    """Share of its melting time that is left after the permitted load."""
    ageing_share: PartShare | None = None
    """Share of its melting current up to which inrush and cold load may take it, again and again."""
    melting_energy: CurrentSquaredTime | None = None
    """Melting I2t; a range from the smallest to the largest."""
    total_energy: CurrentSquaredTime | None = None
    """Largest total clearing I2t at rated voltage."""
    arc_voltage: PeakVoltage | None = None
    """Largest arc voltage, peak (current-limiting fuse)."""


class LoadPoint(Slot):
    """A current that must not melt a fuse, for a time."""

    multiple: LoadMultiple | None = None
    """Multiple of the transformer's rated current."""
    time: LongTime | None = None
    """For how long."""


class MeltMatch(Slot):
    """How the melting energies of link and limiter are matched."""

    time: OpeningTime | None = None
    """Time at which the link's curve is read for the energy that melts it."""
    factor: Multiple | None = None
    """Energy that the limiter surely lets through, as a multiple of what melts it."""


class Fuses(Slot):
    """Two fuses in series: a draw-out expulsion link outside, a current-limiting fuse inside the tank."""

    bayonet: Fuse | None = None
    """Draw-out expulsion link under liquid."""
    limiter: Fuse | None = None
    """Backup current-limiting fuse."""
    isolation_link: Literal["yes", "no"] | None = None
    """Whether the draw-out link only isolates: it interrupts nothing."""
    limiters_in_parallel: Whole | None = None
    """Equal limiters side by side in each phase; one if not given. The entries of `limiter` are those of one."""
    crossing_multiple: Multiple | None = None
    """By how much the crossing of both curves lies above the largest secondary fault."""
    time_share: PartShare | None = None
    """Largest share of the limiter's melting time that the link may take to clear a secondary fault."""
    match: MeltMatch | None = None
    """Matched melting of link and limiter."""


class ZeroSequence(Slot):
    """Zero-sequence impedance of the transformer against its positive-sequence impedance."""

    r0_over_r1: Ratio | None = None
    """Resistance ratio."""
    x0_over_x1: PositiveRatio | None = None
    """Reactance ratio."""


class Tank(Slot):
    """What the transformer tank withstands when a fault burns in it."""

    arc_energy: Energy | None = None
    """Energy of an arc under liquid up to which it stays closed, from its test or calculation."""
    let_through: CurrentSquaredTime | None = None
    """I2t let through by the fuses up to which it stays closed."""
    peak_current: PeakCurrent | None = None
    """Peak current let through by the fuses up to which it stays closed."""


class Transformer(Slot):
    """The liquid-filled transformer."""

    rating: Rating | None = None
    """Rated power."""
    primary_voltage: SupplyVoltage | None = None
    """Rated primary voltage between lines, main tap."""
    secondary_voltage: LowVoltage | None = None
    """Rated secondary voltage between lines, no load."""
    connection: (
        Literal["Dyn1", "Dyn5", "Dyn11", "Dd0", "Dd6", "Dzn0", "Dzn6", "Yyn0", "Yyn6", "YNyn0", "YNyn6"] | None
    ) = None
    """Vector group."""
    impedance: SmallShare | None = None
    """Impedance voltage, with the tolerance that holds before the test."""
    load_loss: ActivePower | None = None
    """Load loss at rated current; gives the resistance."""
    x_over_r: PositiveRatio | None = None
    """Reactance over resistance, instead of `load_loss`."""
    zero_sequence: ZeroSequence | None = None
    """Zero-sequence ratios from the test report."""
    neutral: Literal["earthed", "isolated"] | None = None
    """Whether the low-voltage neutral is earthed at the unit."""
    through_fault_duration: Duration | None = None
    """How long it withstands the bolted through-fault."""
    supervised: Literal["yes", "no"] | None = None
    """Whether only qualified persons watch over and service the transformer (NFPA 70 450.3)."""
    faults_expected: Literal["frequent", "infrequent"] | None = None
    """Frequent where the secondary conductors are exposed, infrequent in conduit or enclosure."""
    liquid: Literal["mineral oil", "natural ester", "synthetic ester", "silicone"] | None = None
    """Insulating liquid."""
    volume: Volume | None = None
    """Volume of liquid."""
    liquid_temperature: LiquidTemperature | None = None
    """Liquid at the fuses, from the coldest start to the hottest permitted load."""
    permitted_load: LoadShare | None = None
    """Largest load that is permitted for long, overload included, as a share of the rating."""
    highest_tap: TapShare | None = None
    """Highest voltage in service as a share of the voltage of the tap in use; sets the largest through-fault."""
    inrush: dict[Text, LoadPoint] | None = None
    """Energisation inrush by name, instead of the customary points."""
    cold_load: dict[Text, LoadPoint] | None = None
    """Cold-load pickup by name, instead of the customary points."""
    internal_arc_voltage: PeakVoltage | None = None
    """Voltage of an arc under the liquid."""
    tank: Tank | None = None
    """The tank."""


class LongTimeTrip(Slot):
    """Long-time element of an electronic trip."""

    pickup: DeviceCurrent | None = None
    """Pickup."""
    delay: LongTime | None = None
    """Delay at the reference multiple."""
    reference_multiple: PositiveRatio | None = None
    """Multiple of the pickup at which the delay is stated; six if not given."""


class DelayedTrip(Slot):
    """Short-time or earth-fault element of an electronic trip."""

    pickup: DeviceCurrent | None = None
    """Pickup."""
    delay: ShortTime | None = None
    """Delay of the flat part."""
    ramp_to: DeviceCurrent | None = None
    """Current down to which an I2t ramp reaches the flat part; leave out for a flat element."""


class ZoneInterlocking(Slot):
    """Zone interlocking of a trip: without a restraint signal from below it does not wait."""

    restrained_by: list[Text] | None = None
    """Feeders, by their names, whose trips send the restraint signal when they pick up."""
    unrestrained_delay: ShortTime | None = None
    """Delay of short-time and earth-fault elements while no restraint signal comes."""


class ThermalMagnetic(Slot):
    """Thermal and magnetic trip of a moulded-case breaker, known by the limits of its standard alone."""

    standard: Literal["UL 489", "IEC 60947-2"] | None = None
    """Standard whose limits its thermal trip keeps."""
    reference_time: LongTime | None = None
    """Longest time at twice the rating; by UL 489 the standard states it."""
    magnetic: DeviceCurrent | None = None
    """Pickup of the magnetic trip."""
    magnetic_tolerance: Share | None = None
    """Tolerance of that pickup."""


class Trip(Slot):
    """Electronic trip of a low-voltage breaker."""

    long_time: LongTimeTrip | None = None
    """Overload element."""
    short_time: DelayedTrip | None = None
    """Short-time element."""
    instantaneous: DeviceCurrent | None = None
    """Pickup of the instantaneous element."""
    maintenance_instantaneous: DeviceCurrent | None = None
    """Pickup of the instantaneous element while the maintenance setting is on."""
    earth: DelayedTrip | None = None
    """Earth-fault element."""
    pickup_tolerance: Share | None = None
    """Tolerance of the pickups of short-time, earth and instantaneous elements."""
    time_tolerance: Share | None = None
    """Tolerance of the delays of long-time, short-time and earth elements."""
    zone_interlocking: ZoneInterlocking | None = None
    """Zone interlocking with the trips below it."""


class LowVoltageDevice(Slot):
    """A breaker or fuse of the low-voltage board."""

    kind: (
        Literal[
            "power circuit breaker",
            "fused power circuit breaker",
            "insulated-case breaker",
            "moulded-case breaker",
            "fuse",
        ]
        | None
    ) = None
    """Kind of device; sets the X/R at which its rating was tested."""
    rating: DeviceCurrent | None = None
    """Rated current."""
    interrupting: FaultCurrent | None = None
    """Interrupting rating at this voltage (Icu or Ics in the IEC practice), symmetrical."""
    making_current: PeakCurrent | None = None
    """Rated making capacity Icm, peak (IEC practice)."""
    short_time: ShortTimeRating | None = None
    """Short-time withstand; needed where the device waits."""
    trip: Trip | None = None
    """Electronic trip."""
    thermal_magnetic: ThermalMagnetic | None = None
    """Thermal-magnetic trip of which no curve is at hand, instead of `trip`."""
    curve: FileName | None = None
    """Curve file, for a fuse or a thermal-magnetic breaker, instead of `trip`."""
    fuse_class: FuseClass | None = None
    """Class of a fuse; the standard limits its melting (gG) or its let-through (J, RK1, L)."""
    opening: ShortTime | None = None
    """From trip signal to the end of arcing."""


class Feeder(LowVoltageDevice):
    """A feeder of the board: its device, its cable, and how fast a fault at its end must go."""

    cable: Cable | None = None
    """Cable to the far end."""
    required_clearing: LongTime | None = None
    """Longest time a fault at the far end may last."""


class Bus(Slot):
    """The bus bars of the low-voltage board."""

    short_time: ShortTimeRating | None = None
    """Bracing: symmetrical current and duration."""
    peak_withstand: PeakCurrent | None = None
    """Peak withstand."""
    neutral_area: Area | None = None
    """Cross-section of the neutral or earth bar that carries the earth fault."""
    neutral_conductor: Literal["copper", "aluminium", "steel"] | None = None
    """Metal of that bar."""
    neutral_temperature: Temperature | None = None
    """Temperature of that bar in service."""
    neutral_limit: Temperature | None = None
    """Temperature that bar may reach."""


class Tie(Slot):
    """The tie to a neighbouring board: a second infeed at the low-voltage bus."""

    fault_current: FaultCurrent | None = None
    """Three-phase fault current the neighbour brings through the tie."""
    x_over_r: PositiveRatio | None = None
    """Reactance over resistance of that infeed."""
    earth_fault_current: FaultCurrent | None = None
    """Line-to-earth fault current the neighbour brings."""
    parallel: Literal["never", "permitted"] | None = None
    """`never`: interlocked, the tie closes only with the main open. `permitted`: both may be closed."""
    device: LowVoltageDevice | None = None
    """Tie breaker."""


class ArcDetection(Slot):
    """Light-based arc detection in the low-voltage board."""

    covers: list[Text] | None = None
    """Places of work (by their names under `operation.places`) whose arcs the sensors see."""
    trips: list[Literal["main", "tie", "generator", "upstream"]] | None = None
    """Devices it trips."""
    reaction: ShortTime | None = None
    """From light to trip output."""
    output: ShortTime | None = None
    """Output contact or semiconductor; zero if `reaction` holds it."""
    current_supervision: DeviceCurrent | None = None
    """Current that must be present as well; leave out if light alone trips."""


class Board(Slot):
    """The low-voltage board."""

    voltage: LowVoltage | None = None
    """Nominal voltage of the low-voltage system."""
    voltage_tolerance: Literal["6 %", "10 %"] | None = None
    """Tolerance of the low-voltage system; sets the IEC voltage factors."""
    bus: Bus | None = None
    """Bus bars."""
    main: LowVoltageDevice | None = None
    """Main breaker."""
    feeders: dict[Text, Feeder] | None = None
    """Feeders by name."""
    tie: Tie | None = None
    """Tie to a neighbouring board."""
    arc_detection: ArcDetection | None = None
    """Light-based arc detection."""
    required_clearing: LongTime | None = None
    """Longest time the smallest fault at the bus may last."""
    arcing_earth_share: Share | None = None
    """Smallest arcing fault as a share of the bolted three-phase fault, or of the bolted one of its kind where that is
    smaller; 38 % is the setting rule for earth faults at 480 V."""


class Generator(Slot):
    """A standby generator on the low-voltage bus."""

    rating: Rating | None = None
    """Rated power."""
    voltage: MachineVoltage | None = None
    """Rated voltage."""
    subtransient_reactance: SmallShare | None = None
    """Saturated subtransient reactance."""
    zero_reactance: SmallShare | None = None
    """Zero-sequence reactance."""
    x_over_r: PositiveRatio | None = None
    """Subtransient reactance over stator resistance."""
    power_factor: Share | None = None
    """Rated power factor."""
    neutral: Literal["earthed", "isolated"] | None = None
    """Whether its neutral is earthed."""
    parallel: Literal["never", "permitted"] | None = None
    """`never`: it runs only with the main open. `permitted`: it may run in parallel with the supply."""
    device: LowVoltageDevice | None = None
    """Generator breaker."""


class MotorGroup(Slot):
    """A group of induction motors on the low-voltage bus."""

    power: ActivePower | None = None
    """Sum of the rated shaft powers."""
    power_factor: Share | None = None
    """Rated power factor."""
    efficiency: Share | None = None
    """Rated efficiency."""
    locked_rotor_ratio: PositiveRatio | None = None
    """Locked-rotor current over rated current."""
    x_over_r: PositiveRatio | None = None
    """Reactance over resistance; the IEC default of a low-voltage group if not given."""
    size: Literal["below 50 hp", "50 hp and above"] | None = None
    """Size of the motors; sets the reactance multiplier of the North American method."""
    machine_power: ActivePower | None = None
    """Rated shaft power of the largest machine of the group, for the breaking current."""
    pole_pairs: Whole | None = None
    """Pole pairs of that machine."""
    drive: Literal["direct", "converter"] | None = None
    """`converter`: on drives that feed nothing back."""


class Motors(Slot):
    """Motors that feed a fault."""

    schedule: FileName | None = None
    """CSV file with one motor group per row and units in the header."""
    groups: dict[Text, MotorGroup] | None = None
    """Motor groups by name."""


class Site(Slot):
    """Where the unit stands."""

    place: Text | None = None
    """Name of the place."""
    placing: Literal["outdoor pad", "basement", "roof", "building", "quarry"] | None = None
    """How it stands there."""
    altitude: Altitude | None = None
    """Height above sea level."""
    ambient: Temperature | None = None
    """Ambient temperature."""


class Enclosure(Slot):
    """The box in which an arc would burn."""

    height: Distance | None = None
    """Inside height."""
    width: Distance | None = None
    """Inside width."""
    depth: Distance | None = None
    """Inside depth."""


class Place(Slot):
    """A place of work: where hands and face may be near an arc."""

    at: Literal["line side of main", "bus", "feeder end", "switch"] | None = None
    """Which part of the unit is open there."""
    feeder: Text | None = None
    """Name of the feeder, for `at: feeder end`."""
    electrodes: list[Literal["VCB", "VCBB", "HCB", "VOA", "HOA"]] | None = None
    """Electrode configurations of IEEE 1584 that occur there; the worst counts."""
    gap: Gap | None = None
    """Gap between conductors."""
    enclosure: Enclosure | None = None
    """The box; not needed in open air."""
    working_distance: Distance | None = None
    """From the arc to face and chest."""
    clothing: HeatDose | None = None
    """Arc rating of the clothing worn there."""
    kept_clear: Distance | None = None
    """Distance around the place that is kept clear of people without that clothing."""
    main_separated: Literal["yes", "no"] | None = None
    """Whether the main breaker is separated from this place, so that it may be counted on."""
    exposure_limit: Duration | None = None
    """Time after which a person has moved away; only where nothing hinders escape."""
    without_detection: HeatDose | Literal["no work"] | None = None
    """Arc rating of the clothing worn while the detection is out of service, or `no work`."""


class Door(Slot):
    """A door or cover that gives hands a way in."""

    reaches: list[Text] | None = None
    """Points behind it that a hand can touch, by the station's names; an empty list where all is dead-front."""
    space: Distance | None = None
    """Space in front of it in which the crew can keep its distance."""
    signs: list[Literal["high voltage", "back-feed", "operating voltage", "arc flash"]] | None = None
    """Signs on it; an empty list where it has none."""


class Interlock(Slot):
    """One direction of an interlock: a device moves to a position only while another one stands as said."""

    device: Text | None = None
    """What is held."""
    to: Text | None = None
    """Position it may not move to otherwise."""
    needs: Text | None = None
    """What it looks at."""
    stands: list[Text] | None = None
    """Positions of that which let it move."""
    kept_by: Literal["mechanical", "key", "tool", "rule"] | None = None
    """What sees to it: hardware, a key, a special tool, or people who obey."""


class TrappedKeyLock(Slot):
    """A trapped-key lock on a device: without its key the device stands still."""

    device: Text | None = None
    """What it holds."""
    code: Text | None = None
    """Code of its key."""
    free_at: list[Text] | None = None
    """Positions of the device in which the key comes out."""


class KeyExchange(Slot):
    """A key exchange box: what it gives comes out only while all it takes is in, and the other way round."""

    takes: list[Text] | None = None
    """Codes of the keys that go in."""
    gives: list[Text] | None = None
    """Codes of the keys that come out."""


class TrappedKey(Slot):
    """One key: two of one code are two entries."""

    code: Text | None = None
    """Its code."""
    start: Text | None = None
    """Where it is in normal service: the name of a lock, of an exchange, or `hand`."""


class VoltageTest(Slot):
    """A place where absence of voltage is proved."""

    at: Text | None = None
    """Point that is tested."""
    behind: Text | None = None
    """Door that must be open for it; leave out where it is reached with all doors shut."""


class WorkEarth(Slot):
    """An earth that is put on for work: an earthing switch, or an accessory on a parked connector."""

    at: Text | None = None
    """Point that it earths."""
    behind: Text | None = None
    """Door that must be open to put it on; leave out where it is worked with all doors shut."""
    parked: Text | None = None
    """Connector that must be parked before this accessory fits."""
    size: Text | None = None
    """Size of its copper cable, `4/0` for example; an earthing switch has a `short_time` instead."""
    fittings: Whole | None = None
    """Lowest grade of its clamps and ferrules, 1 to 7 of ASTM F855; the whole is no better than that."""
    sets: Whole | None = None
    """How many such cables lie in parallel, 1 or 2; two carry 10 % less than twice one."""
    backup_clearing: Duration | None = None
    """Time in which the backup clears a fault there, where the first device does not."""
    short_time: ShortTimeRating | None = None
    """Short-time withstand of an earthing switch."""
    making_current: PeakCurrent | None = None
    """Peak current onto which an earthing switch may be closed; leave out where it is not made for that."""


class EarthedPosition(Slot):
    """What the earthed position of the medium-voltage switch is made for."""

    short_time: ShortTimeRating | None = None
    """Short-time withstand of the path to earth."""
    backup_clearing: Duration | None = None
    """Time in which the backup clears a fault there, where the first device does not."""
    making_current: PeakCurrent | None = None
    """Peak current onto which it may be brought to earthed; leave out where it is not made for that."""


class StoredCharge(Slot):
    """A capacitor or a cable that stays charged when its point is dead."""

    at: Text | None = None
    """Point at which it stands."""
    drains: Literal["yes", "no"] | None = None
    """Whether it discharges by itself after a waiting time."""


class Connector(Slot):
    """A separable connector on a cable, which can be pulled off and parked on an insulated bushing."""

    cable: Literal["cable A", "cable B"] | None = None
    """The cable that it ends: `cable A` from the supply point, `cable B` from the other end of a loop."""
    load_break: Literal["yes", "no"] | None = None
    """Whether it may make and break load."""
    bushing: Literal["capped", "bare"] | None = None
    """Whether an insulating cap goes on the bushing that it leaves; bare if not given."""
    behind: Text | None = None
    """Door that must be open to reach it; leave out where it is reached with all doors shut."""


class Bolt(Slot):
    """A captive bolt on a door, turned with a special tool."""

    door: Text | None = None
    """Door that it holds."""
    behind: Text | None = None
    """Door that must be open to reach it."""
    padlock: Literal["yes", "no"] | None = None
    """Whether a padlock must come off before it turns."""


class WalkInRoom(Slot):
    """A room that people enter, and in which they could be locked."""

    door: Text | None = None
    """Its door, one of `doors`."""
    reaches: list[Text] | None = None
    """Points that a person inside can touch; an empty list where all is dead-front."""
    personnel_key: Text | None = None
    """Code of the key that each person carries in; leave out where there is none."""
    release_inside: Literal["yes", "no"] | None = None
    """Whether the door opens from inside, whatever its lock."""


class FarSource(Slot):
    """Something at the far end of a feeder that can feed back: a UPS, a solar plant, a neighbour's generator."""

    feeder: Text | None = None
    """Name of the feeder, one of `board.feeders`."""
    in_step: Literal["yes", "no"] | None = None
    """Whether it runs in step with the supply, so that it may be paralleled."""


class ApproachDistances(Slot):
    """Distances to be kept from a bare live part, as the rule book of the site gives them."""

    inner: Distance | None = None
    """Up to it only with protection: the restricted approach boundary, or the outer limit of the live working zone."""
    outer: Distance | None = None
    """Where approaching begins: the limited approach boundary, or the outer limit of the vicinity zone."""


class AfterLimiter(Slot):
    """What comes before a limiter that has operated is replaced."""

    tests: list[Literal["insulation resistance", "turns ratio", "winding resistance", "dissolved gas"]] | None = None
    """Tests of the transformer that come first."""
    decided_by: Text | None = None
    """Role of the person who decides on their results whether the unit returns to service."""


class Approach(Slot):
    """The distances that hold at the site, where they are not those of the tool's tables."""

    source: Text | None = None
    """Rule book, edition and table that they were read in."""
    medium_voltage: ApproachDistances | None = None
    """At the supply's voltage."""
    low_voltage: ApproachDistances | None = None
    """At the board's voltage."""


class Handling(Slot):
    """Where and how the crew moves a device, turns a key or puts the tester to a place."""

    side: Text | None = None
    """Side or front from which it is worked, and where one stands."""
    hot_stick: HotStick | Literal["none"] | None = None
    """Length of the hot stick, or `none` where it is worked by hand."""
    body: Text | None = None
    """Position of the body, out of the way of an arc or of a spring."""


class Operation(Slot):
    """How people work on the unit."""

    places: dict[Text, Place] | None = None
    """Places of work by name."""
    schemes: (
        list[
            Literal[
                "door on open switch",
                "door on earthed switch",
                "one key",
                "key exchange",
                "source keys",
                "main-tie-main",
            ]
        ]
        | None
    ) = None
    """Known arrangements of interlocks and keys; the entries below add to them or, by the same name, replace a part."""
    switch_positions: list[Literal["closed", "open", "earthed"]] | None = None
    """Positions of the medium-voltage switch; `earthed` earths its fuse side."""
    switch_earth: EarthedPosition | None = None
    """What that earthed position carries, and whether it may be brought onto a live circuit."""
    switch_indicator: Literal["handle", "shaft"] | None = None
    """What drives the position that is shown: the handle, or the shaft of the contacts."""
    contacts_seen: list[Text] | None = None
    """Switches and breakers whose contacts are seen apart, through a window or drawn out, before a door is opened."""
    vent_first: Literal["mechanical", "rule"] | None = None
    """What keeps the draw-out fuse in until the tank is vented."""
    doors: dict[Text, Door] | None = None
    """Doors and covers by name."""
    interlocks: dict[Text, Interlock] | None = None
    """Interlocks by name, one entry for each direction."""
    locks: dict[Text, TrappedKeyLock] | None = None
    """Trapped-key locks by name."""
    exchanges: dict[Text, KeyExchange] | None = None
    """Key exchange boxes by name."""
    keys: dict[Text, TrappedKey] | None = None
    """Keys by name."""
    spare_keys: Text | None = None
    """Where spare keys are kept and who gives them out; `none` where there are none."""
    tests: dict[Text, VoltageTest] | None = None
    """Places where absence of voltage is proved, by name."""
    earths: dict[Text, WorkEarth] | None = None
    """Earths for work, by name."""
    padlocks: dict[Text, Text] | None = None
    """Own padlocks of the crew: name of the padlock, and the device that it holds open."""
    handling: dict[Text, Handling] | None = None
    """Where and how the crew moves each device, by its name; also tests, locks and key boxes."""
    charges: dict[Text, StoredCharge] | None = None
    """What stays charged, by name."""
    connectors: dict[Text, Connector] | None = None
    """Separable connectors that hands may pull off, by name."""
    bolts: dict[Text, Bolt] | None = None
    """Captive bolts on doors, by name."""
    rooms: dict[Text, WalkInRoom] | None = None
    """Rooms that people enter, by name."""
    far_sources: dict[Text, FarSource] | None = None
    """What can feed back through a feeder, by name."""
    portable_sources: list[Text] | None = None
    """Points where somebody could connect a portable generator; an empty list where nothing lets one be connected."""
    after_limiter: AfterLimiter | None = None
    """What comes first when a limiter has operated: it seldom does without a failed transformer."""
    approach: Approach | None = None
    """Approach distances of the site's own rule book."""
    gauges: dict[Text, Text] | None = None
    """Gauges (`liquid level`, `pressure`, `temperature`), each with the door behind which it is read, or `outside`."""


class Confirmation(Slot):
    """Who confirms an assumption, and how."""

    owner: Text | None = None
    """Role of the person who confirms it."""
    confirm: Text | None = None
    """How it is confirmed on site."""


class Unit(Slot):
    """One compact substation at one site: the whole file."""

    deadfront: Literal[1]
    """Version of this file form."""
    title: Text
    """Name of the unit and its place."""
    practice: Literal["north-american", "iec"]
    """Which family of rules the claims rest on."""
    code: Literal["NFPA 70", "CSA C22.1"] | None = None
    """Installation code that governs at the site (North American practice)."""
    issued: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")] | None = None
    """Date of issue, printed in the dossier."""
    prepared_by: Text | None = None
    """Role of the person who prepared the file."""
    data: Literal["demonstration", "project"] | None = None
    """`demonstration`: invented data; every page says so."""
    frequency: Frequency | None = None
    """Power frequency."""
    supply: Supply | None = None
    """Utility supply."""
    other_feed: OtherFeed | None = None
    """The other end of the loop."""
    terminations: Terminations | None = None
    """Medium-voltage connectors."""
    mv_cable: Cable | None = None
    """Cable from the supply point to the unit."""
    switch: Switch | None = None
    """Medium-voltage switch."""
    fuses: Fuses | None = None
    """Medium-voltage fuses."""
    transformer: Transformer | None = None
    """Transformer."""
    board: Board | None = None
    """Low-voltage board."""
    standby_generator: Generator | None = None
    """Standby generator."""
    motors: Motors | None = None
    """Motors."""
    site: Site | None = None
    """Site."""
    operation: Operation | None = None
    """Operation."""
    assumptions: dict[Text, Confirmation] | None = None
    """Who confirms each assumption the tool lists, by the assumption's name."""
