"""What a source puts into the house banks, net, while it runs in earnest.

    net of a source = what the banks take - what the other sources give

The loads of those minutes are taken off: that is how the charge rises by the engine's hour, and a plan
built on it is a cautious one. The figure is the median of the last six hours of running in earnest, ten
minutes a value. Minutes in the tail, when the bank takes less than it is offered, teach nothing.
"""

from statistics import median

from monitor.settings import Bank, Charger

KEPT_TENS = 36
LEARNED_TENS = 3
EARNEST = 0.3
"""Of what is planned on: with less a source idles, or is held back."""
LEAST_W = 30.0
LABEL_SHARE = {"shore": 0.9, "generator": 0.9}
OTHER_SHARE = 0.6
"""Of the label: a warm alternator at a cruising boat's revolutions, panels at sea, wind and hydro give
some 60 %, a charger on mains holds nine tenths of it for hours. Common practice."""
TAIL_SHARE = {"lifepo4": 0.95, "lead": 0.80}
"""From this charge on a bank takes less and less. Common practice."""
_HALF_STEP_V = 0.005


def planned_W(charger: Charger, bank: Bank, kind: str) -> float:
    """What to plan on until it is learned; 0 where no rating is given."""
    label_W = charger.rated_W or (charger.rated_A or 0.0) * bank.nominal_V
    return label_W * LABEL_SHARE.get(kind, OTHER_SHARE)


def at_full_voltage(bank: Bank, volts: float) -> bool:
    """A charger holds the voltage of a full bank, to half a step of the meter."""
    return volts >= bank.full_voltage_V - _HALF_STEP_V


def in_tail(bank: Bank, volts: float | None, charge_pct: float | None) -> bool | None:
    """Whether the bank holds back its chargers; None where neither voltage nor charge is known."""
    if volts is None and charge_pct is None:
        return None
    by_volts = volts is not None and at_full_voltage(bank, volts)
    return by_volts or (charge_pct is not None and charge_pct >= 100 * TAIL_SHARE[bank.chemistry])


class ChargePower:
    """Learns it of one source."""

    def __init__(self, planned_W: float) -> None:
        self._planned_W = planned_W
        self._tens: list[float] = []
        self._minutes: list[float] = []

    def take(self, gives_W: float, net_W: float) -> None:
        """A minute out of the tail in which it gave so much, and the bank took so much of it."""
        if gives_W < max(LEAST_W, EARNEST * self._planned_W):
            return
        self._minutes.append(net_W)
        if len(self._minutes) == 10:
            self._tens = [*self._tens, median(self._minutes)][-KEPT_TENS:]
            self._minutes = []

    @property
    def learned(self) -> bool:
        return len(self._tens) >= LEARNED_TENS

    @property
    def usual_W(self) -> float:
        return max(0.0, median(self._tens)) if self.learned else self._planned_W

    def state(self) -> list[int]:
        return [round(watts) for watts in self._tens]

    def restore(self, state: list[float]) -> None:
        self._tens = [float(watts) for watts in state][-KEPT_TENS:]
