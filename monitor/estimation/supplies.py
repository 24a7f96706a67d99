"""The AC supplies: how much of each is used, whether it sags, and whether the bank must help."""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.estimation.bands import BAND_90
from monitor.estimation.supply import BELOW_LIMIT, METER_STEP_A, SupplyLine
from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Event, Finding, Reason, Severity
from monitor.settings import Bank, Settings

CONTINUOUS_SHARE = 0.8
"""Of a breaker's figure, for hours. Common practice."""
LOW_SHARE, TOO_LOW_SHARE, GOOD_SHARE = 0.92, 0.90, 0.93
"""8 % below nominal: big loads off. 10 %: the edge of EN 50160's band. Common practice."""
AT_LIMIT = 0.95
IDLES_SHARE, WORKS_SHARE = 0.30, 0.35
"""A diesel set wants 50 to 75 % and suffers below 30 %. Common practice."""
SLOWEST_SHARE = 0.95
"""Of its nominal frequency: a governor's droop is within 5 % (ISO 8528-5 class G2, from memory)."""


class SupplyWatch:
    """Watches every supply of the settings."""

    name = "supplies"

    def __init__(self, settings: Settings) -> None:
        self._lines = [SupplyLine(settings, supply) for supply in settings.supplies]
        heaters = [h.name for h in settings.heaters if h.power_W]
        chargers = [c.name for c in settings.chargers if c.kind in ("shore", "generator")]
        self._jobs = ", ".join(chargers + heaters) or "charging"
        self._left: Mapping[tuple[str, str], Estimate] = {}
        self._at_s = 0.0

    def take(self, minute: Heard) -> None:
        self._at_s, self._left = minute.end_s, minute.estimates
        for line in self._lines:
            line.take(minute)

    def events(self) -> Iterator[Event]:
        return iter(())

    def new_boot(self) -> None:
        """How long the watch was off nobody knows: what stood then is unknown now."""
        for line in self._lines:
            line.load = line.volts = line.off = line.help_W = None

    def state(self) -> dict[str, Any]:
        return {line.supply.name: {"sag": line.sag.state(), "gone_s": line.gone_s} for line in self._lines}

    def restore(self, state: Mapping[str, Any]) -> None:
        for line in self._lines:
            kept = state.get(line.supply.name)
            if kept is not None:
                line.sag.restore(kept["sag"])
                line.gone_s = float(kept["gone_s"])

    # ---- figures

    def estimates(self) -> list[Estimate]:
        return [e for line in self._lines for e in self._estimates(line)]

    def _estimates(self, line: SupplyLine) -> Iterator[Estimate]:
        silent = Reason("supply is off" if line.off else "supply not heard", {"supply": line.supply.name})
        yield self._load(line, silent)
        yield from self._sag(line, silent)
        if line.helper is not None and line.supply.kind == "shore":
            yield self._help_hours(line, line.helper)

    def _load(self, line: SupplyLine, silent: Reason) -> Estimate:
        """Shore: share of the limit, by the current. Generator: of what it carries for hours, by the
        watts. The band is what was seen within the minute."""
        supply, load, at_s = line.supply, line.load, self._at_s
        ashore = supply.kind == "shore"
        name = "shore_load_pct" if ashore else "generator_load_pct"
        if load is None:
            return Estimate(name, supply.name, at_s, None, None, None, silent)
        pct = 100 * (load.share if ashore else load.watts / supply.continuous_W)
        per_A = pct / load.amps if load.amps > 0.0 else 0.0
        told = {"amps": load.amps, "watts": load.watts, "limit_A": load.limit_A}
        told["rated_W"] = supply.continuous_W
        reason = Reason("shore carries" if ashore else "generator carries", told)
        return Estimate(name, supply.name, at_s, pct, per_A * load.low_A, per_A * load.high_A, reason)

    def _sag(self, line: SupplyLine, silent: Reason) -> Iterator[Estimate]:
        sag, name, at_s = line.sag, line.supply.name, self._at_s
        least_V = LOW_SHARE * line.supply.nominal_V
        if line.load is None or not sag.known:
            why = silent if line.load is None else Reason("supply line not known", {"supply": name})
            for what in ("supply_ohm", "supply_open_V", "supply_most_A"):
                yield Estimate(what, name, at_s, None, None, None, why)
            return
        reason = Reason("supply line", {"ohm": sag.ohm, "open_V": sag.open_V, "least_V": least_V})
        for what, value, spread in (
            ("supply_ohm", sag.ohm, BAND_90 * sag.ohm_sd),
            ("supply_open_V", sag.open_V, BAND_90 * sag.open_sd_V),
        ):
            yield Estimate(what, name, at_s, value, value - spread, value + spread, reason)
        most, low, high = (sag.most_A(least_V, sds) for sds in (0.0, BAND_90, -BAND_90))
        yield Estimate("supply_most_A", name, at_s, most, low, high, reason)

    def _help_hours(self, line: SupplyLine, bank: Bank) -> Estimate:
        """To the reserve, at what the bank adds now; `low` from the low edge of what is left."""
        name, at_s = line.supply.name, self._at_s
        left = self._left.get(("left_Wh", bank.name))
        if line.help_W is None or left is None or left.value is None:
            why = "bank does not help" if line.help_W is None else "bank helps, charge unknown"
            return Estimate("help_hours", name, at_s, None, None, None, Reason(why, {"bank": bank.name}))
        value, low, high = (
            _seconds(Wh, bank.reserve_Wh, line.help_W) / 3600
            for Wh in (left.value, left.low or 0.0, left.high or left.value)
        )
        told = {"bank": bank.name, "help_W": line.help_W, "reserve_pct": bank.reserve_pct}
        return Estimate("help_hours", name, at_s, value, low, high, Reason("bank helps", told))

    # ---- findings

    def findings(self) -> list[Finding]:
        return [finding for line in self._lines for finding in self._findings(line)]

    def _findings(self, line: SupplyLine) -> Iterator[Finding]:
        if line.supply.kind == "generator":
            yield _generator_overloaded(line)
            yield _generator_idles(line, self._jobs)
            yield _sags(line, "generator overloaded")
            return
        yield _shore_overloaded(line)
        if line.helper is not None:
            yield self._bank_helps(line, line.helper)
        yield _sags(line, "shore overloaded")

    def _bank_helps(self, line: SupplyLine, bank: Bank) -> Finding:
        load = line.load
        holds, clears = _when_off(line)
        if load is not None:
            holds = clears = None
            if line.discharging is not None:
                holds = load.share >= AT_LIMIT and line.discharging
                clears = load.share < BELOW_LIMIT or not line.discharging
        left = self._left.get(("left_Wh", bank.name))
        low_Wh = None if left is None else left.low
        told: dict[str, Any] = {
            "supply": line.supply.name, "bank": bank.name, "reserve_pct": bank.reserve_pct,
            "amps": load.amps if load else None, "limit_A": load.limit_A if load else None,
            "help_W": line.help_W, "reserve_s": None, "empty_s": None,
        }  # fmt: skip
        if low_Wh is not None and line.help_W is not None:
            told["reserve_s"] = _seconds(low_Wh, bank.reserve_Wh, line.help_W)
            told["empty_s"] = _seconds(low_Wh, 0.0, line.help_W)
        reason = Reason(
            "alert: bank helps shore" if low_Wh is not None else "alert: bank helps blindly", told
        )
        return Finding("bank helps shore", line.supply.name, holds, clears, reason)


def _shore_overloaded(line: SupplyLine) -> Finding:
    load, limit_A = line.load, line.supply.limit_A
    told: dict[str, Any] = {"supply": line.supply.name, "amps": None, "VA": None, "limit_A": limit_A}
    holds, clears = _when_off(line)
    if load is not None:
        told |= {"amps": load.amps, "VA": load.amps * load.volts, "limit_A": load.limit_A}
        holds, clears = load.amps > load.limit_A + METER_STEP_A / 2, load.amps <= load.limit_A
    told["for_hours_A"] = CONTINUOUS_SHARE * told["limit_A"]
    reason = Reason("alert: shore overloaded", told)
    return Finding("shore overloaded", line.supply.name, holds, clears, reason)


def _sags(line: SupplyLine, root: str) -> Finding:
    supply, sag, volts = line.supply, line.sag, line.volts
    holds, clears = _when_off(line)
    severity = None
    least_V = LOW_SHARE * supply.nominal_V
    if volts is not None:
        holds, clears = volts < least_V, volts >= GOOD_SHARE * supply.nominal_V
        severity = Severity.WARNING if volts < TOO_LOW_SHARE * supply.nominal_V else None
    told = {
        "supply": supply.name, "volts": volts, "nominal_V": supply.nominal_V, "least_V": least_V,
        "open_V": sag.open_V if sag.known else None, "most_A": sag.most_A(least_V, BAND_90),
        "amps": line.load.amps if line.load else None,
    }  # fmt: skip
    reason = Reason(_cause(line, least_V), told)
    return Finding("supply sags", supply.name, holds, clears, reason, severity, under=((root, supply.name),))


def _cause(line: SupplyLine, least_V: float) -> str:
    """The load is blamed only where the voltage surely falls with it and would be good without it."""
    sag = line.sag
    if sag.significant and sag.open_V - BAND_90 * sag.open_sd_V >= least_V:
        return "alert: supply sags under our load"
    if sag.known and sag.open_V + BAND_90 * sag.open_sd_V < least_V:
        return "alert: supply is low by itself"
    return "alert: supply sags"


def _generator_overloaded(line: SupplyLine) -> Finding:
    load, supply = line.load, line.supply
    holds, clears = _when_off(line)
    id = "alert: generator overloaded"
    if load is not None:
        nominal_Hz = 60.0 if line.most_Hz > 56.0 else 50.0
        slow = load.hz is not None and 0.0 < load.hz < SLOWEST_SHARE * nominal_Hz
        low = load.volts < LOW_SHARE * supply.nominal_V
        over = load.watts > supply.continuous_W or load.amps > load.limit_A + METER_STEP_A / 2
        holds = over or slow or low
        clears = not holds and load.watts <= 0.95 * supply.continuous_W and load.amps <= load.limit_A
        id = "alert: generator gives way" if (slow or low) and not over else id
    told = {
        "supply": supply.name, "rated_W": supply.continuous_W, "watts": load.watts if load else None,
        "amps": load.amps if load else None, "limit_A": load.limit_A if load else supply.limit_A,
        "volts": load.volts if load else None, "hz": load.hz if load else None,
    }  # fmt: skip
    return Finding("generator overloaded", supply.name, holds, clears, Reason(id, told))


def _generator_idles(line: SupplyLine, jobs: str) -> Finding:
    load, supply = line.load, line.supply
    told: dict[str, Any] = {"supply": supply.name, "watts": None, "load_pct": None, "jobs": jobs}
    told["rated_W"] = supply.continuous_W
    holds, clears = _when_off(line)
    if load is not None:
        share = load.watts / supply.continuous_W
        told |= {"watts": load.watts, "load_pct": 100 * share}
        holds, clears = share < IDLES_SHARE, share >= WORKS_SHARE
    return Finding("generator idles", supply.name, holds, clears, Reason("alert: generator idles", told))


def _when_off(line: SupplyLine) -> tuple[bool | None, bool | None]:
    """What is off neither overloads nor sags; of what is silent nothing is known."""
    return (False, True) if line.off else (None, None)


def _seconds(left_Wh: float, until_Wh: float, watts: float) -> float:
    return max(0.0, left_Wh - until_Wh) / watts * 3600
