"""When a boot's wall time is to be believed: the anchors, and what it takes to become one.

A bus tells the time in many voices and some of them lie (a receiver without a fix counts on from
a wrong date). A reading becomes an anchor when three in a row of one source agree within a second
and the date is possible; an anchor that contradicts a trusted one by over an hour needs thirty.
"""

from collections import deque
from collections.abc import Callable

from monitor.clock import DAY_S, HOUR_S, Anchor, Boot

EARLIEST_UTC_S = 1_735_689_600.0
"""2025-01-01: before this program was written, so no boot of it can be earlier."""
LATEST_SPAN_S = 30 * 365.25 * DAY_S
AGREE_S = 1.0
STEP_S = 0.5
CONFIRMATIONS = 3
CONTRADICTIONS = 30


class Clockwork:
    """Places the current boot in UTC. `on_anchor` is told every new anchor."""

    def __init__(self, boot: Boot, on_anchor: Callable[[Anchor], None], saved_utc_s: float = 0.0) -> None:
        self.boot = boot
        self.disputed: str | None = None
        """The source that contradicts the trusted time, while it does."""
        self._on_anchor = on_anchor
        self._earliest_s = max(EARLIEST_UTC_S, saved_utc_s - DAY_S)
        self._heard: dict[str, deque[float]] = {}

    @property
    def trusted(self) -> bool:
        return self.boot.placed

    def utc_s(self, at_s: float) -> float | None:
        return self.boot.utc_s(at_s)

    def told(self, at_s: float, utc_s: float, source: str, sigma_s: float) -> None:
        """A time that is trusted as it comes: network time, the crew, a recording's own."""
        self._place(Anchor(at_s, utc_s, source, sigma_s))

    def heard(self, at_s: float, utc_s: float, source: str) -> None:
        """A time of day from the bus."""
        if not self._earliest_s <= utc_s <= EARLIEST_UTC_S + LATEST_SPAN_S:
            return
        readings = self._heard.setdefault(source, deque(maxlen=CONTRADICTIONS))
        readings.append(utc_s - at_s)
        recent = list(readings)[-CONFIRMATIONS:]
        if len(recent) < CONFIRMATIONS or max(recent) - min(recent) > AGREE_S:
            return
        believed = self.boot.utc_s(at_s)
        if believed is not None:
            apart_s = abs(utc_s - believed)
            if apart_s <= STEP_S:
                self.disputed = None
                return
            if apart_s > HOUR_S:
                self.disputed = source
                if len(readings) < CONTRADICTIONS or max(readings) - min(readings) > AGREE_S:
                    return
            elif at_s - self.boot.anchors[-1].elapsed_s < HOUR_S:
                return
        self.disputed = None
        self._place(Anchor(at_s, utc_s, source, 0.5))

    def _place(self, anchor: Anchor) -> None:
        self.boot = self.boot.with_anchor(anchor)
        self._on_anchor(anchor)
