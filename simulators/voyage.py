"""A voyage: the life of *Marram* in a scenario, as the frames and messages her buses would carry."""

import math
import re
from collections.abc import Callable, Iterator
from itertools import repeat
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from monitor.clock import DAY_S
from monitor.records import Frame, Message
from monitor.wire.fast_packet import split_payload
from monitor.wire.identifier import join
from monitor.wire.layout import Layout
from monitor.wire.nmea2000 import LAYOUTS
from simulators.calendar import Calendar
from simulators.instruments import READINGS, Instruments
from simulators.life import Life
from simulators.packing import DBC, bms_layouts, pack
from simulators.scenarios import SCENARIOS
from simulators.speech import (
    CHARGER_PERIOD_S,
    CHARGERS,
    SAYS,
    SWITCH_PERIOD_S,
    SWITCHES,
    TEXTS,
    Say,
    SayText,
    charger_state,
    claims,
)
from simulators.stretch import Floats, Stretch, Truth
from simulators.took import Took

Item = Frame | Message
BACKBONE, BATTERY_BUS, BROKER = "can0", "can1", "broker"
JITTER_S = 0.05
FRAME_S = 0.0006
"""One frame of a fast packet after another: the time it takes at 250 kbit/s."""
SHIP_ZONE = "Europe/Madrid"
EVERYBODY = 255
PUMP_PRESSURE = '{ source = "backbone", instance = 0, message = "pressure", code = 1 },'
PUMP_CURRENT = '{ source = "backbone", instance = 5, message = "dc point", quantity = "current" },'
NO_DRAWS = "# draws = []"
WATERMAKER = """
[[watermakers]]
name = "watermaker"
rated_L_per_h = {L_per_h:g}
rated_W = {watts:g}
tanks = ["{tank}"]
feeds = [{{ source = "backbone", message = "watermaker" }}]
"""


class Voyage:
    """Iterate for Frames and Messages in order of time; the same arguments give the same voyage.

    `at_s` of every item is UTC. `every_s` slows messages down that would come more often; the
    pump's edges keep their own exact times, and what happens aboard does not depend on it.
    From `live_from_s` (UTC) on nothing is slowed down, so that a past can be told in haste.
    `on_truth` is handed every line of the truth as the frames pass it.
    """

    def __init__(
        self,
        scenario: str,
        seed: int,
        start_utc_s: float,
        days: float,
        every_s: float = 1.0,
        *,
        live_from_s: float = math.inf,
        on_truth: Callable[[Truth], None] | None = None,
    ) -> None:
        self.scenario = SCENARIOS[scenario]
        self.seed = seed
        self._every_s, self._live_from_s = every_s, live_from_s
        self.start_s = float(round(start_utc_s))
        self.end_s = self.start_s + round(days * DAY_S)
        self._on_truth = on_truth

    def _life(self) -> Life:
        calendar = Calendar.of(self.start_s, ZoneInfo(SHIP_ZONE))
        return Life(self.scenario, self.seed, self.start_s, self.end_s, calendar)

    def __iter__(self) -> Iterator[Item]:
        life = self._life()
        boat = life.boat
        instruments = Instruments(self.seed, boat.shunt_offset_A, boat.shunt_gain, boat.tanks)
        speaker = _Speaker(instruments, self._every_s, self._live_from_s, self.seed)
        yield from _claims(self.start_s, boat.fitted)
        for stretch in life.stretches():
            yield from speaker.say(stretch)
            if self._on_truth is not None:
                for line in stretch.truth:
                    self._on_truth(line)

    def truth(self) -> Iterator[Truth]:
        """The truth alone: the same life again, without a word on the buses."""
        for stretch in self.stretches():
            yield from stretch.truth

    def took(self) -> Took:
        """What each appliance took, by the second: the same life again."""
        return Took((stretch.start_s, stretch.took) for stretch in self.stretches())

    def stretches(self) -> Iterator[Stretch]:
        """All that was true, stretch by stretch: the same life again."""
        return self._life().stretches()

    def settings_text(self, dbc: str = DBC.name, store: str = "marram.db") -> str:
        """A settings file for this voyage: the sample's, moved to where the scenario lies."""
        sample = Path(__file__).parents[1] / "deploy" / "settings.sample.toml"
        text = sample.read_text("utf-8")
        for key, value in (
            ("latitude", f"{self.scenario.latitude}"),
            ("longitude", f"{self.scenario.longitude}"),
            ("dbc", f'"{dbc}"'),
            ("path", f'"{store}"'),
        ):
            text = re.sub(rf"(?m)^{key} = .*$", f"{key} = {value}".replace("\\", r"\\"), text)
        if PUMP_CURRENT not in text:
            text = text.replace(PUMP_PRESSURE, f"{PUMP_PRESSURE}\n  {PUMP_CURRENT}")
        if maker := self.scenario.maker:
            text = text.replace(NO_DRAWS, f'draws = [{{ name = "flush", litres = {maker.flush_L:g} }}]', 1)
            text += WATERMAKER.format(**maker._asdict())
        return text


def _claims(start_s: float, fitted: bool) -> Iterator[Frame]:
    for n, (address, name) in enumerate(claims(fitted)):
        can_id = join(6, 60928, address, EVERYBODY)
        yield Frame(start_s + n * FRAME_S, BACKBONE, can_id, LAYOUTS[60928].encode(name))


def _grid(start_s: float, end_s: float, period_s: float, phase: float) -> Floats:
    """The period's moments from start to end (not included)."""
    late_s = phase % period_s
    first, last = (np.ceil((at_s - late_s) / period_s) for at_s in (start_s, end_s))
    return np.asarray(np.arange(first, last) * period_s + late_s)


class _Speaker:
    """Makes all the items of a stretch, row by row of SAYS and TEXTS, and puts them in order."""

    def __init__(self, instruments: Instruments, every_s: float, live_from_s: float, seed: int) -> None:
        self._instruments = instruments
        self._every_s, self._live_from_s = every_s, live_from_s
        self._rng, self._more = np.random.default_rng([seed, 9]), np.random.default_rng([seed, 16])
        self._sequence: dict[int, int] = {}

    def say(self, stretch: Stretch) -> list[Item]:
        self._instruments.begin()
        times: list[Floats] = []
        items: list[Item] = []
        for n, row in enumerate(SAYS):
            if not row.when or getattr(stretch.conditions, row.when):
                self._frames(stretch, row, n, times, items)
        for n, text in enumerate(TEXTS):
            self._messages(stretch, text, n, times, items)
        self._switch_bank(stretch, times, items)
        if stretch.conditions.mains:
            self._charger(stretch, times, items)
        order = np.argsort(np.concatenate(times), kind="stable")
        return [items[n] for n in order.tolist()]

    def _moments(self, stretch: Stretch, period_s: float, phase: float, more: bool = False) -> Floats:
        """On the grid of the period, a little late each time."""
        rng = self._more if more else self._rng
        live_s = min(max(self._live_from_s, stretch.start_s), stretch.end_s)
        slow = _grid(stretch.start_s, live_s, max(period_s, self._every_s), phase)
        grid = np.concatenate((slow, _grid(live_s, stretch.end_s, period_s, phase)))
        jittered = grid + rng.uniform(0.0, JITTER_S, len(grid))
        return np.asarray(np.round(np.minimum(jittered, stretch.end_s - 0.02), 6))

    def _frames(self, stretch: Stretch, row: Say, n: int, times: list[Floats], items: list[Item]) -> None:
        moments = self._moments(stretch, row.period_s, 0.037 * n, row.more)
        if not len(moments):
            return
        columns = {f: READINGS[name](self._instruments, stretch, moments) for f, name in row.readings.items()}
        if isinstance(row.number, str):
            layout = bms_layouts()[row.number]
            payloads = pack(layout, row.same, columns)
            times.append(moments)
            items += map(
                Frame, moments.tolist(), repeat(BATTERY_BUS), repeat(layout.number), payloads, repeat(False)
            )
            return
        layout = LAYOUTS[row.number]
        self._put(layout, row.address, row.priority, moments, pack(layout, row.same, columns), times, items)

    def _put(
        self,
        layout: Layout,
        address: int,
        priority: int,
        moments: Floats,
        payloads: list[bytes],
        times: list[Floats],
        items: list[Item],
    ) -> None:
        can_id = join(priority, layout.number, address)
        if layout.fast:
            sequence = self._sequence.get(can_id, 0)
            packets = [split_payload(payload, sequence + n & 7) for n, payload in enumerate(payloads)]
            self._sequence[can_id] = sequence + len(payloads) & 7
            count = len(packets[0])
            moments = np.round(
                np.repeat(moments, count) + np.tile(np.arange(count) * FRAME_S, len(packets)), 6
            )
            payloads = [data for packet in packets for data in packet]
        times.append(moments)
        items += map(Frame, moments.tolist(), repeat(BACKBONE), repeat(can_id), payloads)

    def _messages(
        self, stretch: Stretch, row: SayText, n: int, times: list[Floats], items: list[Item]
    ) -> None:
        moments = self._moments(stretch, row.period_s, 0.51 + 0.23 * n)
        columns = [READINGS[name](self._instruments, stretch, moments).tolist() for name in row.readings]
        payloads = [row.text(values) for values in zip(*columns, strict=True)]
        times.append(moments)
        items += map(Message, moments.tolist(), repeat(BROKER), repeat(row.topic), payloads)

    def _switch_bank(self, stretch: Stretch, times: list[Floats], items: list[Item]) -> None:
        """Indicator 1 is the pump: told at the very moment it changes, and every 15 s."""
        layout = LAYOUTS[127501]
        payloads = [layout.encode({"instance": 0, "indicator 1": on}) for on in (0, 1)]
        edges = np.array([at_s for at_s, _ in stretch.water.edges])
        states = [stretch.running_at_start, *(on for _, on in stretch.water.edges)]
        moments = self._moments(stretch, SWITCH_PERIOD_S, 0.3)
        then = np.searchsorted(edges, moments, side="right").tolist()
        if stretch.conditions.wire_off:
            edges, states = edges[:0], [True]
            then = [0] * len(then)
        self._put(layout, SWITCHES, 3, edges, [payloads[on] for on in states[1:]], times, items)
        self._put(layout, SWITCHES, 3, moments, [payloads[states[n]] for n in then], times, items)

    def _charger(self, stretch: Stretch, times: list[Floats], items: list[Item]) -> None:
        layout = LAYOUTS[127507]
        moments = self._moments(stretch, CHARGER_PERIOD_S, 0.7)
        said = {"instance": 0, "battery instance": 0, "charger state": charger_state(stretch), "enabled": 1}
        if len(moments):
            self._put(layout, CHARGERS, 6, moments, [layout.encode(said)] * len(moments), times, items)
