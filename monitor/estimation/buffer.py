"""The lead buffer bank behind its converter: is it kept up, how well is it, and how long would it live?"""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.estimation.converter import ConverterWatch, house_side, mean, output_A
from monitor.estimation.floating import REST_SHARE, SAG_MOST_CELL_V, Floating
from monitor.estimation.lead import REST_BAND_PCT, charge_at_rest_pct
from monitor.estimation.lowest import LowestOfNight
from monitor.estimation.readings import heard
from monitor.estimation.rehearsal import END_CELL_V, LEAST_W, Endurance, rehearse
from monitor.estimation.resistance import ResistanceTrend, step_ohms
from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Event, Finding, Reason, Rehearsal, Severity
from monitor.settings import Bank, Load, Settings

LOW_CELL_V, EMPTY_CELL_V, WELL_CELL_V = 12.2 / 6, 11.8 / 6, 12.5 / 6
"""Half empty at rest; harm; and the end of either. Common practice."""
LIGHT_SHARE = 0.05
"""Of the capacity: a load up to the rated current of 20 h is a light one."""
ALARM_H = 1.0
RISE, RISE_OVER = 1.3, 1.2
"""A resistance so much over the bank's own baseline is a weak bank (cf. IEEE 1188, from memory)."""
TIRED_CELL_V, FRESH_CELL_V = 12.4 / 6, 12.5 / 6
"""A bank that rests at less, although it was full, holds no charge. Common practice."""
_SINCE_FULL_SHARE = 0.05
_STEP_A, _STEP_SHARE = 1.5, 0.015


class BufferWatch:
    """Every lead bank of the role "buffer"."""

    name = "buffer"

    def __init__(self, settings: Settings) -> None:
        self._houses = [b for b in settings.banks if b.role == "house"]
        self._banks = [
            BufferBank(bank, settings)
            for bank in settings.banks
            if bank.role == "buffer" and bank.chemistry == "lead"
        ]

    def take(self, minute: Heard) -> None:
        house = house_side(minute, self._houses)
        for bank in self._banks:
            bank.take(minute, house)

    def estimates(self) -> list[Estimate]:
        return [e for bank in self._banks for e in bank.estimates()]

    def findings(self) -> list[Finding]:
        return [f for bank in self._banks for f in bank.findings()]

    def rehearsals(self) -> tuple[Rehearsal, ...]:
        """What each of them would carry, and how long, if the house side opened now."""
        return tuple(bank.rehearsal() for bank in self._banks)

    def events(self) -> Iterator[Event]:
        return iter(())

    def new_boot(self) -> None:
        for bank in self._banks:
            bank.floating.new_boot()

    def state(self) -> dict[str, Any]:
        return {bank.name: bank.state() for bank in self._banks}

    def restore(self, state: Mapping[str, Any]) -> None:
        for bank in self._banks:
            if bank.name in state:
                bank.restore(state[bank.name])


class BufferBank:
    """One of them, with its converters and the loads that hang on it."""

    def __init__(self, bank: Bank, settings: Settings) -> None:
        self.bank, self.name = bank, bank.name
        self._loads = [load for load in settings.loads if load.bank == bank.name]
        self._converters = [
            ConverterWatch(c, settings)
            for c in settings.chargers
            if c.kind == "converter" and c.into == bank.name
        ]
        self._causes = (
            *(("converter lost", c.converter.name) for c in self._converters),
            *(("cut off", b.name) for b in settings.banks if b.role == "house"),
            ("low voltage", bank.name),
        )
        self.floating = Floating(bank)
        self._endurance = Endurance(bank)
        self._resistance = ResistanceTrend()
        self._lowest = LowestOfNight(bank.name, settings.boat)
        self._rested_full_V: float | None = None
        """Its latest voltage after a true rest that followed a full charge."""
        self._takes_W: dict[str, float] = {}
        self._house: bool | None = None
        self._at_s = 0.0
        self._live = self._hours_to_live()
        self._rehearsed: Rehearsal | None = None

    def take(self, minute: Heard, house: bool | None) -> None:
        bank, self._house, self._at_s = self.floating, house, minute.end_s
        volts = mean(minute, f"{self.name} voltage")
        for converter in self._converters:
            converter.given_A = output_A(minute, converter.converter, volts)
        bank.take(minute.start_s, minute.utc_s, volts, mean(minute, f"{self.name} current"), self._given_A())
        self._resistance.go_on(minute.end_s - minute.start_s)
        self._resistance.add(self._steps(minute))
        heard_V = minute.values(f"{self.name} voltage")
        self._lowest.take(minute.utc_s, float(heard_V.min()) if heard_V.size else None)
        if bank.rested and bank.floated and bank.drawn_Ah <= _SINCE_FULL_SHARE * self.bank.capacity_Ah:
            self._rested_full_V = bank.volts
        self._takes_W = {load.name: w for load in self._loads if (w := _takes_W(load, minute)) is not None}
        self._endurance.weigh(bank.floated, bank.drawn_Ah, bank.sights, bool(self._weak()[0]))
        self._live, self._rehearsed = self._hours_to_live(), None

    def _given_A(self) -> float | None:
        """What its converters give together; None where the meter of one is silent."""
        given = [c.given_A for c in self._converters]
        known = [a for a in given if a is not None]
        return sum(known) if known and len(known) == len(given) else None

    def _steps(self, minute: Heard) -> list[float]:
        """R at each step of its load while no charger holds the voltage."""
        amperes, volts = (minute.columns.get(f"{self.name} {q}") for q in ("current", "voltage"))
        if amperes is None or volts is None or not self.floating.giving:
            return []
        least_A = max(_STEP_A, _STEP_SHARE * self.bank.capacity_Ah)
        return step_ohms(*heard(amperes), *heard(volts), least_A, SAG_MOST_CELL_V * self.bank.cells)

    # ---- what is worked out

    def estimates(self) -> list[Estimate]:
        return [*self._rest(), self._ohms(), self._lowest.estimate(self._at_s), self._live]

    def rehearsal(self) -> Rehearsal:
        """Of the newest minute: drawn up when it is first asked for."""
        if self._rehearsed is None:
            bank, takes_W = self.floating, self._takes_W
            loads = [(load, takes_W[load.name]) for load in self._loads if load.name in takes_W]
            self._rehearsed = rehearse(self.bank, loads, bank.hanging_W, self._endurance, bank.minutes)
        return self._rehearsed

    def _hours_to_live(self) -> Estimate:
        """How long it carries what hangs on it now, or by the settings where no meter tells."""
        bank, watts = self.floating, self.floating.hanging_W
        told: dict[str, float | str | None] = {"bank": self.name, "watts": watts}
        told["end_V"] = END_CELL_V * self.bank.cells
        reason = Reason("buffer gives" if bank.giving else "buffer would live", told)
        if watts is None:
            return self._told("hours_to_live", None, Reason("buffer load unknown", told))
        if watts < LEAST_W:
            return self._told("hours_to_live", None, Reason("nothing hangs on the buffer", told))
        return self._told("hours_to_live", self._endurance.hours(watts), reason)

    def _rest(self) -> Iterator[Estimate]:
        bank, told = self.floating, {"bank": self.name, "rest_s": self.floating.rest_s}
        if bank.rested and bank.volts is not None:
            pct = charge_at_rest_pct(bank.volts, self.bank.cells)
            reason = Reason("buffer rested", told)
            yield self._told("rested_V", (bank.volts, bank.volts - 0.05, bank.volts + 0.05), reason)
            low, high = max(0.0, pct - REST_BAND_PCT), min(100.0, pct + REST_BAND_PCT)
            yield self._told("buffer_pct", (pct, low, high), reason)
            return
        if bank.on_float:
            reason = Reason("buffer on float", told)
        elif bank.volts is None or bank.amperes is None:
            reason = Reason("buffer not heard", told)
        else:
            reason = Reason("buffer not rested", told | {"most_A": REST_SHARE * self.bank.capacity_Ah})
        yield self._told("rested_V", None, reason)
        yield self._told("buffer_pct", None, reason)

    def _ohms(self) -> Estimate:
        now, rise, yearly = self._resistance.now(), self._resistance.rise(), self._resistance.yearly()
        if now is None:
            return self._told("buffer_mohm", None, Reason("buffer shows no resistance", {"bank": self.name}))
        told = {"bank": self.name, "steps": now.steps}
        told |= {"rise_pct": None if rise is None else 100 * (rise[0] - 1)}
        told |= {"yearly_pct": None if yearly is None else 100 * (yearly - 1)}
        reason = Reason("buffer resistance learning" if rise is None else "buffer resistance", told)
        return self._told("buffer_mohm", (1e3 * now.ohms, 1e3 * now.low, 1e3 * now.high), reason)

    def _told(self, name: str, band: tuple[float, float, float] | None, reason: Reason) -> Estimate:
        value, low, high = (None, None, None) if band is None else band
        return Estimate(name, self.name, self._at_s, value, low, high, reason)

    # ---- what it finds

    def findings(self) -> list[Finding]:
        converters = (c.findings(self.floating, self._house, self._live) for c in self._converters)
        return [*(f for found in converters for f in found), self._low(), self._weak_finding()]

    def _low(self) -> Finding:
        """Of its own once it is an alarm, whatever the cause: then somebody is wanted at once."""
        bank, cells, likely_h = self.floating, self.bank.cells, self._live.value
        holds = clears = None
        severity = None
        if bank.volts is not None:
            light = bank.amperes is None or bank.amperes >= -LIGHT_SHARE * self.bank.capacity_Ah
            ending = bool(bank.giving and likely_h is not None and likely_h < ALARM_H)
            empty = bank.volts < EMPTY_CELL_V * cells
            holds = empty or ending or (light and bank.volts < LOW_CELL_V * cells)
            clears = not holds and bank.volts >= WELL_CELL_V * cells
            severity = Severity.ALARM if empty or ending else None
        told = {"bank": self.name, "voltage_V": bank.volts, "limit_V": LOW_CELL_V * cells}
        told |= {f"{name}_s": h and h * 3600 for name, h in (("likely", likely_h), ("low", self._live.low))}
        under = self._causes if severity is None else self._causes[-1:]
        return Finding(
            "buffer low", self.name, holds, clears, Reason("alert: buffer low", told), severity, under=under
        )

    def _weak(self) -> tuple[bool | None, bool | None]:
        """Whether it is known to be weak, and to be well: by its resistance and its rested voltage."""
        rise, rested_V, cells = self._resistance.rise(), self._rested_full_V, self.bank.cells
        holds: list[bool] = []
        clears: list[bool] = []
        if rise is not None:
            holds.append(rise[0] >= RISE and rise[1] > 1.0)
            clears.append(rise[0] < RISE_OVER)
        if rested_V is not None:
            holds.append(rested_V < TIRED_CELL_V * cells)
            clears.append(rested_V >= FRESH_CELL_V * cells)
        return (any(holds), all(clears)) if holds else (None, None)

    def _weak_finding(self) -> Finding:
        holds, clears = self._weak()
        now, rise = self._resistance.now(), self._resistance.rise()
        told: dict[str, float | str | None] = {"bank": self.name, "rested_V": self._rested_full_V}
        told |= {"mohm": None if now is None else 1e3 * now.ohms}
        told |= {"rise_pct": None if rise is None else 100 * (rise[0] - 1)}
        risen = rise is not None and rise[0] >= RISE and rise[1] > 1.0
        reason = Reason("alert: buffer resistance up" if risen else "alert: buffer rests low", told)
        return Finding("buffer weak", self.name, holds, clears, reason)

    # ---- restarts

    def state(self) -> dict[str, Any]:
        rested_V = self._rested_full_V
        return {
            "floating": self.floating.state(),
            "resistance": self._resistance.state(),
            "lowest": self._lowest.state(),
            "rested_full_V": None if rested_V is None else round(rested_V, 3),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        self.floating.restore(state["floating"])
        self._resistance.restore(state["resistance"])
        self._lowest.restore(state["lowest"])
        self._rested_full_V = state["rested_full_V"]


def _takes_W(load: Load, minute: Heard) -> float | None:
    """What a load takes while it is on: as the settings say, else what its own meter reads now."""
    return load.usual_W if load.usual_W is not None else minute.newest(f"{load.name} power")
