"""What the instruments make of the truth: offset, gain, noise and slosh; the wire's steps come later.

A reading is a function of the stretch, the moments at which it is told, and the instruments'
own errors, which are drawn once for a boat.
"""

from collections.abc import Callable

import numpy as np

from monitor.wire.codes import STATES
from simulators import bms, generator
from simulators.boat import INVERTING, OFF
from simulators.needs import SENSORS_APART_C
from simulators.shore import POWER_FACTOR
from simulators.stretch import Floats, Stretch
from simulators.tanks import Tank, reading_pct

NOT_AVAILABLE = float("nan")
# How the boat moves by place: standard deviation of the roll [°], and of the slosh in a tank [%].
ROLL_DEG = {"laid up": 0.1, "alongside": 0.3, "at anchor": 0.9, "motoring": 2.0, "sailing": 3.2}
SLOSH_PCT = {"laid up": 0.05, "alongside": 0.10, "at anchor": 0.25, "motoring": 0.9, "sailing": 1.8}
SENDER_STEP_PCT = 0.1
MAKING = float(STATES["watermaker state"].index("running"))


class Instruments:
    """Every sensor aboard with its own errors. `rng` is theirs alone: reading changes no truth."""

    def __init__(self, seed: int, house_offset_A: float, house_gain: float, tanks: tuple[Tank, ...]) -> None:
        self.rng = np.random.default_rng([seed, 8])
        self.more = np.random.default_rng([seed, 15])
        """For rows that were added later, so that they move no other's noise."""
        self.house_offset_A, self.house_gain = house_offset_A, house_gain
        self.bms_offset_A = float(self.rng.normal(0, 0.1))
        self.bms_error_pct = float(self.rng.normal(0, 3))
        self.buffer_offset_A = float(self.rng.normal(0, 0.05))
        self.cell_error_V = self.rng.normal(0, 0.002, 4)
        self.tanks = {tank.name: tank for tank in tanks}
        self._drift = {tank.name: 0.0 for tank in tanks}

    def noise(self, times: Floats, sd: float | Floats) -> Floats:
        return np.asarray(self.rng.normal(0.0, 1.0, len(times)) * sd)

    def more_noise(self, times: Floats, sd: float) -> Floats:
        return np.asarray(self.more.normal(0.0, sd, len(times)))

    def begin(self) -> None:
        """Once a stretch: the senders' slow drift goes a step on."""
        for name, drift in self._drift.items():
            self._drift[name] = 0.97 * drift + float(self.rng.normal(0, 0.03))

    def tank_pct(self, name: str, stretch: Stretch, times: Floats) -> Floats:
        """A sender off the middle reads the heel too; a stuck one says the same, a dead one nothing."""
        conditions = stretch.conditions
        if name in conditions.dead:
            return np.full(len(times), NOT_AVAILABLE)
        if name in conditions.stuck_pct:
            return np.full(len(times), conditions.stuck_pct[name])
        tank = self.tanks[name]
        water = stretch.water
        litres = np.interp(times, water.times_s, water.tanks_L[name])
        volumes = [v for _, v in tank.sounding]
        still = np.interp(litres, volumes, [reading_pct(tank.sounding, v) for v in volumes])
        lean = 100 * tank.offset_m / tank.depth_m * np.tan(np.radians(at(stretch, times, stretch.heel)))
        read = still + lean + self._drift[name] + self.noise(times, SLOSH_PCT[conditions.place])
        return np.asarray(np.rint(np.clip(read, 0.0, 100.0) / SENDER_STEP_PCT) * SENDER_STEP_PCT)

    def current_A(self, true_A: Floats, offset_A: float, gain: float = 1.0) -> Floats:
        """A shunt's reading: noise of 0.06 A at rest, 0.25 A from 19 A on."""
        noise = self.noise(true_A, np.minimum(0.25, 0.06 + 0.01 * np.abs(true_A)))
        return true_A * gain + offset_A + noise


def at(stretch: Stretch, times: Floats, column: Floats) -> Floats:
    """The second of the column in which each moment lies."""
    second = np.clip((times - stretch.start_s).astype(np.int64), 0, stretch.seconds - 1)
    return np.asarray(column[second])


Reading = Callable[[Instruments, Stretch, Floats], Floats]


def _house_V(i: Instruments, s: Stretch, t: Floats) -> Floats:
    """The monitor hangs on the house bus, beyond the contactor."""
    return np.maximum(0.0, at(s, t, s.electrics.bus_V) + i.noise(t, 0.004))


def _house_A(i: Instruments, s: Stretch, t: Floats) -> Floats:
    read_A = i.current_A(at(s, t, s.electrics.bank_A), i.house_offset_A, i.house_gain)
    return read_A if s.conditions.stuck_A is None else np.full(len(t), s.conditions.stuck_A)


def _cell(n: int) -> Reading:
    """A cell's own voltage; the BMS measures it to a few millivolts."""

    def read(i: Instruments, s: Stretch, t: Floats) -> Floats:
        volts = at(s, t, s.electrics.cells_V[n]) + i.cell_error_V[n]
        return np.asarray(np.clip(volts + i.noise(t, 0.001), 0.0, 5.0))

    return read


def _highest_V(s: Stretch, t: Floats) -> Floats:
    return at(s, t, s.electrics.cells_V.max(axis=0))


def _lowest_V(s: Stretch, t: Floats) -> Floats:
    return at(s, t, s.electrics.cells_V.min(axis=0))


def _coldest_C(s: Stretch, t: Floats) -> Floats:
    return at(s, t, s.electrics.coldest_C)


def _warmth_of(above_coldest: float, sd: float) -> Reading:
    """A sensor on the bank that stands so far above the coldest one. [°C]"""
    return lambda i, s, t: _coldest_C(s, t) + above_coldest + i.noise(t, sd)


def _sources(name: str, volts: str = "bank_V") -> Reading:
    """The current of a source by its power and the voltage it works into."""

    def read(i: Instruments, s: Stretch, t: Floats) -> Floats:
        watts = at(s, t, getattr(s.electrics, name))
        return watts / at(s, t, getattr(s.electrics, volts)) + i.noise(t, 0.05) * (watts > 0)

    return read


def _steady(value: Callable[[Stretch], float], sd: float) -> Reading:
    return lambda i, s, t: value(s) + i.noise(t, sd)


def _run(s: Stretch, t: Floats, axis: int) -> Floats:
    """Degrees since the beginning of the stretch."""
    return s.conditions.way[axis] * (t - s.start_s)


def _pre_alarm(i: Instruments, s: Stretch, t: Floats) -> Floats:
    return bms.pre_alarm(_highest_V(s, t), _lowest_V(s, t), at(s, t, s.electrics.bank_A), _coldest_C(s, t))


def _warmth(name: str, s: Stretch, t: Floats) -> Floats:
    """How far the engine, or the generator, has come from cold (0) to warm (1)."""
    ran_s: float = getattr(s.conditions, f"{name}_s")
    return 1 - np.exp(-(ran_s + t - s.start_s) / 400)


def _supply_W(i: Instruments, s: Stretch, t: Floats) -> Floats:
    return at(s, t, s.supply_W)


def _shore_V(i: Instruments, s: Stretch, t: Floats) -> Floats:
    """None behind a tripped breaker."""
    volts = s.conditions.pedestal.voltage_V(_supply_W(i, s, t)) + i.noise(t, 0.3)
    return np.asarray(np.zeros(len(t)) if s.conditions.tripped else volts)


def _output_V(i: Instruments, s: Stretch, t: Floats) -> Floats:
    """Behind the inverter: the supply's, passed on, or its own 230 V."""
    state = at(s, t, s.inverter)
    passed = generator.voltage_V if s.conditions.generator else s.conditions.pedestal.voltage_V
    volts = np.where(state == INVERTING, 230.0, passed(_supply_W(i, s, t))) + i.more_noise(t, 0.3)
    return np.asarray(volts * (state != OFF))


def _output_W(i: Instruments, s: Stretch, t: Floats) -> Floats:
    return at(s, t, s.output_W)


def _set(law: Callable[[Floats], Floats], sd: float) -> Reading:
    """What the generator's load makes of it."""
    return lambda i, s, t: law(_supply_W(i, s, t)) + i.noise(t, sd)


def _heater(s: Stretch) -> tuple[list[float], list[float]]:
    return [t for t, _, _ in s.water.heater], [celsius for _, celsius, _ in s.water.heater]


READINGS: dict[str, Reading] = {
    "house V": _house_V,
    "house A": _house_A,
    "bank warmth": _warmth_of(SENSORS_APART_C, 0.05),
    "counted": lambda i, s, t: at(s, t, s.counted_pct),
    "buffer V": lambda i, s, t: at(s, t, s.electrics.buffer_V) + i.noise(t, 0.004),
    "buffer A": lambda i, s, t: i.current_A(at(s, t, s.electrics.buffer_A), i.buffer_offset_A),
    "forward": lambda i, s, t: i.tank_pct("forward", s, t),
    "midship": lambda i, s, t: i.tank_pct("midship", s, t),
    "water bar": lambda i, s, t: s.water.bar(t) + i.noise(t, 0.004),
    "pump A": lambda i, s, t: s.water.running(t) * np.maximum(0.0, s.water.pump_A(t) + i.more_noise(t, 0.08)),
    "heel": lambda i, s, t: at(s, t, s.heel) + i.noise(t, ROLL_DEG[s.conditions.place]),
    "pitch": lambda i, s, t: 1.0 + i.noise(t, 0.5 * ROLL_DEG[s.conditions.place]),
    "alternator A": _sources("alternator_W"),
    "charger A": _sources("charger_W"),
    "panels A": _sources("sun_W"),
    "panels W": lambda i, s, t: at(s, t, s.electrics.sun_W) * (1 + i.noise(t, 0.004)),
    "heater": lambda i, s, t: np.interp(t, *_heater(s)) + i.noise(t, 0.05),
    "element": lambda i, s, t: np.full(len(t), float(s.water.heater[-1][2])),
    "converter A": lambda i, s, t: at(s, t, s.electrics.converter_A) + i.noise(t, 0.03),
    "latitude": lambda i, s, t: s.conditions.latitude + _run(s, t, 0) + i.noise(t, 1.5e-5),
    "longitude": lambda i, s, t: s.conditions.longitude + _run(s, t, 1) + i.noise(t, 2e-5),
    "date": lambda i, s, t: np.floor(t / 86400),
    "time": lambda i, s, t: t % 86400,
    "cabin": _steady(lambda s: s.conditions.cabin, 0.03),
    "sea": _steady(lambda s: s.conditions.sea, 0.02),
    "rpm": lambda i, s, t: 1350 + 450 * (s.conditions.place == "motoring") + i.noise(t, 4.0),
    "coolant": lambda i, s, t: 20 + 62 * _warmth("engine", s, t),
    "oil bar": lambda i, s, t: 4.2 - 1.0 * _warmth("engine", s, t) + i.noise(t, 0.02),
    "fuel": _steady(lambda s: 2.9 if s.conditions.place == "motoring" else 1.4, 0.05),
    "engine hours": lambda i, s, t: s.conditions.engine_hours + (t - s.start_s) / 3600,
    "shore V": _shore_V,
    "shore A": lambda i, s, t: s.conditions.pedestal.current_A(_supply_W(i, s, t)),
    "shore factor": lambda i, s, t: np.full(len(t), s.conditions.pedestal.power_factor),
    "output V": _output_V,
    "output A": lambda i, s, t: _output_W(i, s, t) / 230.0 / POWER_FACTOR,
    "output W": _output_W,
    "output Hz": lambda i, s, t: 50.0 * (at(s, t, s.inverter) != OFF),
    "inverter state": lambda i, s, t: at(s, t, s.inverter),
    "supply W": _supply_W,
    "generator V": _set(generator.voltage_V, 0.3),
    "generator A": _set(lambda watts: watts / generator.voltage_V(watts) / POWER_FACTOR, 0.0),
    "generator Hz": _set(generator.frequency_Hz, 0.03),
    "generator rpm": _set(generator.speed_rpm, 2.0),
    "generator fuel": _set(generator.fuel_L_per_h, 0.02),
    "generator load": _set(lambda watts: 100 * watts / generator.RATED_W, 0.0),
    "generator coolant": lambda i, s, t: 20 + 58 * _warmth("generator", s, t),
    "generator oil bar": lambda i, s, t: 3.8 - 0.7 * _warmth("generator", s, t) + i.noise(t, 0.02),
    "generator hours": lambda i, s, t: s.conditions.generator_hours + (t - s.start_s) / 3600,
    "watermaker state": lambda i, s, t: np.full(len(t), float(s.conditions.making_L_per_h > 0) * MAKING),
    "made L/h": lambda i, s, t: s.conditions.making_L_per_h * (1 + i.more_noise(t, 0.01)),
    "watermaker hours": lambda i, s, t: (
        s.conditions.making_hours + (t - s.start_s) / 3600 * (s.conditions.making_L_per_h > 0)
    ),
    "BMS V": lambda i, s, t: at(s, t, s.electrics.bank_V) + i.noise(t, 0.002),
    "BMS A": lambda i, s, t: i.current_A(at(s, t, s.electrics.bank_A), i.bms_offset_A),
    "BMS charge": lambda i, s, t: np.clip(at(s, t, s.electrics.charge_pct) + i.bms_error_pct, 0, 100),
    "charge limit": lambda i, s, t: bms.charge_limit_A(_highest_V(s, t), _coldest_C(s, t)),
    "discharge limit": lambda i, s, t: bms.discharge_limit_A(_lowest_V(s, t)),
    "pre-alarm": _pre_alarm,
    "contactor": lambda i, s, t: at(s, t, s.electrics.closed),
    "cell 1 V": _cell(0),
    "cell 2 V": _cell(1),
    "cell 3 V": _cell(2),
    "cell 4 V": _cell(3),
    "cell 1 warmth": _warmth_of(2 * SENSORS_APART_C, 0.08),
    "cell 2 warmth": _warmth_of(0.0, 0.08),
}
