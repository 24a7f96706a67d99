"""Who carries a load that is switched on now, and what gives way.

    A more from the supply = P / (V pf)     the breaker counts the current, not the watts
    from the bank = (P - what the supply still carries) / efficiency of the inverter

What a charger takes from the supply gives way before a bank that helps is called upon. The voltage that
sags under the load is not looked at.
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from monitor.records import Reading, Reason
from monitor.settings import Bank, Charger, Inverter, Settings, Supply

LIVE_SHARE = 0.5
"""Of the nominal voltage: below it nothing is supplied."""
CHARGER_EFFICIENCY = 0.9
"""Common practice."""
ON_A_SUPPLY = ("shore", "generator")
"""The kinds of chargers that hang on one."""


class Carried(NamedTuple):
    """How the load is shared. `amps` and `supply_W` are all that the supply gives then, `inverter_W` what
    the inverter adds at its AC side, `bank_W` what the bank gives more than before."""

    supply: Supply | None
    amps: float
    limit_A: float
    supply_W: float
    inverter_W: float
    bank_W: float

    @property
    def by(self) -> str:
        """ "supply", "bank" or "both"."""
        if self.supply is None:
            return "bank"
        return "both" if self.bank_W > 0 else "supply"


class Aboard:
    """The bank, the inverter and the live supply, and what they say now."""

    def __init__(self, settings: Settings, values: Mapping[str, Reading]) -> None:
        self._values = values
        houses = [b for b in settings.banks if b.role == "house"]
        self.inverter: Inverter | None = next(iter(settings.inverters), None)
        own = [b for b in settings.banks if self.inverter is not None and b.name == self.inverter.bank]
        self.bank: Bank | None = next(iter([*own, *houses]), None)
        self.chargers: list[Charger] = [c for c in settings.chargers if c.kind in ON_A_SUPPLY]
        live = [s for s in settings.supplies if self._volts(s) >= LIVE_SHARE * s.nominal_V]
        self.supply: Supply | None = min(live, key=lambda s: s.kind != "shore", default=None)
        """The one that is live, the shore before a generator."""

    def value(self, name: str) -> float | None:
        """The newest reading that is neither silent nor "not available"."""
        reading = self._values.get(name)
        return None if reading is None or reading.silent else reading.value

    def _volts(self, supply: Supply) -> float:
        return self.value(f"{supply.name} ac voltage") or 0.0

    @property
    def bank_V(self) -> float:
        """The bank's voltage, its nominal one where none is told."""
        if self.bank is None:
            return 12.0
        return self.value(f"{self.bank.name} voltage") or self.bank.nominal_V

    @property
    def bank_A(self) -> float | None:
        """The bank's current, positive into it."""
        return None if self.bank is None else self.value(f"{self.bank.name} current")

    @property
    def inverter_W(self) -> float | None:
        """What the inverter gives already; None where it does not tell."""
        return None if self.inverter is None else self.value(f"{self.inverter.name} ac power")

    def charging_W(self) -> float:
        """What the chargers on a supply put into the banks now, as far as meters tell."""
        total_W = 0.0
        for charger in self.chargers:
            watts, amps = self.value(f"{charger.name} power"), self.value(f"{charger.name} current")
            if watts is None and amps is not None:
                watts = amps * (self.value(f"{charger.name} voltage") or self.bank_V)
            total_W += max(0.0, watts or 0.0)
        return total_W

    def given(self, supply: Supply) -> tuple[float, float, float]:
        """The amperes and watts a supply gives now, and its limit in amperes."""
        volts, factor = self._volts(supply), supply.power_factor
        factor = abs(self.value(f"{supply.name} power factor") or factor)
        amps, watts = self.value(f"{supply.name} ac current"), self.value(f"{supply.name} ac power")
        if amps is None:
            amps = 0.0 if watts is None else abs(watts) / volts / factor
        watts = volts * amps * factor if watts is None else abs(watts)
        breaker_A = self.value(f"{supply.name} breaker") or supply.limit_A
        return amps, watts, min(supply.limit_A, breaker_A)


def on_the_bank(watts: float, inverter: Inverter | None = None) -> Carried:
    """A load that the bank carries alone, through the inverter where there is one."""
    if inverter is None:
        return Carried(None, 0.0, 0.0, 0.0, 0.0, watts)
    return Carried(None, 0.0, 0.0, 0.0, watts, watts / inverter.efficiency)


def carry(aboard: Aboard, watts: float, power_factor: float) -> Carried | None:
    """Who carries a load on mains; None where nobody can."""
    supply, inverter = aboard.supply, aboard.inverter
    if supply is None:
        return None if inverter is None else on_the_bank(watts, inverter)
    amps, given_W, limit_A = aboard.given(supply)
    per_A = (aboard.value(f"{supply.name} ac voltage") or supply.nominal_V) * power_factor
    amps += watts / per_A
    helped = inverter is not None and inverter.helps and inverter.supply == supply.name
    if not helped or inverter is None or amps <= limit_A:
        return Carried(supply, amps, limit_A, given_W + watts, 0.0, 0.0)
    over_W = (amps - limit_A) * per_A
    yields_W = min(over_W, aboard.charging_W() / CHARGER_EFFICIENCY)
    inverter_W = min(watts, over_W - yields_W)
    bank_W = yields_W * CHARGER_EFFICIENCY + inverter_W / inverter.efficiency
    return Carried(supply, limit_A, limit_A, given_W + watts - over_W, inverter_W, bank_W)


def gives_way(aboard: Aboard, carried: Carried) -> Iterator[Reason]:
    """Everything that trips, cuts or is open."""
    if carried.supply is not None:
        yield from _supply(carried, carried.supply)
    if carried.inverter_W > 0 and aboard.inverter is not None:
        inverter = aboard.inverter
        already_W = aboard.inverter_W if carried.supply is None else 0.0
        total_W = carried.inverter_W + abs(already_W or 0.0)
        if total_W > inverter.rated_W:
            told = {"inverter": inverter.name, "watts": total_W, "rated_W": inverter.rated_W}
            yield Reason("run: over the inverter", told)
    if carried.bank_W > 0 and aboard.bank is not None:
        yield from _bank(aboard, aboard.bank, carried.bank_W)


def _supply(carried: Carried, supply: Supply) -> Iterator[Reason]:
    told = {"supply": supply.name, "amps": carried.amps, "watts": carried.supply_W}
    if carried.amps > carried.limit_A:
        yield Reason("run: over the supply", told | {"limit_A": carried.limit_A})
    elif supply.kind == "generator" and carried.supply_W > supply.continuous_W:
        yield Reason("run: over the generator", told | {"rated_W": supply.continuous_W})


def _bank(aboard: Aboard, bank: Bank, bank_W: float) -> Iterator[Reason]:
    if aboard.value(f"{bank.name} contactor closed") == 0.0:
        yield Reason("run: bank is cut off", {"bank": bank.name})
    amps = bank_W / aboard.bank_V - (aboard.bank_A or 0.0)
    told_A = aboard.value(f"{bank.name} discharge limit")
    limit_A = bank.discharge_limit_A if told_A is None else told_A
    if limit_A is not None and amps > limit_A:
        yield Reason("run: over the bank", {"bank": bank.name, "amps": amps, "limit_A": limit_A})
