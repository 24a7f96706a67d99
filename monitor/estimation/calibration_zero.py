"""A current sensor's zero: what it says while nothing flows, because the crew has isolated the bank.

The caution stands first and stays. Nothing begins, and nothing goes on, while any source is heard or the boat
is under way; whatever comes of it, it ends by asking to connect the bank again.
"""

from collections.abc import Iterable, Mapping
from statistics import fmean
from typing import Any

from monitor.clock import MINUTE_S
from monitor.errors import CommandError
from monitor.estimation.calibration_statistics import mean_of
from monitor.estimation.calibration_steps import DONE, Now, Procedure
from monitor.estimation.priors import PRIORS
from monitor.estimation.watcher import LIVE_V, RUNNING_RPM, Heard
from monitor.records import Measured, Reason
from monitor.settings import Bank, Settings
from monitor.words.tongues import N_

READ, LISTEN, BACK = "read", "listen", "back"
MINUTES = 5
"""So many whole minutes are listened to."""
PLAUSIBLE_SDS = 4.0
"""Of what is believed of any sensor's offset at first: beyond, something still flows or it is broken."""
STEADY_A = 0.05
"""Between the highest and the lowest minute: with nothing flowing a sensor stands still. Common practice."""
WANDER_A = 0.01
"""What a minute's mean surely wanders by (1 µV at a 500 A, 50 mV shunt), and what five have alike."""
MAKING_A, MAKING_W = 0.3, 5.0
"""A source that gives more is running."""


class Zero(Procedure):
    """Of one house bank's sensor."""

    what = "zero"

    def __init__(self, bank: Bank, settings: Settings, before: tuple[float, float | None]) -> None:
        """`before`: the offset that is believed now, and half of its band."""
        super().__init__(bank.name, READ)
        self._bank, self._settings, self._before = bank, settings, before
        self._channel = f"{bank.name} current"
        self._means: list[float] = []
        self._since_s = 0.0
        self._after: tuple[str, Measured | None] = ("", None)
        """What is told when the bank is connected again: an outcome, or a result."""

    def refused(self, now: Now) -> CommandError | None:
        """Why it cannot be done now."""
        running = running_source(self._settings, now)
        if running is not None:
            return CommandError(SOURCE_RUNS, source=running)
        if now.mode.place in ("sailing", "motoring"):
            return CommandError(UNDER_WAY)
        if now.newest(self._channel) is None:
            return CommandError(UNHEARD, bank=self._bank.name)
        return None

    def look(self, now: Now) -> None:
        if self.step != LISTEN:
            return
        running = running_source(self._settings, now)
        if running is not None:
            self.facts = {"source": running}
            self._stop("source runs")
        elif now.mode.place in ("sailing", "motoring"):
            self._stop("under way")
        elif now.newest(self._channel) is None:
            self._stop("unheard")

    def minute(self, minute: Heard) -> None:
        if self.step != LISTEN or minute.start_s < self._since_s:
            return
        values = minute.values(self._channel)
        if values.size < 2:
            self._stop("unheard")
            return
        self._means.append(fmean(values.tolist()))
        if len(self._means) >= MINUTES:
            self._conclude()

    def _conclude(self) -> None:
        mean = mean_of(self._means, WANDER_A, WANDER_A)
        most_A = PLAUSIBLE_SDS * PRIORS[self._bank.chemistry].offset_sd_A
        self.facts = {"value": mean.value, "half": mean.half, "most": most_A}
        if max(self._means) - min(self._means) > STEADY_A:
            self._stop("not steady")
        elif abs(mean.value) > most_A:
            self._stop("too large")
        else:
            before_A, before_half_A = self._before
            found = Measured(
                "zero", self._bank.name, mean.value, mean.half, MINUTES,
                before=before_A, before_half=before_half_A,
            )  # fmt: skip
            self._after = ("", found)
            self.go(BACK)

    def _stop(self, outcome: str) -> None:
        self._after = (outcome, None)
        self.go(BACK, outcome)

    # ---- what the crew says

    @property
    def answers(self) -> tuple[str, ...]:
        return (DONE,) if self.step in (READ, BACK) else ()

    def answer(self, answer: str, litres: float | None, now: Now) -> None:
        if self.step == READ:
            refused = self.refused(now)
            if refused is not None:
                raise refused
            self._since_s = now.at_s
            self._means = []
            self.go(LISTEN)
            return
        outcome, found = self._after
        if found is not None:
            self.has(found)
        else:
            self.end(outcome)

    def connect_again(self) -> bool:
        """It is stopped: whether the bank has to be connected again first."""
        if self.step != LISTEN:
            return False
        self._stop("stopped")
        return True

    # ---- what is told

    def told(self) -> Mapping[str, Any]:
        return {"bank": self._bank.name, "minutes": MINUTES, **self.facts}

    def live(self, now: Now) -> Iterable[Reason]:
        amps = now.newest(self._channel)
        if amps is None:
            yield Reason("calibration hears: current unheard", {"bank": self._bank.name})
        else:
            yield Reason("calibration hears: current", {"bank": self._bank.name, "now": amps})
        if self.step == LISTEN:
            left_s = max(0.0, (MINUTES - len(self._means)) * MINUTE_S)
            yield Reason("calibration hears: listening", {"left": left_s})

    def noted(self) -> Iterable[Reason]:
        for n, amps in enumerate(self._means, 1):
            yield Reason("calibration noted: minute", {"nth": n, "amps": amps})


SOURCE_RUNS = N_(
    "{source:text} is heard running: switch off every source first, and never open a battery switch while"
    " one runs"
)
UNDER_WAY = N_("the boat is under way: this is done at rest in a safe berth alone")
UNHEARD = N_("nothing is heard of the current of {bank:text}")


def running_source(settings: Settings, now: Now) -> str | None:
    """The first source that is heard running: a charger, an engine, a supply; None where none is."""
    for engine in settings.engines:
        if (now.newest(f"{engine.name} speed") or 0.0) > RUNNING_RPM:
            return engine.name
        if (now.newest(f"{engine.name} running") or 0.0) > 0.5:
            return engine.name
    for supply in settings.supplies:
        if (now.newest(f"{supply.name} ac voltage") or 0.0) > LIVE_V:
            return supply.name
    for charger in settings.chargers:
        amps, watts = now.newest(f"{charger.name} current"), now.newest(f"{charger.name} power")
        if abs(amps or 0.0) > MAKING_A or abs(watts or 0.0) > MAKING_W:
            return charger.name
    return None
