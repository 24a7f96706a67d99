"""What can be set: one class a table of the settings file, each key with its range.

`deploy/settings.sample.toml` is the documentation: it shows every key with its meaning.
`monitor.settings_file` reads the file.
"""

from pathlib import Path
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo, available_timezones

from pydantic import BaseModel, ConfigDict, Field, model_validator

from monitor.channels import QUANTITIES

Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f/#+]+$")]
Positive = Annotated[float, Field(gt=0, lt=1e7, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, lt=1e7, allow_inf_nan=False)]
Finite = Annotated[float, Field(gt=-1e7, lt=1e7, allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0, le=100)]


class Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Feed(Section):
    """Where a subject's readings come from. The first feed of a quantity counts, later ones are
    second opinions that step in when it falls silent."""

    source: Name
    instance: int | None = Field(None, ge=0, le=252)
    message: str | None = None
    """CAN: only this message; by default every message about this kind of subject."""
    device: str | None = Field(None, pattern=r"^[0-9A-Fa-f]{2}$|^[0-9A-Fa-f]{16}$")
    """CAN: only this sender: a source address (2 hex digits) or a NAME (16)."""
    indicator: int | None = Field(None, ge=1, le=28)
    """CAN: which indicator of a switch bank."""
    code: int | None = Field(None, ge=0, le=252)
    """CAN: the source code inside a temperature, pressure or fluid message."""
    signal: str | None = None
    """DBC: "Message.Signal"."""
    topic: str | None = None
    """MQTT: the topic filter, with + and # as the standard has them."""
    pointer: str = ""
    """MQTT: JSON Pointer (RFC 6901) into the payload; empty means the payload itself."""
    quantity: str | None = None
    scale: Finite = 1.0
    offset: Finite = 0.0
    positive: Literal["charging", "discharging"] | None = None
    """Which way a positive current flows; by default as the protocol's practice has it."""
    retained: bool = False
    """MQTT: believe a retained message although its age is unknown."""

    @model_validator(mode="after")
    def _known_quantity(self) -> Self:
        if self.quantity is not None and self.quantity not in QUANTITIES:
            raise ValueError(f"quantity {self.quantity!r} is not one of: {', '.join(QUANTITIES)}")
        return self


class Boat(Section):
    name: Name
    crew: int = Field(2, ge=1, le=50)
    time_zone: str = "UTC"
    latitude: float = Field(0.0, ge=-90, le=90)
    longitude: float = Field(0.0, ge=-180, le=180)
    language: Literal["en", "es", "fr"] = "en"
    """Of what is sent, and of a browser that asks for none of these."""

    @model_validator(mode="after")
    def _known_zone(self) -> Self:
        if self.time_zone not in available_timezones():
            raise ValueError(f"time_zone {self.time_zone!r} is unknown; expected one like Europe/Madrid")
        return self

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


class CanSource(Section):
    kind: Literal["can"]
    name: Name
    interface: Literal["socketcan", "slcan", "udp_multicast", "virtual"]
    channel: str = Field(min_length=1)
    port: int | None = Field(None, ge=1, le=65535)
    """udp_multicast: the port."""
    bit_rate: Literal[10_000, 20_000, 50_000, 100_000, 125_000, 250_000, 500_000, 800_000, 1_000_000] = (
        250_000
    )
    speaks: list[Literal["nmea2000", "rvc", "dbc"]] = Field(["nmea2000"], min_length=1)
    dbc: Path | None = None

    @model_validator(mode="after")
    def _dbc_where_spoken(self) -> Self:
        if ("dbc" in self.speaks) != (self.dbc is not None):
            raise ValueError('dbc is the file that goes with speaks = ["dbc"]: give both or neither')
        return self


class Tls(Section):
    ca: Path | None = None
    certificate: Path | None = None
    key: Path | None = None


class Broker(Section):
    """How an MQTT broker is reached."""

    host: str = Field("127.0.0.1", min_length=1)
    port: int = Field(1883, ge=1, le=65535)
    version: Literal["3.1.1", "5"] = "3.1.1"
    username: str | None = None
    password: str | None = None
    password_file: Path | None = None
    tls: Tls | None = None
    keep_alive_s: int = Field(30, ge=5, le=3600)


class MqttSource(Broker):
    kind: Literal["mqtt"]
    name: Name
    status_topic: str | None = None
    """Where Ebbwatch says that it runs; its last will says when it has stopped."""


class RecordingSource(Section):
    kind: Literal["recording"]
    name: Name
    speaks: list[Literal["nmea2000", "rvc", "dbc"]] = ["nmea2000"]
    dbc: Path | None = None
    paths: list[Path] = []


Source = Annotated[CanSource | MqttSource | RecordingSource, Field(discriminator="kind")]


class Subject(Section):
    """Anything that is measured: it has a name and feeds."""

    name: Name
    feeds: list[Feed] = []


class Bank(Subject):
    role: Literal["house", "buffer", "start"] = "house"
    chemistry: Literal["lifepo4", "lead"] = "lifepo4"
    nominal_V: Positive = 12.8
    capacity_Ah: Positive
    reserve_pct: float = Field(20.0, ge=0, lt=100)
    full_V: Positive | None = None
    """At or above this, with the tail current, the bank is full; 3.45 V a lithium cell."""
    tail_A: Positive | None = None
    """4 % of the capacity where it is not given."""
    low_V: Positive | None = None
    """The voltage limit of the low voltage alarm; 3.0 V a lithium cell, 2.0 V a lead cell."""

    cell_low_V: Positive | None = None
    """Where the BMS cuts discharging: 2.5 V a lithium cell. Common practice."""
    cell_high_V: Positive | None = None
    """Where the BMS cuts charging: 3.65 V a lithium cell. Common practice."""
    cold_C: float = Field(0.0, ge=-40, le=20)
    """Below this cell temperature the bank must not be charged."""
    hot_C: float = Field(55.0, ge=20, le=90)
    """Above this cell temperature the BMS may cut."""
    charge_limit_A: Positive | None = None
    """The most it may be charged with; what the BMS says counts where it says so."""
    discharge_limit_A: Positive | None = None

    @property
    def cell_limits_V(self) -> tuple[float, float]:
        """The cell voltages at which the BMS cuts discharging and charging."""
        return self.cell_low_V or 2.5, self.cell_high_V or 3.65

    @property
    def cells(self) -> int:
        return max(1, round(self.nominal_V / (3.2 if self.chemistry == "lifepo4" else 2.0)))

    @property
    def full_voltage_V(self) -> float:
        return self.full_V or self.cells * (3.45 if self.chemistry == "lifepo4" else 2.35)

    @property
    def tail_current_A(self) -> float:
        return self.tail_A or 0.04 * self.capacity_Ah

    @property
    def low_voltage_V(self) -> float:
        return self.low_V or self.cells * (3.0 if self.chemistry == "lifepo4" else 2.0)

    @property
    def nominal_Wh(self) -> float:
        return self.capacity_Ah * self.nominal_V

    @property
    def reserve_Wh(self) -> float:
        return self.nominal_Wh * self.reserve_pct / 100


class Tank(Subject):
    capacity_L: Positive
    unusable_L: NotNegative = 0.0
    sounding: list[tuple[Finite, NotNegative]] = []
    """Pairs of the sender's reading [%] and litres; a straight line where it is empty."""
    doubtful: bool = False
    """Water not to be counted on: kept out of the days left."""
    shape: Literal["straight", "lying cylinder", "wedge"] = "straight"
    """What a sounding table is made of where none is given."""
    wedge_bottom: float = Field(0.0, ge=0, le=1)
    """Of a wedge: its breadth at the bottom as a share of that at the top."""

    @model_validator(mode="after")
    def _rising_table(self) -> Self:
        if self.unusable_L >= self.capacity_L:
            raise ValueError("unusable_L must be less than capacity_L")
        for (r0, v0), (r1, v1) in zip(self.sounding, self.sounding[1:], strict=False):
            if r1 <= r0 or v1 < v0:
                raise ValueError(f"sounding must rise: [{r1:g}, {v1:g}] cannot follow [{r0:g}, {v0:g}]")
        if len(self.sounding) == 1 or any(v > self.capacity_L for _, v in self.sounding):
            raise ValueError("sounding needs two pairs or more, none above capacity_L")
        return self


class Accumulator(Section):
    volume_L: Positive
    precharge_bar: Positive
    cut_in_bar: Positive
    cut_out_bar: Positive

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.cut_in_bar < self.cut_out_bar:
            raise ValueError("cut_in_bar must be below cut_out_bar")
        return self


class Cock(Section):
    """A cock that a guided test may ask to be shut. Never one between a heater and its relief valve or
    expansion vessel: such a place has no name here."""

    name: Name
    place: Literal["before the pump", "after the pump", "to the heater", "after the heater", "cold branch"]


class Draw(Section):
    """Water that something takes by itself: a watermaker's flush, an ice maker."""

    name: Name
    litres: Positive
    every_h: Positive | None = None
    """About so often; whenever it likes where it is not given."""


class Pump(Subject):
    flow_L_per_min: Positive = 10.0
    tanks: list[Name] = []
    """The tanks it may draw from; all where none is named."""
    accumulator: Accumulator | None = None
    drawdown_L: Positive | None = None
    """What one refill moves, as it was measured; worked out from the accumulator where it is not given."""
    timing_s: float = Field(0.1, gt=0, le=60)
    """How exactly its source tells when the pump starts and stops."""
    cocks: list[Cock] = []
    draws: list[Draw] = []


class Heater(Subject):
    volume_L: Positive
    power_W: NotNegative = 0.0


class Charger(Subject):
    kind: Literal["shore", "generator", "alternator", "sun", "wind", "hydro", "converter"]
    into: Name
    rated_A: Positive | None = None
    rated_W: Positive | None = None


class Load(Subject):
    """A load. With a meter of its own, what it takes from the house is named in the night's ledger;
    one that hangs on a buffer bank takes part in the blackout rehearsal."""

    bank: Name | None = None
    """The bank it hangs on; the house where it is not given."""
    usual_W: Positive | None = None
    """What it takes while it is on."""
    keep: int = Field(50, ge=1, le=99)
    """In what order loads are shed: 1 is kept longest."""


class Supply(Subject):
    """An AC supply: a pedestal the boat is plugged into, or her own generator."""

    kind: Literal["shore", "generator"] = "shore"
    limit_A: Positive = 16.0
    nominal_V: Positive = 230.0
    power_factor: float = Field(0.9, gt=0, le=1)
    """Of what is run on it, where no instrument tells."""
    rated_W: Positive | None = None
    """What a generator carries for hours; its limit times its voltage where it is not given."""

    @property
    def continuous_W(self) -> float:
        return self.rated_W or self.limit_A * self.nominal_V


class Inverter(Subject):
    """Makes mains from a bank; one that stands behind a supply passes it on and may help it."""

    bank: Name
    supply: Name | None = None
    rated_W: Positive
    surge_W: Positive | None = None
    """Twice the rating where it is not given. Common practice."""
    efficiency: float = Field(0.9, gt=0.3, le=1)
    helps: bool = True
    """The bank makes up what the supply cannot carry."""

    @property
    def most_W(self) -> float:
        """For a moment, as when a motor starts."""
        return self.surge_W or 2 * self.rated_W


class Engine(Subject):
    drives: Literal["propeller", "generator"] = "propeller"


class Watermaker(Subject):
    rated_L_per_h: Positive | None = None
    rated_W: Positive | None = None
    tanks: list[Name] = []
    """Where its water goes; all tanks where none is named."""


class Service(Section):
    """Something that falls due: after so many hours or litres of a subject, or so many days."""

    name: Name
    subject: Name | None = None
    """Whose hours or litres: a pump, an engine, a watermaker. Not for days."""
    every_h: Positive | None = None
    every_L: Positive | None = None
    every_days: Positive | None = None

    @model_validator(mode="after")
    def _one_measure_at_least(self) -> Self:
        if self.every_h is None and self.every_L is None and self.every_days is None:
            raise ValueError("expected every_h, every_L or every_days")
        if self.subject is None and (self.every_h is not None or self.every_L is not None):
            raise ValueError("subject: missing; whose hours or litres are counted?")
        return self


class Instrument(Subject):
    """Temperatures, attitude, position and anything else that is only looked at."""


class Usual(Section):
    """What is used and made in a day until the boat's own history says better."""

    energy_Wh_a_day: Positive = 1800.0
    charging_Wh_a_day: NotNegative = 0.0
    water_L_a_head_a_day: Positive = 12.0


class Reserves(Section):
    water_L: NotNegative | None = None
    """The larger of 3 L a head for 3 days and 10 % of the tanks where it is not given."""
    sealed_L: NotNegative = 0.0
    """Sealed emergency water: shown apart and never counted in days."""


class Limits(Section):
    low_charge_pct: Percent = 30.0
    low_water_L: NotNegative | None = None
    """One and a half times the reserve where it is not given."""
    energy_days: NotNegative = 1.0
    water_days: NotNegative = 3.0
    pump_run_on_min: Positive = 8.0
    leak_L_a_day: Positive = 2.0
    freezing_C: Finite = 3.0
    """Below this the plumbing is about to freeze."""
    water_age_days: Positive = 14.0
    """Untreated water older than this wants looking after. Common practice: 14 days warm, 30 cool."""
    run_for_water_h: Positive = 24.0
    """How long it takes to fetch water once it is decided."""
    silent_s: Positive | None = None
    """A source that says nothing for this long is told; 60 s where it is not given."""


class RuleRow(Section):
    """What is changed of one rule of the alerts; the rulebook knows which rule may be changed how far."""

    rule: str
    subject: Name | None = None
    limit: Finite | None = None
    when: dict[str, Finite] = {}
    """Other limits, by a place ("sailing") or a state of the people ("asleep")."""
    on_delay_s: NotNegative | None = None
    off_delay_s: NotNegative | None = None
    wakes: bool | None = None


class Units(Section):
    """What the pages tell amounts in; inside and in files they are L, bar and °C."""

    volume: Literal["L", "US gal", "imp gal"] = "L"
    pressure: Literal["bar", "psi"] = "bar"
    temperature: Literal["°C", "°F"] = "°C"


class Night(Section):
    """When the crew sleeps, by the ship's clock: used where nothing else tells."""

    by: Literal["sun", "clock"] = "sun"
    """What a night's ledger goes by: from dusk to dawn, or from hour to hour of the ship's clock."""
    begins: int = Field(20, ge=0, le=23)
    ends: int = Field(8, ge=0, le=23)
    asleep_from: int = Field(23, ge=0, le=23)
    asleep_until: int = Field(7, ge=0, le=23)
    quiet_from: int = Field(20, ge=0, le=23)
    """From then on no engine and no generator is proposed,"""
    quiet_until: int = Field(9, ge=0, le=23)
    """until then."""


class Watches(Section):
    """How the crew stands watches under way."""

    changes: list[Annotated[int, Field(ge=0, le=23)]] = [0, 4, 8, 12, 16, 20]
    """The hours of the ship's clock at which a watch is handed over, and a line says how things stand."""


class WayOut(Section):
    """How the crew is told beyond the screens. Nothing is ever taken from it."""

    name: Name
    from_grade: Literal["alarm", "warning", "caution"] = "warning"
    """That grade and graver ones."""
    second: bool = False
    """Only what nobody has answered, and what follows of the same alert."""
    quiet: bool = False
    """Warnings and cautions wait while the boat's quiet hours last. An alarm never does."""
    test_at: int | None = Field(None, ge=0, le=23)
    """The hour of the ship's clock at which the way is tried each day."""


class MqttWay(WayOut, Broker):
    kind: Literal["mqtt"]


class MessageWay(WayOut):
    kind: Literal["message"]
    urls_file: Path
    """Addresses as apprise writes them, one a line; they hold secrets, so only its owner may read it."""


class LoudspeakerWay(WayOut):
    kind: Literal["loudspeaker"]
    program: list[str] = ["aplay", "-q", "{file}"]
    """Plays a WAV file, which stands in place of {file}."""

    @model_validator(mode="after")
    def _plays_a_file(self) -> Self:
        if not any("{file}" in word for word in self.program[1:]):
            raise ValueError("program: expected a word with {file} after the program's name")
        return self


Way = Annotated[MqttWay | MessageWay | LoudspeakerWay, Field(discriminator="kind")]


class StoreSettings(Section):
    path: Path = Path("ebbwatch.db")
    full_resolution_days: int | None = Field(None, ge=2)
    """How long every sample is kept; for ever where it is not given."""


class Web(Section):
    """The dashboard."""

    guests: Literal["look", "nothing"] = "look"
    """What whoever is on the boat's network may do without signing in, once a password is set."""


class Settings(Section):
    boat: Boat
    usual: Usual = Usual()
    reserves: Reserves = Reserves()
    limits: Limits = Limits()
    night: Night = Night()
    watches: Watches = Watches()
    units: Units = Units()
    store: StoreSettings = StoreSettings()
    web: Web = Web()
    sources: list[Source] = []
    banks: list[Bank] = []
    tanks: list[Tank] = []
    pumps: list[Pump] = []
    heaters: list[Heater] = []
    chargers: list[Charger] = []
    loads: list[Load] = []
    supplies: list[Supply] = []
    inverters: list[Inverter] = []
    engines: list[Engine] = []
    watermakers: list[Watermaker] = []
    instruments: list[Instrument] = []
    services: list[Service] = []
    rules: list[RuleRow] = []
    ways: list[Way] = []

    def subjects(self) -> list[tuple[str, Subject]]:
        """Every subject with the key it stands under, in the file's order."""
        return [
            (f"{group}[{n}]", subject)
            for group in SUBJECT_GROUPS
            for n, subject in enumerate(getattr(self, group))
        ]

    @property
    def water_reserve_L(self) -> float:
        """For the crew that is set here."""
        return self.water_reserve_for_L(self.boat.crew)

    def water_reserve_for_L(self, heads: int) -> float:
        """As given, or else the larger of three days at 3 L a head and a tenth of what the tanks give
        (common practice)."""
        if self.reserves.water_L is not None:
            return self.reserves.water_L
        capacity_L = sum(t.capacity_L - t.unusable_L for t in self.tanks)
        return max(9.0 * heads, 0.1 * capacity_L)

    def low_water_for_L(self, heads: int) -> float:
        """Less is told: as given, or else half as much again as so many keep in reserve."""
        given = self.limits.low_water_L
        return 1.5 * self.water_reserve_for_L(heads) if given is None else given

    @model_validator(mode="after")
    def _everything_refers_to_something(self) -> Self:
        mistakes = [*_twice(self), *_dangling(self)]
        if mistakes:
            raise ValueError("\n".join(mistakes))
        return self


SUBJECT_GROUPS = (
    "banks", "tanks", "pumps", "heaters", "chargers", "loads", "supplies", "inverters", "engines",
    "watermakers", "instruments",
)  # fmt: skip


def _twice(settings: Settings) -> list[str]:
    mistakes = []
    seen: dict[str, str] = {}
    named = [(f"sources[{n}]", s.name) for n, s in enumerate(settings.sources)]
    named += [(key, subject.name) for key, subject in settings.subjects()]
    for key, name in named:
        if name in seen:
            mistakes.append(f"{key}.name: {name!r} is also the name of {seen[name]}; each needs its own")
        seen[name] = key
    services: set[tuple[str, str | None]] = set()
    for n, service in enumerate(settings.services):
        if (service.name, service.subject) in services:
            of = f" of {service.subject!r}" if service.subject else ""
            mistakes.append(
                f"services[{n}].name: {service.name!r}{of} stands there twice; each needs its own"
            )
        services.add((service.name, service.subject))
    names = [way.name for way in settings.ways]
    mistakes += [
        f"ways[{n}].name: {name!r} is the name of another way; each needs its own"
        for n, name in enumerate(names)
        if name in names[:n]
    ]
    return mistakes


def _dangling(settings: Settings) -> list[str]:
    mistakes = []
    sources = {s.name: s for s in settings.sources}
    banks = {b.name for b in settings.banks}
    tanks = {t.name for t in settings.tanks}
    for key, subject in settings.subjects():
        for n, feed in enumerate(subject.feeds):
            where = f"{key}.feeds[{n}]"
            source = sources.get(feed.source)
            if source is None:
                known = ", ".join(sources) or "none"
                mistakes.append(f"{where}.source: no source is called {feed.source!r}; there are: {known}")
            elif isinstance(source, MqttSource) and feed.topic is None:
                mistakes.append(f"{where}.topic: missing; {feed.source!r} is an MQTT source")
            elif (
                feed.topic is None
                and isinstance(source, CanSource)
                and feed.signal is None
                and (feed.instance is None and feed.message is None)
            ):
                mistakes.append(f"{where}: expected instance, message or signal; this feed binds to nothing")
            if (feed.topic is not None or feed.signal is not None) and feed.quantity is None:
                mistakes.append(f"{where}.quantity: missing; say what the value measures")
    for n, pump in enumerate(settings.pumps):
        mistakes += [
            f"pumps[{n}].tanks: no tank is called {name!r}" for name in pump.tanks if name not in tanks
        ]
    supplies = {s.name for s in settings.supplies}
    refers = [(f"chargers[{n}].into", "bank", c.into, banks) for n, c in enumerate(settings.chargers)]
    refers += [
        (f"watermakers[{n}].tanks", "tank", name, tanks)
        for n, maker in enumerate(settings.watermakers)
        for name in maker.tanks
    ]
    counted = {s.name for s in (*settings.pumps, *settings.engines, *settings.watermakers)}
    refers += [
        (f"services[{n}].subject", "pump, engine or watermaker", s.subject, counted)
        for n, s in enumerate(settings.services)
        if s.subject
    ]
    refers += [(f"loads[{n}].bank", "bank", x.bank, banks) for n, x in enumerate(settings.loads) if x.bank]
    for n, inverter in enumerate(settings.inverters):
        refers.append((f"inverters[{n}].bank", "bank", inverter.bank, banks))
        if inverter.supply:
            refers.append((f"inverters[{n}].supply", "supply", inverter.supply, supplies))
    mistakes += [
        f"{where}: no {what} is called {name!r}" for where, what, name, known in refers if name not in known
    ]
    return mistakes
