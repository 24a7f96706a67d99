"""A leak judge that listens to the independent household, from one event to the next."""

from operator import itemgetter
from typing import Literal

from monitor.estimation.leak import SUSPECTED, LeakJudge
from monitor.settings import Accumulator, Draw, Heater, Pump
from tests.estimation.water.household import DAY, HOUR, Habits, House, Plumbing, Run, Warmth

# The settings' drawdown of an accumulator of 1 L at 1.2 / 1.4 / 2.8 bar.
LITRE_GIVES_L = 0.3367
CLOSED_S = 200.0
"""So long after a run the judge has taken it for what it was."""
ELEMENT_W = 1200.0

Knows = Literal["temperature", "hours", "nothing"]
"""What is known of the heater."""


def pump_of(plumbing: Plumbing, promise: float = 1.0) -> Pump:
    """Settings that promise what the plumbing does, times `promise`; no accumulator below 0.05 L."""
    volume_L = promise * plumbing.drawdown_L / LITRE_GIVES_L
    a = Accumulator(volume_L=volume_L, precharge_bar=1.2, cut_in_bar=1.4, cut_out_bar=2.8)
    ice = Draw(name="ice", litres=plumbing.ice_L, every_h=plumbing.ice_every_h) if plumbing.ice_L else None
    return Pump(
        name="pump",
        flow_L_per_min=plumbing.flow_L_per_min,
        accumulator=a if plumbing.drawdown_L > 0.05 else None,
        timing_s=plumbing.edges_s,
        draws=[ice] if ice else [],
    )


class Watch:
    """`day` lives one day; what the judge said stands in `suspected` [s] and `rate`."""

    def __init__(
        self,
        seed: int,
        plumbing: Plumbing,
        habits: Habits | None = None,
        *,
        knows: Knows = "temperature",
        settings: Pump | None = None,
    ) -> None:
        self.house = House(seed, plumbing, habits)
        litres = plumbing.heater_L
        heaters = [Heater(name="heater", volume_L=litres, power_W=ELEMENT_W)] if litres else []
        # The household speaks for itself: its signal is never lost.
        self.judge = LeakJudge(settings or pump_of(plumbing), heaters, lost_s=2 * HOUR)
        self.suspected: list[float] = []
        """When the verdict became "leak suspected"."""
        self.rate: tuple[float, float, float] | None = None
        """The rate that was told when it last did."""
        self.mornings: list[float | None] = []
        """The bound of each day at the hour of getting up."""
        self._knows = knows
        self._days = 0
        self._was = False

    def day(self) -> None:
        start_s = self._days * DAY
        self._days += 1
        runs, warmth = self.house.day()
        habits = self.house.habits
        up_s, bed_s = start_s + habits.up * HOUR, start_s + habits.bed * HOUR
        heard: list[tuple[float, int, Run | Warmth | bool | None]] = [
            *((run.end_s, 2, run) for run in runs),
            *((warm.at_s, 1, warm) for warm in warmth if self._knows != "nothing"),
            *((start_s + n * HOUR, 3, None) for n in range(25)),
            (up_s, 4, False),
            (bed_s, 4, True),
        ]
        starts = [run.start_s for run in runs[1:]] + [start_s + DAY]
        heard += [(min(r.end_s + CLOSED_S, n), 0, None) for r, n in zip(runs, starts, strict=False)]
        for at_s, _, what in sorted(heard, key=itemgetter(0, 1)):
            if isinstance(what, Run):
                self.judge.run(*what)
            elif isinstance(what, Warmth):
                # The thermometer shows half degrees.
                celsius = round(2 * what.celsius) / 2 if self._knows == "temperature" else None
                self.judge.heater("heater", at_s, celsius, what.on)
            else:
                self.judge.tick(at_s)
                if self.judge.suspects != self._was:
                    self._listen(at_s)
                if what is not None:
                    self.judge.quiet(at_s, asleep=what)
                    if not what:
                        self.mornings.append(self.judge.tight_below_L_per_h())

    def _listen(self, at_s: float) -> None:
        self._was = self.judge.verdict()[0] == SUSPECTED
        if self._was:
            self.suspected.append(at_s)
            self.rate = self.judge.rate_L_per_h()
