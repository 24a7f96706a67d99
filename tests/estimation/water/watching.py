"""A leak judge that listens to the independent household, day after day."""

from monitor.estimation.leak import SUSPECTED, LeakJudge
from monitor.settings import Accumulator, Heater, Pump
from tests.estimation.water.household import DAY, HOUR, Habits, House, Plumbing, Run, Warmth

# The settings' drawdown of an accumulator of 1 L at 1.2 / 1.4 / 2.8 bar.
LITRE_GIVES_L = 0.3367
TICK_S = 100.0


def pump_of(plumbing: Plumbing) -> Pump:
    """Settings that promise what the plumbing does; without an accumulator below 0.05 L."""
    volume_L = plumbing.drawdown_L / LITRE_GIVES_L
    a = Accumulator(volume_L=volume_L, precharge_bar=1.2, cut_in_bar=1.4, cut_out_bar=2.8)
    return Pump(
        name="pump",
        flow_L_per_min=plumbing.flow_L_per_min,
        accumulator=a if plumbing.drawdown_L > 0.05 else None,
        timing_s=plumbing.edges_s,
    )


class Watch:
    """`day` lives one day; what the judge said stands in `suspected` [s] and `rate`."""

    def __init__(
        self,
        seed: int,
        plumbing: Plumbing,
        habits: Habits | None = None,
        *,
        thermometer: bool = True,
        settings: Pump | None = None,
    ) -> None:
        self.house = House(seed, plumbing, habits)
        heaters = [Heater(name="heater", volume_L=plumbing.heater_L)] if plumbing.heater_L else []
        self.judge = LeakJudge(settings or pump_of(plumbing), heaters)
        self.suspected: list[float] = []
        """When the verdict became "leak suspected"."""
        self.rate: tuple[float, float, float] | None = None
        """The rate that was told when it last did."""
        self._thermometer = thermometer
        self._days = 0
        self._was = False

    def day(self) -> None:
        start_s = self._days * DAY
        self._days += 1
        runs, warmth = self.house.day()
        ticks = [(start_s + n * TICK_S, None) for n in range(1, int(DAY / TICK_S) + 1)]
        heard: list[tuple[float, Run | Warmth | None]] = [
            *((run.end_s, run) for run in runs),
            *((warm.at_s, warm) for warm in warmth),
            *ticks,
        ]
        for at_s, what in sorted(heard, key=lambda entry: entry[0]):
            hour = (at_s - start_s) / HOUR
            habits = self.house.habits
            self.judge.quiet(at_s, asleep=hour < habits.up or hour >= habits.bed)
            if isinstance(what, Run):
                self.judge.run(*what)
            elif isinstance(what, Warmth):
                # The thermometer shows half degrees.
                celsius = round(2 * what.celsius) / 2 if self._thermometer else None
                self.judge.heater("heater", at_s, celsius, None)
            else:
                self.judge.tick(at_s)
                self._listen(at_s)

    def _listen(self, at_s: float) -> None:
        suspected = self.judge.verdict()[0] == SUSPECTED
        if suspected and not self._was:
            self.suspected.append(at_s)
            self.rate = self.judge.rate_L_per_h()
        self._was = suspected
