"""The last day and a half of an amount, for the axis that runs from the past through now."""

from collections import deque

from monitor.clock import HOUR_S, Interval
from monitor.records import Course, Estimate
from monitor.storage.history import History

STEP_S = 600.0
KEPT_S = 36 * HOUR_S


class Past:
    """A point every ten minutes of what was left, with the band it had then."""

    def __init__(self) -> None:
        self._points: deque[tuple[float, float, float, float]] = deque()

    def add(self, utc_s: float, low: float, likely: float, high: float) -> None:
        """One more point; nearer than ten minutes to the last one it is left out."""
        if self._points and utc_s < self._points[-1][0] + STEP_S:
            return
        self._points.append((utc_s, low, likely, high))
        while self._points[0][0] < utc_s - KEPT_S:
            self._points.popleft()

    def see(self, utc_s: float, estimate: Estimate) -> None:
        if estimate.value is not None and estimate.low is not None and estimate.high is not None:
            self.add(utc_s, estimate.low, estimate.value, estimate.high)

    def prefill(self, history: History, channel: str, until_utc_s: float) -> None:
        """What was kept of it by the minute, with its band beside it."""
        recent = Interval(until_utc_s - KEPT_S, until_utc_s)
        kept: list[dict[float, float]] = [
            dict(zip(*(a.tolist() for a in history.samples(channel + edge, recent)), strict=True))
            for edge in ("", " low", " high")
        ]
        likely, low, high = kept
        for utc_s, value in likely.items():
            self.add(utc_s, low.get(utc_s, value), value, high.get(utc_s, value))

    def course(self) -> Course:
        utc_s, low, likely, high = zip(*self._points, strict=True) if self._points else ((), (), (), ())
        return Course(tuple(utc_s), tuple(low), tuple(likely), tuple(high))
