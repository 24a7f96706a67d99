"""Rests as proof: a pump that did not start for T bounds a leak by what the accumulator gives over T."""

from collections import deque

from monitor.clock import DAY_S, HOUR_S

SCATTER = 1.15
"""Allowed for in a bound: a pressure switch repeats within some 3 %, and the longest of many rests
counts; a drawdown is learned within 5 %."""
KEPT_S = 0.75 * DAY_S
"""A rest bounds the leak for this long."""
NO_BOUND = float("inf")


class Rests:
    """The bounds of the rests of the last day and a half, the one under way among them. [L/h]"""

    def __init__(self) -> None:
        self._ended: deque[tuple[float, float]] = deque()
        """When each ended, and the leak it allows."""
        self.now_L_per_h = NO_BOUND
        """That of the rest under way."""

    def go_on(self, seconds: float, room_L: float) -> None:
        """The pump has not started for so long, although `room_L` would have made it start."""
        self.now_L_per_h = SCATTER * room_L * HOUR_S / seconds

    def at_most(self, L_per_h: float) -> None:
        """An instrument tells that in the rest under way no more can have been lost."""
        self.now_L_per_h = min(self.now_L_per_h, L_per_h)

    def withhold(self) -> None:
        """What is going on hides any leak: the rest under way proves nothing."""
        self.now_L_per_h = NO_BOUND

    def end(self, at_s: float) -> None:
        """The rest under way is over, or can no longer be vouched for."""
        if self.now_L_per_h < NO_BOUND:
            self._ended.append((at_s, self.now_L_per_h))
        while self._ended and self._ended[0][0] < at_s - KEPT_S:
            self._ended.popleft()
        self.now_L_per_h = NO_BOUND

    def forget(self, under_way: bool = True) -> None:
        """Something has happened since that makes earlier rests worthless."""
        self._ended.clear()
        if under_way:
            self.now_L_per_h = NO_BOUND

    def lowest(self, at_s: float) -> float | None:
        """The smallest leak that one of them would have shown. [L/h]"""
        bound = min([self.now_L_per_h, *(b for end_s, b in self._ended if end_s >= at_s - KEPT_S)])
        return bound if bound < NO_BOUND else None

    def state(self, at_s: float) -> list[list[float]]:
        """Ages and bounds: no time of this boot."""
        return [[round(at_s - end_s), round(b, 4)] for end_s, b in self._ended]

    def restore(self, state: list[list[float]], at_s: float) -> None:
        """The inverse of `state`, at `at_s` of a new boot: how long it was off is not known."""
        self._ended.extend((at_s - age_s, b) for age_s, b in state)
