"""Litres in a bucket, litres in a jug: a pump's flow, and what its accumulator gives.

Between two stops of the pump by its own switch the accumulator comes back to where it was. So what stands
in the bucket after the pump has stopped again is what it has moved in the time it ran.
"""

from abc import abstractmethod
from collections.abc import Iterable, Mapping
from math import hypot, sqrt
from typing import Any

from monitor.errors import CommandError
from monitor.estimation.accumulator import pump_drawdown_L
from monitor.estimation.calibration_statistics import mean_of
from monitor.estimation.calibration_steps import AGAIN, ENOUGH, LITRES, Now, Procedure, given
from monitor.records import Event, Measured, Reason
from monitor.settings import Pump

FILL, DRAW, SAY = "fill", "draw", "say"
LEAST, MOST = 2, 3
"""So many repeats, and so many are enough."""
MARK_SHARE = 0.01
"""How well a mark is read, and how true it is (sd of each): by scale or marked jug. Common practice."""
APART = 0.15
"""Half of the band over the mean: beyond, the repeats do not agree."""
FACTOR = 4.0
"""Further from what was believed than by this factor is a mistake."""
BUCKET_L, JUG_L = 60.0, 30.0
"""The most that is believed,"""
LEAST_BUCKET_L = 10.0
"""and what is asked for."""
LEAST_RUN_S = 5.0
"""A shorter time is timed too badly for a flow."""


class Repeated(Procedure):
    """Draw, hear the pump, say the litres; twice or three times."""

    most_L = BUCKET_L

    def __init__(self, pump: Pump) -> None:
        super().__init__(pump.name, FILL)
        self.pump = pump
        self.repeats: list[tuple[float, float]] = []
        """Litres and the seconds that the pump ran for them."""
        self.ran_s = 0.0

    def ran(self, run: Event) -> None:
        if run.subject != self.pump.name or run.end_s is None:
            return
        if run.facts.get("cut"):
            self._begin("lost") if self.step != FILL else None
            return
        if self.step == FILL:
            self._begin()
        elif self.step in (DRAW, SAY):
            self.ran_s += run.end_s - run.start_s
            self.go(SAY, self.note if self.step == SAY else "")

    def look(self, now: Now) -> None:
        if self.step in (DRAW, SAY) and now.running_s.get(self.pump.name) is None:
            self.go(FILL, "lost")

    def _begin(self, note: str = "") -> None:
        """The accumulator is full: whatever is drawn from now on counts."""
        self.ran_s = 0.0
        self.go(DRAW, note)

    @property
    def answers(self) -> tuple[str, ...]:
        enough = (ENOUGH,) if len(self.repeats) >= LEAST else ()
        if self.step == SAY:
            return (LITRES, AGAIN)
        return enough if self.step in (FILL, DRAW) else ()

    def answer(self, answer: str, litres: float | None, now: Now) -> None:
        if answer == AGAIN:
            self._begin("again")
        elif answer == ENOUGH:
            self._conclude()
        elif now.running_s.get(self.pump.name) != 0.0:
            raise CommandError("the pump is still running: shut the tap and let it stop by itself first")
        else:
            self.repeats.append((given(litres, self.most_L), self.ran_s))
            self._begin()
            if len(self.repeats) >= MOST:
                self._conclude()

    def told(self) -> Mapping[str, Any]:
        told = {"pump": self.pump.name, "nth": len(self.repeats) + 1, "ran_s": self.ran_s}
        return {**told, "least": LEAST_BUCKET_L}

    def live(self, now: Now) -> Iterable[Reason]:
        running_s = now.running_s.get(self.pump.name)
        if running_s is None:
            yield Reason("calibration hears: pump unheard", {"pump": self.pump.name})
        elif running_s > 0:
            yield Reason("calibration hears: pump runs", {"pump": self.pump.name, "ran": running_s})
        else:
            yield Reason("calibration hears: pump rests", {"pump": self.pump.name})
        if self.step in (DRAW, SAY) and self.ran_s > 0:
            yield Reason("calibration hears: ran", {"ran": self.ran_s})

    @abstractmethod
    def _conclude(self) -> None:
        """What all repeats come to."""

    def _result(self, values: list[float], least_sd: float, before: float) -> None:
        mean = mean_of(values, least_sd, MARK_SHARE * sum(values) / len(values))
        self.facts = {"value": mean.value, "half": mean.half, "before": before, "pump": self.pump.name}
        if not before / FACTOR <= mean.value <= before * FACTOR:
            self.end("not plausible")
        elif mean.half > APART * mean.value:
            self.go(DRAW, "apart") if len(values) < MOST else self.end("apart")
        else:
            self.has(Measured(self.what, self.pump.name, mean.value, mean.half, len(values), before=before))


class Flow(Repeated):
    """What a pump moves, by a bucket."""

    what = "flow"

    def answer(self, answer: str, litres: float | None, now: Now) -> None:
        if answer == LITRES and self.ran_s < LEAST_RUN_S:
            self._begin("short")
            return
        super().answer(answer, litres, now)

    def _conclude(self) -> None:
        flows = [60 * litres / ran_s for litres, ran_s in self.repeats]
        shares = [hypot(MARK_SHARE, sqrt(2) * self.pump.timing_s / ran_s) for _, ran_s in self.repeats]
        least = max(f * s for f, s in zip(flows, shares, strict=True))
        self._result(flows, least, self.pump.flow_L_per_min)

    def noted(self) -> Iterable[Reason]:
        for n, (litres, ran_s) in enumerate(self.repeats, 1):
            told = {"nth": n, "litres": litres, "ran": ran_s, "flow": 60 * litres / ran_s}
            yield Reason("calibration noted: flow", told)


class Drawdown(Repeated):
    """What can be drawn between the pump's stop and its next start, by a jug."""

    what = "drawdown"
    most_L = JUG_L

    def __init__(self, pump: Pump, believed_L: float | None) -> None:
        super().__init__(pump)
        self._believed_L = believed_L or pump_drawdown_L(pump)

    def _conclude(self) -> None:
        drawn = [litres for litres, _ in self.repeats]
        least = MARK_SHARE * sum(drawn) / len(drawn)
        self._result(drawn, least, self._believed_L)

    def told(self) -> Mapping[str, Any]:
        return {**super().told(), "promised": pump_drawdown_L(self.pump)}

    def noted(self) -> Iterable[Reason]:
        for n, (litres, ran_s) in enumerate(self.repeats, 1):
            yield Reason("calibration noted: drawdown", {"nth": n, "litres": litres, "ran": ran_s})
