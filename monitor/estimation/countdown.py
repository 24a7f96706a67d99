"""How many minutes until the BMS may cut the bank off: the nearest of all that lead to it."""

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from monitor.estimation.bank_minute import BankMinute
from monitor.estimation.cut import NOW, Cut, by_temperature, by_the_bms, why
from monitor.estimation.empty_cell import by_the_count, runs_down
from monitor.estimation.full_cell import runs_up
from monitor.estimation.holding import Holding
from monitor.estimation.recent import AMPS, LOOKED_AT_MIN, PACK, Recent
from monitor.estimation.trend import When
from monitor.settings import Bank

NEVER = When(math.inf, math.inf, math.inf)


class Countdown:
    """Follows one bank."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._recent = Recent(bank)
        self._holding = Holding(bank)
        self._minute: BankMinute | None = None

    def take(self, minute: BankMinute) -> None:
        """Take one minute."""
        self._minute = minute
        self._recent.take(minute)
        if self.direction > 0:
            rows = self._recent.same_way()[-LOOKED_AT_MIN:]
            self._holding.take(_by(minute), rows[:, AMPS], rows[:, PACK])
        else:
            self._holding.leave()

    def clear(self) -> None:
        """Let nothing be measured across what comes."""
        self._recent.clear()
        self._holding.leave()
        self._minute = None

    @property
    def direction(self) -> int:
        """1 while the bank is charged, -1 while it is discharged, 0 at rest or unknown."""
        return self._recent.direction

    @property
    def most_A(self) -> float | None:
        """The most that flowed in, in a minute of the last quarter of an hour; None where it is unknown."""
        flows = self._recent.column(AMPS) if self._minute is not None else np.empty(0)
        return float(flows.max()) if flows.size and np.isfinite(flows).all() else None

    def cut(self, left_Wh: tuple[float | None, float | None], warned: bool) -> Cut | None:
        """The nearest cut; infinitely far where none is in sight, None where that is not known.

        `left_Wh` is what is left in the bank, likely and with nine chances in ten. `warned`: a cut has
        been told, and is not taken back lightly.
        """
        bank, minute = self._bank, self._minute
        if minute is None:
            return None
        if minute.closed is False:
            return Cut("either", NOW, why(bank, "cut: open"))
        found = list(self._leading_to_it(minute, warned))
        if found:
            return min(found, key=lambda cut: cut.minutes)
        if minute.highest is None or minute.lowest is None or minute.current_A is None:
            return None
        for cut in by_the_count(bank, left_Wh, self._recent):
            return cut
        if self._holding.held:
            highest, limit_V = minute.highest, bank.cell_limits_V[1]
            facts = {"cell": highest.where, "cell_V": highest.value, "limit_V": limit_V}
            return Cut("charge", NEVER, why(bank, "cut: charger holds", **facts))
        return Cut("either", NEVER, why(bank, "cut: none in sight"))

    def _leading_to_it(self, minute: BankMinute, warned: bool) -> Iterator[Cut]:
        bank, recent = self._bank, self._recent
        yield from by_the_bms(bank, minute, recent)
        yield from by_temperature(bank, minute, recent)
        if minute.highest is not None and self.direction >= 0:
            yield from runs_up(bank, minute.highest, recent, self._holding, _by(minute), warned)
        if minute.lowest is not None and self.direction <= 0:
            yield from runs_down(bank, minute.lowest, recent)

    def state(self) -> dict[str, Any]:
        return {"resistance_ohm": self._recent.resistance_ohm, "hold_V": self._holding.state()}

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`; trends begin anew."""
        self._recent.resistance_ohm = float(state["resistance_ohm"])
        self._holding.restore(state["hold_V"])


def _by(minute: BankMinute) -> str:
    """Whose charge it is. The sun may help the engine, never the other way round."""
    return "engine" if minute.alternator_A else "others"
