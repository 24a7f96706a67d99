"""Follows one lead bank that a converter keeps up: held, giving, taking, resting; and what it has given."""

from collections import deque
from collections.abc import Mapping
from typing import Any

from monitor.clock import HOUR_S, MINUTE_S
from monitor.estimation.rehearsal import Sight
from monitor.settings import Bank

HELD_CELL_V, FLOAT_CELL_V = 12.9 / 6, 13.2 / 6
"""Above the first a charger has a hand in it, above the second it is a float. Common practice."""
SAG_CELL_V, SAG_V, SAG_MOST_CELL_V = 12.8 / 6, 0.5 / 6, 13.0 / 6
"""A converter that is well holds more than the first, and no less than so much under its usual voltage."""
REST_AFTER_S = 4 * HOUR_S
REST_SHARE, TAIL_SHARE = 0.01, 0.02
"""Of the capacity, as a current: less is rest; less, on float, is a bank nearly full."""
_TAIL_S, _UNMETERED_TAIL_S = 15 * MINUTE_S, 12 * HOUR_S
_ACCEPTED = 0.85
"""What of a charge is there again, in lead. Common practice."""
_SIGHT_AFTER_S = HOUR_S
"""Until then the voltage still tells of the charge before."""
_OVER_MINUTES, _FEWEST_MINUTES = 15, 3
_FLOAT_SHARE = 0.02
_LONGEST_GAP_S = 600.0


class Floating:
    """What stands at the end of the newest minute; None is unknown."""

    def __init__(self, bank: Bank) -> None:
        self.bank = bank
        self.noise_A = max(0.25, 0.002 * bank.capacity_Ah)
        """Less is what a shunt may be off."""
        self.volts: float | None = None
        self.amperes: float | None = None
        self.float_V: float | None = None
        """What the converter was seen to hold."""
        self.floated = False
        """It was on float for long before it gave `drawn_Ah`; otherwise it may have stood anywhere."""
        self.drawn_Ah = 0.0
        self.sights: tuple[Sight, ...] = ()
        self.rest_s = self.giving_s = self._tail_s = 0.0
        self._watts: deque[float] = deque(maxlen=_OVER_MINUTES)
        self._end_s: float | None = None
        self._utc_s: float | None = None
        self._restored = False

    def take(
        self,
        start_s: float,
        utc_s: float | None,
        volts: float | None,
        amperes: float | None,
        given_A: float | None,
    ) -> None:
        """A minute's means: the bank's voltage and current, and what its converters gave together."""
        self._mind_gap(start_s, utc_s)
        self.volts, self.amperes = volts, amperes
        watts = self._hanging_now_W(given_A)
        if watts is not None:
            self._watts.append(watts)
        self._mind_float()
        self._count()
        resting = (
            amperes is not None
            and volts is not None
            and abs(amperes) < REST_SHARE * self.bank.capacity_Ah
            and volts < HELD_CELL_V * self.bank.cells
        )
        self.rest_s = self.rest_s + MINUTE_S if resting else 0.0
        self.giving_s = self.giving_s + MINUTE_S if self.giving else 0.0
        self._look()

    # ---- how it stands

    @property
    def taking(self) -> bool | None:
        """Charge flows in."""
        return None if self.amperes is None else self.amperes > self.noise_A

    @property
    def sagging(self) -> bool | None:
        """The voltage is lower than a converter that is well would let it be."""
        if self.volts is None:
            return None
        usual_V = 0.0 if self.float_V is None else self.float_V - SAG_V * self.bank.cells
        least_V = max(SAG_CELL_V * self.bank.cells, min(usual_V, SAG_MOST_CELL_V * self.bank.cells))
        return self.volts < least_V

    @property
    def giving(self) -> bool | None:
        """It carries what hangs on it."""
        if self.volts is None and self.amperes is None:
            return None
        if self.taking:
            return False
        flows = self.amperes is not None and self.amperes < -self.noise_A
        return bool(self.sagging) or (flows and not self._held)

    @property
    def _held(self) -> bool:
        return self.volts is not None and self.volts >= SAG_MOST_CELL_V * self.bank.cells

    @property
    def on_float(self) -> bool | None:
        """A charger holds its voltage."""
        if self.volts is None:
            return None
        return self.volts >= HELD_CELL_V * self.bank.cells and not self.giving

    @property
    def rested(self) -> bool:
        return self.rest_s >= REST_AFTER_S

    @property
    def hanging_W(self) -> float | None:
        """What hangs on it: the mean of the last minutes."""
        if len(self._watts) < _FEWEST_MINUTES:
            return None
        return max(0.0, sum(self._watts) / len(self._watts))

    @property
    def minutes(self) -> int:
        return len(self._watts)

    # ---- the parts of a minute

    def _hanging_now_W(self, given_A: float | None) -> float | None:
        """What the converters give and the bank does not take, or the bank gives."""
        if self.volts is None:
            return None
        if given_A is None:
            return -self.amperes * self.volts if self.giving and self.amperes is not None else None
        return (given_A - (self.amperes or 0.0)) * self.volts

    def _mind_float(self) -> None:
        tail_A = TAIL_SHARE * self.bank.capacity_Ah
        volts, amperes = self.volts, self.amperes
        if volts is None or volts < FLOAT_CELL_V * self.bank.cells or (amperes or 0.0) >= tail_A:
            self._tail_s = 0.0
            return
        before_V = volts if self.float_V is None else self.float_V
        self.float_V = before_V + _FLOAT_SHARE * (volts - before_V)
        self._tail_s += MINUTE_S
        if self._tail_s >= (_UNMETERED_TAIL_S if amperes is None else _TAIL_S):
            self.floated, self.drawn_Ah, self.sights = True, 0.0, ()

    def _count(self) -> None:
        if self.amperes is None:
            # Nobody counts what it gives meanwhile.
            self.floated = self.floated and not self.giving
        elif self.giving:
            self.drawn_Ah += max(0.0, -self.amperes) * MINUTE_S / HOUR_S
        elif self.taking:
            self.drawn_Ah = max(0.0, self.drawn_Ah - _ACCEPTED * self.amperes * MINUTE_S / HOUR_S)
            self.sights = ()

    def _look(self) -> None:
        """Keep the first and the newest sight of a stretch of giving."""
        if self.giving_s < _SIGHT_AFTER_S or self.amperes is None or self.volts is None:
            return
        sight = Sight(self.drawn_Ah, max(0.0, -self.amperes), self.volts)
        self.sights = (self.sights[0], sight) if self.sights else (sight,)

    # ---- restarts

    def _mind_gap(self, start_s: float, utc_s: float | None) -> None:
        """What was going on is forgotten over a gap that is long, or of unknown length."""
        gap_s: float | None = 0.0
        if self._restored:
            gap_s = None if utc_s is None or self._utc_s is None else utc_s - self._utc_s - MINUTE_S
            self._restored = False
        elif self._end_s is not None:
            gap_s = start_s - self._end_s
        if gap_s is None or not 0 <= gap_s <= _LONGEST_GAP_S:
            self.forget()
        self._end_s, self._utc_s = start_s + MINUTE_S, utc_s

    def forget(self) -> None:
        """Nobody knows what happened meanwhile."""
        self.floated, self.drawn_Ah, self.sights = False, 0.0, ()
        self.rest_s = self.giving_s = self._tail_s = 0.0
        self._watts.clear()

    def new_boot(self) -> None:
        self.forget()
        self._end_s = None

    def state(self) -> dict[str, Any]:
        return {
            "float_V": None if self.float_V is None else round(self.float_V, 3),
            "floated": self.floated,
            "drawn_Ah": round(self.drawn_Ah, 3),
            "sights": [[round(x, 3) for x in sight] for sight in self.sights],
            "s": [self.rest_s, self.giving_s, self._tail_s],
            "utc_s": self._utc_s,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        self.float_V, self.floated = state["float_V"], bool(state["floated"])
        self.drawn_Ah = float(state["drawn_Ah"])
        self.sights = tuple(Sight(*map(float, sight)) for sight in state["sights"])
        self.rest_s, self.giving_s, self._tail_s = map(float, state["s"])
        self._utc_s, self._restored = state["utc_s"], True
