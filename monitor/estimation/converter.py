"""What can be wrong with a converter that keeps a lead bank up: it has stopped, or it cannot do enough."""

from math import isfinite

from monitor.estimation.floating import SAG_CELL_V, SAG_MOST_CELL_V, Floating
from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Finding, Reason
from monitor.settings import Bank, Charger, Settings

_AT_LIMIT = 0.95
"""Of the rating."""
_IDLE_A, _IDLE_SHARE = 0.5, 0.02


def output_A(minute: Heard, converter: Charger, volts: float | None) -> float | None:
    """What it gives to the bank, by its current or its power; None where no meter tells."""
    amperes = mean(minute, f"{converter.name} current")
    if amperes is not None:
        return amperes
    watts = mean(minute, f"{converter.name} power")
    return watts / volts if watts is not None and volts else None


def mean(minute: Heard, channel: str) -> float | None:
    """Of the minute; the newest reading where a slow instrument said nothing in it."""
    found = minute.mean(channel)
    found = minute.newest(channel) if found is None else found
    return found if found is not None and isfinite(found) else None


def house_side(minute: Heard, houses: list[Bank]) -> bool | None:
    """Whether the house side can feed a converter: some house bank has its voltage and is not cut off.

    Where no house bank is watched, it is taken to be well.
    """
    sides = [_fed(minute, bank) for bank in houses]
    return any(sides) or (None if None in sides else not sides)


def _fed(minute: Heard, bank: Bank) -> bool | None:
    if minute.newest(f"{bank.name} contactor closed") == 0:
        return False
    volts = mean(minute, f"{bank.name} voltage")
    if volts is None:
        return None
    dead_V = bank.cell_limits_V[0] * bank.cells if bank.chemistry == "lifepo4" else 0.8 * bank.nominal_V
    return volts > dead_V


class ConverterWatch:
    """One converter; the findings are of the newest minute."""

    def __init__(self, converter: Charger, settings: Settings) -> None:
        self.converter = converter
        self._roots = tuple(
            (rule, bank.name)
            for bank in settings.banks
            if bank.role == "house"
            for rule in ("cut off", "low voltage")
        )
        self.given_A: float | None = None

    def findings(self, bank: Floating, house: bool | None, live: Estimate) -> list[Finding]:
        return [self._lost(bank, house, live), self._at_limit(bank)]

    @property
    def _idle(self) -> bool | None:
        """It gives nothing to speak of; a meter may have died with it."""
        if self.given_A is None:
            return None
        return self.given_A < max(_IDLE_A, _IDLE_SHARE * (self.converter.rated_A or 0.0))

    def _lost(self, bank: Floating, house: bool | None, live: Estimate) -> Finding:
        """The bank gives although the house side is well; if that is off, it is not its fault."""
        holds = clears = None
        if bank.giving is not None and house is not None:
            holds = bool(house and bank.giving and self._idle is not False)
            clears = not bank.giving and (self._idle is False or bool(bank.on_float) or bool(bank.taking))
        told = {"converter": self.converter.name, "bank": bank.bank.name, "voltage_V": bank.volts}
        told |= {"likely_s": _seconds(live.value), "low_s": _seconds(live.low)}
        reason = Reason("alert: converter lost", told)
        return Finding("converter lost", self.converter.name, holds, clears, reason, under=self._roots)

    def _at_limit(self, bank: Floating) -> Finding:
        """The voltage sags though it works: the load is too much for it, or it gives less than it should.

        While the bank takes charge it is only being charged again.
        """
        rated_A, cells = self._rated_A(bank.volts), bank.bank.cells
        holds = clears = None
        if bank.volts is not None and self.given_A is not None:
            works = self._idle is False and not bank.taking
            holds = works and bank.volts < SAG_CELL_V * cells
            clears = not works or bank.volts >= SAG_MOST_CELL_V * cells
        full = rated_A is None or self.given_A is None or self.given_A >= _AT_LIMIT * rated_A
        told = {
            "converter": self.converter.name,
            "bank": bank.bank.name,
            "given_A": self.given_A,
            "rated_A": rated_A,
            "voltage_V": bank.volts,
        }
        reason = Reason("alert: converter at limit" if full else "alert: converter gives too little", told)
        return Finding("converter at limit", self.converter.name, holds, clears, reason, under=self._roots)

    def _rated_A(self, volts: float | None) -> float | None:
        if self.converter.rated_A is not None or self.converter.rated_W is None or not volts:
            return self.converter.rated_A
        return self.converter.rated_W / volts


def _seconds(hours: float | None) -> float | None:
    return None if hours is None else hours * 3600
