"""All sensors of one bank side by side, a minute at a time: what each says, and what moved meanwhile."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from monitor.estimation.direction import Direction
from monitor.estimation.jumps import ChargeFigure
from monitor.estimation.pairs import WINDOW_H, Pairs
from monitor.estimation.readings import Floats, heard
from monitor.estimation.stuck import CHARGERS, DOWN, PUMP, UP, Still
from monitor.estimation.voices import two_voices
from monitor.estimation.watcher import Heard
from monitor.estimation.wiring import CHARGE, CURRENT, VOLTAGE, channel_name, how_read
from monitor.records import Estimate
from monitor.settings import Bank, Settings

MOST_OPINIONS = 5
STEP_A, STEP_SHARE = 2.0, 0.005
"""A current that changes by less, or by less than this share of the capacity, has not moved."""
STEP_V = 0.02
"""Of a 12 V bank, from one minute to the next; coarse sensors must move by more than their own step."""
SURGE_SHARE = 0.03
"""A current that changes by this share of the capacity must move a voltage by 10 mV at least."""
APART_V = 0.2
VOICES_MIN = 10
OPEN_MIN = 5


class BankSensors:
    """The sensors of one bank by their channels' names."""

    def __init__(self, settings: Settings, bank: Bank) -> None:
        self.bank = bank
        self.twelves = max(1, round(bank.nominal_V / 12))
        self.step_A = max(STEP_A, STEP_SHARE * bank.capacity_Ah)
        self.opinions = {CURRENT: 1, VOLTAGE: 1, CHARGE: 1}
        self.still: dict[str, Still] = {}
        self.directions: dict[int, Direction] = {}
        self.pairs: dict[int, Pairs] = {}
        self.figures: dict[int, ChargeFigure] = {}
        self.fresh: list[int] = []
        """The opinions whose pair with the first completed an hour in this minute."""
        self.voices: tuple[float, float] | None = None
        self.voices_min = 0
        self.open_min, self.open_A = 0, 0.0
        """How long the contactor has been open, and the mean of what the sensor says meanwhile."""
        self._was_open = False
        self._means: dict[str, float] = {}
        self._levels: dict[str, Mapping[str, float]] = {}
        """All means when a sensor began to say what it still says."""
        self._speakers: frozenset[int] = frozenset()
        self._charging: tuple[frozenset[str], float] | None = None
        self._charged_before: float | None = None
        self._chargers = [c.name for c in settings.chargers if c.into == bank.name]
        self._pumps = [p.name for p in settings.pumps] if bank.role == "house" else []
        for quantity in self.opinions:
            self._make(quantity, 0)

    # ---- a minute

    def take(self, minute: Heard) -> None:
        self._meet(minute)
        said = {
            (quantity, n): minute.values(channel_name(self.bank.name, quantity, n))
            for quantity, count in self.opinions.items()
            for n in range(count)
        }
        means = {
            channel_name(self.bank.name, *key): float(values.mean())
            for key, values in said.items()
            if values.size
        }
        charged_A = self._charged_A(minute, means)
        if minute.newest(f"{self.bank.name} contactor closed") == 0.0:
            # In the minute of the cut the current flowed for a part of it.
            if self._was_open:
                self._open(means)
            self._was_open = True
            self.pause()
            return
        self.open_min, self._was_open = 0, False
        moved = dict(self._moved(minute, means, charged_A))
        for (quantity, n), values in said.items():
            if quantity != CHARGE:
                self._watch_still(quantity, n, values, minute.end_s, moved, means)
        self._compare(said)
        self._turn(means, charged_A)
        self._follow_charge(minute, said, means)
        self._listen_for_two(minute)
        self._means, self._charged_before = means, charged_A

    def _meet(self, minute: Heard) -> None:
        """A further instrument that has begun to speak."""
        for quantity, count in self.opinions.items():
            if count < MOST_OPINIONS and channel_name(self.bank.name, quantity, count) in minute.readings:
                self._make(quantity, count)
                self.opinions[quantity] = count + 1

    def _make(self, quantity: str, opinion: int) -> None:
        if quantity == CHARGE:
            self.figures[opinion] = ChargeFigure()
            return
        self.still[channel_name(self.bank.name, quantity, opinion)] = Still()
        if quantity == CURRENT:
            self.directions[opinion] = Direction(self.step_A)
            if opinion:
                self.pairs[opinion] = Pairs(WINDOW_H if opinion == 1 else WINDOW_H * 2 // 3)

    def _charged_A(self, minute: Heard, means: Mapping[str, float]) -> float | None:
        """What metered chargers give the bank. None where none is heard, or others than before. [A]"""
        volts = means.get(f"{self.bank.name} voltage", self.bank.nominal_V)
        given = {}
        for name in self._chargers:
            amps, watts = minute.mean(f"{name} current"), minute.mean(f"{name} power")
            if amps is not None or watts is not None:
                given[name] = amps if amps is not None else (watts or 0.0) / volts
        before, self._charging = self._charging, (frozenset(given), sum(given.values()))
        return self._charging[1] if given and before is not None and before[0] == self._charging[0] else None

    def _open(self, means: Mapping[str, float]) -> None:
        """Nothing flows through an open contactor: what the sensor says then is its zero."""
        amps = means.get(f"{self.bank.name} current")
        if amps is not None:
            self.open_min += 1
            self.open_A += (amps - self.open_A) / self.open_min

    def _moved(
        self, minute: Heard, means: Mapping[str, float], charged_A: float | None
    ) -> Iterator[tuple[str, float]]:
        """What has changed since the minute before, and by how much: channels, chargers, the pump."""
        for name, mean in means.items():
            before = self._means.get(name)
            if before is not None and name in self.still:
                yield name, mean - before
        if charged_A is not None and self._charged_before is not None:
            yield CHARGERS, charged_A - self._charged_before
        for name in self._pumps:
            running = minute.values(f"{name} running")
            if running.size > 1 and (np.diff(running) > 0).any():
                yield PUMP, 1.0

    def _watch_still(
        self,
        quantity: str,
        opinion: int,
        values: Floats,
        end_s: float,
        moved: Mapping[str, float],
        means: Mapping[str, float],
    ) -> None:
        own = channel_name(self.bank.name, quantity, opinion)
        still = self.still[own]
        if quantity == CURRENT:
            seen = list(self._current_moves(own, moved))
        else:
            seen = list(self._voltage_moves(own, moved, means))
        still.take(values, end_s, seen)
        if still.since_s == end_s:
            self._levels[own] = means

    def _current_moves(self, own: str, moved: Mapping[str, float]) -> Iterator[str]:
        """What says that the current must have moved. A charger's step that leaves the voltage where it
        was has gone into the loads."""
        rise_V = max((step for name, step in moved.items() if " voltage" in name), key=abs, default=None)
        for name, step in moved.items():
            if name == PUMP:
                yield PUMP
            elif name == CHARGERS:
                felt = rise_V is None or rise_V * np.sign(step) >= STEP_V * self.twelves / 2
                if abs(step) >= self.step_A and felt:
                    yield CHARGERS
            elif " voltage" in name:
                if abs(step) >= max(STEP_V * self.twelves, 1.5 * self.still[name].resolution):
                    yield UP if step > 0 else DOWN
            elif name != own and abs(step) >= self.step_A:
                yield "another sensor"

    def _voltage_moves(
        self, own: str, moved: Mapping[str, float], means: Mapping[str, float]
    ) -> Iterator[str]:
        """What says that the voltage must have moved. A charger that holds it holds the current, too."""
        resolution, began = self.still[own].resolution, self._levels.get(own, {})
        surge_A = SURGE_SHARE * self.bank.capacity_Ah * max(1.0, resolution / (0.01 * self.twelves))
        apart_V = max(APART_V * self.twelves, 3 * resolution)
        for name, step in moved.items():
            if " current" in name and abs(step) >= surge_A:
                yield "the current"
            elif (
                " voltage" in name
                and name != own
                and abs(means[name] - began.get(name, means[name])) >= apart_V
            ):
                yield "another sensor"

    def _compare(self, said: Mapping[tuple[str, int], Floats]) -> None:
        first = said[CURRENT, 0]
        self.fresh = [n for n, pair in self.pairs.items() if pair.take(first, said[CURRENT, n])]

    def _turn(self, means: Mapping[str, float], charged_A: float | None) -> None:
        name = self.bank.name
        volts = next(
            (
                means[v]
                for n in range(self.opinions[VOLTAGE])
                if (v := channel_name(name, VOLTAGE, n)) in means
            ),
            None,
        )
        for n, direction in self.directions.items():
            direction.take(means.get(channel_name(name, CURRENT, n)), volts, charged_A)

    def _follow_charge(
        self, minute: Heard, said: Mapping[tuple[str, int], Floats], means: Mapping[str, float]
    ) -> None:
        amps = means.get(f"{self.bank.name} current")
        offset_A = offset_of(minute.estimates.get(("charge_pct", self.bank.name)))[0] or 0.0
        counted = None if amps is None else 100 * (amps - offset_A) / 60 / self.bank.capacity_Ah
        speakers = frozenset(n for n in self.figures if said[CHARGE, n].size)
        for n, figure in self.figures.items():
            figure.take(said[CHARGE, n], counted, speakers == self._speakers)
        self._speakers = speakers

    def _listen_for_two(self, minute: Heard) -> None:
        columns = (minute.columns.get(f"{self.bank.name} {what}") for what in (VOLTAGE, CURRENT))
        volts, amps = (heard(c) if c is not None else (np.empty(0), np.empty(0)) for c in columns)
        levels = two_voices(volts, amps, self.twelves)
        if levels is not None:
            self.voices, self.voices_min = levels, min(self.voices_min + 1, 2 * VOICES_MIN)
        elif volts[0].size:
            self.voices_min = max(0, self.voices_min - 1)

    # ---- in between

    def pause(self) -> None:
        """Nothing is measured across this."""
        self._means, self._charged_before, self._charging = {}, None, None
        for still in self.still.values():
            still.pause()
        for direction in self.directions.values():
            direction.pause()
        for figure in self.figures.values():
            figure.new_boot()

    def state(self) -> dict[str, Any]:
        return {
            "wiring": how_read(self.bank),
            "opinions": self.opinions,
            "steps": {name: round(still.step, 4) for name, still in self.still.items() if still.step},
            "directions": {str(n): d.state() for n, d in self.directions.items() if d.volts.n or d.charge.n},
            "pairs": {str(n): p.state() for n, p in self.pairs.items()},
            "figures": {str(n): f.state() for n, f in self.figures.items() if f.known},
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        for quantity, count in state["opinions"].items():
            for n in range(self.opinions[quantity], min(int(count), MOST_OPINIONS)):
                self._make(quantity, n)
                self.opinions[quantity] = n + 1
        for name, step in state["steps"].items():
            if name in self.still:
                self.still[name].step = float(step)
        for n, figure in self.figures.items():
            if str(n) in state["figures"]:
                figure.restore(state["figures"][str(n)])
        if state["wiring"] != how_read(self.bank):
            return
        for n, direction in self.directions.items():
            if str(n) in state["directions"]:
                direction.restore(state["directions"][str(n)])
        for n, pair in self.pairs.items():
            if str(n) in state["pairs"]:
                pair.restore(state["pairs"][str(n)])


def offset_of(charge: Estimate | None) -> tuple[float | None, float | None]:
    """What the count believes of its sensor's offset, and how surely. [A, A]"""
    if charge is None:
        return None, None
    facts = charge.reason.facts
    return facts.get("offset_A"), facts.get("offset_sd_A")
