"""One AC supply, minute by minute: what it gives, how it gives way, and what a bank adds to it."""

from typing import NamedTuple

import numpy as np

from monitor.estimation.sag import SourceLine
from monitor.estimation.watcher import Heard
from monitor.settings import Bank, Settings, Supply

LIVE_SHARE = 0.5
"""Of the nominal voltage: below it nothing is supplied."""
METER_STEP_A = 0.1
BELOW_LIMIT = 0.90
HELPS_A = 1.0
"""A bank that gives less than this is not helping: it rests."""
OFF_AFTER_S = 600.0
ANOTHER_PLUG_S = 3600.0
"""A supply that was off for so long may be another pedestal."""
HELP_MEMORY_MIN = 10.0


class Load(NamedTuple):
    """What a live supply gives: means of a minute. S = V I [VA], P = S pf [W]."""

    volts: float
    """The nominal voltage where none is told."""
    amps: float
    """Measured, or from the watts by the power factor."""
    low_A: float
    high_A: float
    watts: float
    limit_A: float
    hz: float | None

    @property
    def share(self) -> float:
        """Of the limit, by the current: that is what a breaker looks at."""
        return self.amps / self.limit_A


def power_factor(volts: float | None, amps: float | None, watts: float | None, otherwise: float) -> float:
    """P / (V I) where all are measured and make sense, else as given. [-]"""
    if volts is None or amps is None or not watts or volts * amps < 1.0:
        return otherwise
    return min(1.0, abs(watts) / (volts * amps))


class SupplyLine:
    """One supply and what is remembered of it.

    A supply that is silent while its source speaks is off; one that fell silent just now, or
    together with its source, is unknown.
    """

    def __init__(self, settings: Settings, supply: Supply) -> None:
        self.supply = supply
        self.sag = SourceLine()
        self.load: Load | None = None
        self.volts: float | None = None
        """None while it is off or does not tell."""
        self.off: bool | None = None
        self.gone_s = 0.0
        self.help_W: float | None = None
        """What the bank adds, averaged; None while it does not."""
        self.discharging: bool | None = None
        self.most_Hz = 0.0
        """Of this run: 60 Hz or 50."""
        sources = {feed.source for feed in supply.feeds}
        self._neighbours = tuple(
            f"{subject.name} "
            for _, subject in settings.subjects()
            if subject is not supply and any(feed.source in sources for feed in subject.feeds)
        )
        banks = {bank.name: bank for bank in settings.banks}
        behind = [i for i in settings.inverters if i.supply == supply.name and i.helps]
        self.helper: Bank | None = banks[behind[0].bank] if behind else None

    def take(self, minute: Heard) -> None:
        self.load = self._look(minute)
        self._mind_silence(minute)
        if self.gone_s >= ANOTHER_PLUG_S:
            self.sag.forget()
            self.most_Hz = 0.0
        elif self.load is not None:
            if self.volts is not None:
                self.sag.take(self.volts, self.load.amps)
            self.most_Hz = max(self.most_Hz, self.load.hz or 0.0)
        self._see_help(minute)

    def _look(self, minute: Heard) -> Load | None:
        """None where it is off or tells too little."""
        name, nominal_V = self.supply.name, self.supply.nominal_V
        volts, watts = now(minute, f"{name} ac voltage"), now(minute, f"{name} ac power")
        amps = now(minute, f"{name} ac current")
        live = volts is not None and volts >= LIVE_SHARE * nominal_V
        self.volts = volts if live else None
        told = now(minute, f"{name} power factor")
        factor = power_factor(volts, amps, watts, abs(told) if told else self.supply.power_factor)
        seen = minute.values(f"{name} ac current")
        if amps is None and watts is not None:
            amps = abs(watts) / (self.volts or nominal_V) / factor
        if amps is None or not (live or (volts is None and amps >= METER_STEP_A)):
            return None
        low_A, high_A = np.quantile(seen, (0.05, 0.95)).tolist() if seen.size else (amps, amps)
        breaker_A = now(minute, f"{name} breaker")
        volts = self.volts or nominal_V
        return Load(
            volts,
            amps,
            low_A,
            high_A,
            abs(watts) if watts is not None else volts * amps * factor,
            min(self.supply.limit_A, breaker_A or self.supply.limit_A),
            now(minute, f"{name} ac frequency"),
        )

    def _mind_silence(self, minute: Heard) -> None:
        if self.load is not None or self.volts is not None:
            self.off, self.gone_s = False, 0.0
        elif now(minute, f"{self.supply.name} ac voltage") is not None:
            self.off = True
            self.gone_s += 60.0
        elif any(name.startswith(self._neighbours) for name in minute.columns):
            self.gone_s += 60.0
            self.off = True if self.off or self.gone_s >= OFF_AFTER_S else None
        else:
            self.off = None

    def _see_help(self, minute: Heard) -> None:
        bank, load = self.helper, self.load
        amps = None if bank is None else now(minute, f"{bank.name} current")
        self.discharging = None if amps is None else amps < -HELPS_A
        if bank is None or amps is None or load is None or load.share < BELOW_LIMIT or not self.discharging:
            self.help_W = None
            return
        watts = -amps * (now(minute, f"{bank.name} voltage") or bank.nominal_V)
        before_W = watts if self.help_W is None else self.help_W
        self.help_W = before_W + (watts - before_W) / HELP_MEMORY_MIN


def now(minute: Heard, name: str) -> float | None:
    """The mean of the minute, or the newest reading that still counts."""
    mean = minute.mean(name)
    return minute.newest(name) if mean is None else mean
