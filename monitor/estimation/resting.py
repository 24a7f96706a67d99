"""The rest since the pump stopped: what heaters, declared draws and small draws may have taken in it,
what heaters may have given back, and what a gauge says."""

from collections.abc import Sequence
from math import exp, sqrt

from monitor.clock import HOUR_S
from monitor.estimation.evidence import Rest
from monitor.estimation.heater import Heaters
from monitor.estimation.innocents import DeclaredDraws, small_per_h
from monitor.estimation.pressure import Decay, PressureDecay
from monitor.settings import Heater, Pump

AIR_SHARE = 0.08
"""A litre of accumulator that warms by 8 K in a night gives so much more of its drawdown: gas
volume times 8 K over 285 K, absolute."""


GIVEN_BACK_L = 0.005
"""What a heater gives back by its thermometer's step is no heating."""


class Resting:
    """What is known of the rest under way."""

    def __init__(self, pump: Pump, heaters: Sequence[Heater]) -> None:
        self.heaters = Heaters(heaters)
        self.declared = DeclaredDraws(pump)
        self.lost: Decay | None = None
        """What the gauge says of it."""
        self._decay = None if pump.accumulator is None else PressureDecay(pump.accumulator)
        self._gauge_from_L = 0.0
        """What heaters had taken when the gauge began to be judged."""
        self._stop_s: float | None = None
        self._draws = 0.0
        """How many draws too small to start the pump are to be expected since it stopped."""

    def pressure(self, at_s: float, gauge_bar: float) -> None:
        """What a gauge on the accumulator shows."""
        if self._decay is not None:
            self._decay.take(at_s, gauge_bar)

    def begin(self, at_s: float, full: bool) -> None:
        """The pump has stopped; whether it filled the accumulator."""
        self._stop_s = at_s if full else None
        self._draws = 0.0
        self.heaters.pump_stopped()
        self.lost, self._gauge_from_L = None, 0.0
        if self._decay is not None:
            self._decay.stop(at_s)

    def forget(self) -> None:
        """Nothing is known of what was before."""
        self._stop_s = self.lost = None
        if self._decay is not None:
            self._decay.forget()

    def go_on(self, at_s: float, hours: float, asleep: bool, drawdown_L: float) -> None:
        """Time has come to `at_s`, `hours` on."""
        per_h = small_per_h(drawdown_L, asleep) + self.declared.untimed_per_h(drawdown_L)
        self._draws += hours * per_h
        self.heaters.settle(at_s)
        self._judge_gauge(at_s, asleep)

    def _judge_gauge(self, at_s: float, asleep: bool) -> None:
        """The pressure falls for draws, too, and what a heater gives back may go by its relief valve: it is
        believed while all are asleep or away and nothing is heated; after that it begins anew."""
        self.lost = None
        if self._decay is None:
            return
        taken_L, taken_sd_L = self.heaters.taken_L()
        heated = self.heaters.heating_unseen() or taken_L < self._gauge_from_L - GIVEN_BACK_L
        if not asleep or heated:
            self._decay.again(at_s)
            self._gauge_from_L = taken_L
        else:
            self.lost = self._decay.found(taken_L - self._gauge_from_L, taken_sd_L)

    def seconds(self, at_s: float) -> float | None:
        """How long it has lasted; None where its begin is not known."""
        return None if self._stop_s is None or at_s <= self._stop_s else at_s - self._stop_s

    def room_L(self, drawdown_L: float, sure: float) -> float:
        """The most that may have leaked in it without a start, the drawdown known within `sure`. [L]"""
        return (sure + AIR_SHARE) * drawdown_L + self.heaters.given_back_L()

    def so_far(self, at_s: float, drawdown_L: float) -> Rest | None:
        """As evidence takes it; None where its begin is not known."""
        if self._stop_s is None:
            return None
        hours = max(at_s - self._stop_s, 1.0) / HOUR_S
        heated_L, heated_sd = self.heaters.taken_L()
        declared_L, declared_sd = self.declared.taken_L(hours * HOUR_S, drawdown_L)
        taken, sd = heated_L + declared_L, sqrt(heated_sd**2 + declared_sd**2)
        per_h = (max(0.0, taken) + sd) / hours
        return Rest(hours, taken / drawdown_L, sd / drawdown_L, per_h / drawdown_L, 1.0 - exp(-self._draws))
