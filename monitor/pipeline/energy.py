"""The energy desk: what is known of the banks, what went in and out of them, and what each night used.

How long it lasts is `monitor.pipeline.forecasts`'s work.
"""

from array import array
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Boot, Interval
from monitor.estimation.charge import ChargeTracker
from monitor.estimation.forecast import Forecast
from monitor.estimation.sun import darkness
from monitor.estimation.water_plan import air_channel
from monitor.pipeline.forecasts import EnergyForecasts
from monitor.pipeline.house_current import HouseCurrent
from monitor.pipeline.memory import Memory
from monitor.pipeline.naming import Naming
from monitor.pipeline.nights import Nights, NightWater
from monitor.pipeline.past import KEPT_S, Past
from monitor.pipeline.power import MinuteSum, PowerMinutes
from monitor.pipeline.recall import LOOK_BACK_S
from monitor.pipeline.sunlight import Sunlight
from monitor.records import Column, Ebb, Estimate, Event, EventKind, Mode, NightLedger
from monitor.routing.slots import Slots
from monitor.settings import Settings
from monitor.storage.history import History

SILENCE = Column(array("d"), array("d"))
FORGOTTEN_S = 12 * HOUR_S
"""How long a computer of unknown time is taken to have been off, until the clock says more."""
AHEAD_S = 11 * DAY_S


class _Saved(NamedTuple):
    """When the state that was restored had been written."""

    boot: int | None
    at_s: float
    utc_s: float | None


class EnergyDesk:
    """Owns a charge tracker for each bank, the minutes' sums, the forecasts and the nights."""

    def __init__(self, settings: Settings, memory: Memory) -> None:
        self._settings = settings
        self.trackers = {bank.name: ChargeTracker(bank) for bank in settings.banks}
        self._house = [b for b in settings.banks if b.role == "house"]
        self.power = PowerMinutes(settings)
        self.forecasts = EnergyForecasts(settings)
        self._sunlight = Sunlight(settings)
        self._sun_Wh: float | None = None
        self._full = False
        self._past = Past()
        self.naming = Naming(settings, memory)
        self._current = HouseCurrent(settings)
        self.ledgers = Nights(settings, self.power, self.naming, self._current)
        self._air = air_channel(settings)
        self._at_s = 0.0
        self._utc_s: float | None = None
        self._boot: int | None = None
        self._saved: _Saved | None = None
        self._owed_gap_s = 0.0
        self._place = (settings.boat.latitude, settings.boat.longitude)
        memory.restore("energy", self._restore)

    # ---- a minute

    def minute(
        self,
        columns: Mapping[str, Column],
        slots: Slots,
        start_s: float,
        utc_s: float | None,
        mode: Mode,
        placed: Boot,
    ) -> list[Event]:
        """Take one minute; the full charges found in it, and the forecasts that it settles."""
        boot = placed.number
        self._current.minute(columns, start_s + MINUTE_S, placed)
        self._catch_up(start_s, utc_s, boot)
        self._at_s, self._utc_s, self._boot = start_s + MINUTE_S, utc_s, boot
        self._locate(columns)
        events = []
        for bank, tracker in self.trackers.items():
            current = columns.get(f"{bank} current", SILENCE)
            voltage = columns.get(f"{bank} voltage", SILENCE)
            tracker.take(current, voltage, columns.get(f"{bank} temperature"))
            for full in tracker.full_events():
                facts = {"since_s": full.since_s, "miss_Ah": full.miss_Ah, "offset_A": full.offset_A}
                events.append(Event(EventKind.FULL, bank, boot, full.at_s, None, facts))
        heard = self.power.minute(columns, slots, start_s)
        self._sun_Wh, self._full = None, self._sunlight.full(columns, self.trackers, self._at_s)
        if utc_s is not None:
            self._sun_Wh = self._sunlight.Wh(columns, start_s, utc_s, self._place)
            left = self._left(self._at_s)
            if left is not None:
                self._past.see(utc_s + MINUTE_S, left)
                air_C = _last(columns.get(self._air)) if self._air else None
                self.ledgers.see(utc_s + MINUTE_S, self._house, self.trackers, self._at_s, mode.place, air_C)
            left_Wh = None if left is None else left.value
            for outcome in self.forecasts.minute(utc_s, mode, heard, self._sun_Wh, self._full, left_Wh):
                events.append(self.forecasts.outcome(outcome, boot, self._at_s))
        return events

    def _catch_up(self, start_s: float, utc_s: float | None, boot: int) -> None:
        """After a restart: how long the watch was off, exactly if the clock can tell, else at most."""
        saved = self._saved
        if saved is None:
            return
        if saved.boot == boot and start_s >= saved.at_s:
            off_s = start_s - saved.at_s
        elif utc_s is not None and saved.utc_s is not None:
            off_s = max(0.0, utc_s - saved.utc_s)
        elif self._owed_gap_s == 0.0:
            off_s = FORGOTTEN_S
        else:
            return
        known = utc_s is not None or saved.boot == boot
        for tracker in self.trackers.values():
            tracker.gap(max(0.0, off_s - self._owed_gap_s))
        self._owed_gap_s = max(self._owed_gap_s, off_s)
        if known:
            self._saved = None

    def gap(self, from_s: float, to_s: float) -> None:
        """Nothing was heard at all: the trackers see it by themselves at the next reading."""
        self._at_s = to_s

    def new_boot(self, at_s: float) -> None:
        """Elapsed time began anew after an unknown time off."""
        for tracker in self.trackers.values():
            tracker.new_boot()
            tracker.gap(FORGOTTEN_S)
        self.power.new_boot()
        self._current.new_boot()
        self._at_s = at_s
        self._sunlight.new_boot()
        self.forecasts.new_boot()

    def _locate(self, columns: Mapping[str, Column]) -> None:
        for instrument in self._settings.instruments:
            latitude = columns.get(f"{instrument.name} latitude")
            longitude = columns.get(f"{instrument.name} longitude")
            if latitude is not None and longitude is not None:
                here = (latitude.values[-1], longitude.values[-1])
                if not any(x != x for x in here):
                    self._place = here

    # ---- what is left, and for how long

    def _left(self, at_s: float) -> Estimate | None:
        """What is left in the house banks together; None while it is unknown of any."""
        found = [e for b in self._house for e in self.trackers[b.name].estimates(at_s) if e.name == "left_Wh"]
        if not found or any(e.value is None for e in found):
            return None
        value = sum(e.value or 0.0 for e in found)
        spread = sum(((e.high or 0.0) - (e.low or 0.0)) ** 2 for e in found) ** 0.5 / 2
        return Estimate(
            "left_Wh", "house", at_s, value, max(0.0, value - spread), value + spread, found[0].reason
        )

    @property
    def charging(self) -> Forecast | None:
        """How long it lasts with the charging usual for this mode."""
        return self.forecasts.charging

    @property
    def autonomy(self) -> Forecast | None:
        """How long with none at all."""
        return self.forecasts.autonomy

    def forecast(self, utc_s: float, at_s: float, mode: Mode, boot: int) -> Iterator[Event]:
        """Draw both forecasts anew; every six hours they are kept beside what will come of them."""
        posteriors = [self.trackers[b.name].posterior(at_s) for b in self._house]
        return self.forecasts.draw(utc_s, at_s, posteriors, self._place, mode, boot)

    def charge_estimates(self) -> list[Estimate]:
        """The charge of every bank, as it stands."""
        return [e for tracker in self.trackers.values() for e in tracker.estimates(self._at_s)]

    def sums(self) -> tuple[float | None, float | None]:
        """Net and made of the newest minute. [Wh] None where nothing was heard."""
        minute = self.power.latest
        return (None, None) if minute is None else (minute.net_Wh, minute.made_Wh)

    def estimates(self) -> list[Estimate]:
        return [*self.charge_estimates(), *self.forecasts.estimates(self._at_s)]

    def amounts(self) -> Iterator[tuple[str, str, float | None]]:
        """What is kept beside the measurements: subject, quantity, value."""
        left = self._left(self._at_s)
        if left is not None:
            yield "house", "energy left", left.value
            yield "house", "energy left low", left.low
            yield "house", "energy left high", left.high
        minute = self.power.latest
        if minute is not None and minute.covered_s > 0:
            yield "house", "net power", minute.net_Wh * 3600 / minute.covered_s
            yield "house", "made power", minute.made_Wh * 3600 / minute.covered_s
            if self._sun_Wh is not None:
                yield "house", "sun power", self._sun_Wh * 60
                yield "house", "bank full", float(self._full)
        for bank in self._house:
            charge = self.trackers[bank.name].estimates(self._at_s)[0]
            yield bank.name, "counted charge", charge.value
            yield bank.name, "counted charge low", charge.low
            if self.charging is not None:
                yield bank.name, "days left low", self.charging.cautious_days

    def ebb(self) -> Ebb | None:
        if not self._house:
            return None
        charging, reserve = self.charging, self.forecasts.reserve_Wh
        ahead = charging.course if charging is not None else Past().course()
        capacity = self.forecasts.capacity_Wh
        return Ebb("energy", self._house[0].name, self._past.course(), ahead, reserve, capacity)

    def last_full_s(self) -> dict[str, float | None]:
        return {
            name: tracker.last_full_at_s if tracker.anchored else None
            for name, tracker in self.trackers.items()
        }

    # ---- nights

    def darkness(self, utc_s: float) -> tuple[tuple[float, float], ...]:
        """Dusk to dawn from two days back to the end of the axis."""
        return tuple(darkness(*self._place, Interval(utc_s - 2 * DAY_S, utc_s + AHEAD_S)))

    def night_over(self, utc_s: float | None, boot: Boot, water: NightWater) -> Event | None:
        """The ledger of the night that ended with this minute, as an event."""
        if utc_s is None:
            return None
        return self.ledgers.over(utc_s + MINUTE_S, self._place, boot, water)

    def nights(self, utc_s: float | None, boot: Boot, water: NightWater) -> tuple[NightLedger, ...]:
        return self.ledgers.all(utc_s, boot, water)

    # ---- restarts

    def state(self) -> dict[str, Any]:
        """What no restart may lose: kept with every minute."""
        banks = {b.name: self.trackers[b.name].state() for b in self._house}
        scores = self.forecasts.scores.state()
        return {
            "banks": banks, "boot": self._boot, "at_s": self._at_s, "utc_s": self._utc_s, "scores": scores,
        }  # fmt: skip

    def _restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`; how long the watch was off is found out with the first minute."""
        saved = _Saved(state["boot"], float(state["at_s"]), state["utc_s"])
        for name, tracker in self.trackers.items():
            if name in state["banks"]:
                tracker.restore(state["banks"][name])
        self._saved = saved
        if "scores" in state:
            self.forecasts.scores.restore(state["scores"])

    def prefill(self, history: History, until_utc_s: float) -> None:
        """Hours of use, the last day and a half and the latest nights, from what was stored."""
        self.forecasts.prefill(history, until_utc_s)
        self._past.prefill(history, "house energy left", until_utc_s)
        span = Interval(until_utc_s - LOOK_BACK_S, until_utc_s)
        self.ledgers.prefill(dated.event for dated in history.events(EventKind.NIGHT, span))

    def prefill_minutes(self, boot: Boot, history: History, until_utc_s: float) -> None:
        """The minutes' sums of the night under way, and its current, in this boot's elapsed time."""
        self._current.prefill(boot, history, until_utc_s)
        recent = Interval(until_utc_s - KEPT_S, until_utc_s)
        net = history.samples("house net power", recent)
        made = dict(zip(*(a.tolist() for a in history.samples("house made power", recent)), strict=True))
        for utc_s, watts in zip(net[0].tolist(), net[1].tolist(), strict=True):
            at_s = boot.elapsed_s(utc_s // MINUTE_S * MINUTE_S)
            if at_s is not None:
                power = made.get(utc_s, max(watts, 0.0))
                self.power.keep(MinuteSum(at_s, watts / 60, power / 60, False, MINUTE_S))


def _last(column: Column | None) -> float | None:
    """The newest reading, None where it is not available."""
    return column.values[-1] if column is not None and column.values[-1] == column.values[-1] else None
