"""Runs of the alternator, the generator or the shore charger, for the log."""

from collections.abc import Iterator

from monitor.records import Event, EventKind

PAUSE_S = 300.0
"""A shorter pause ends no run."""
WORTH_SHARE = 0.02
"""Of the capacity: less is not worth a line."""


class ChargeRun:
    """The run of one source that is under way, if any."""

    def __init__(self, source: str, kind: str, capacity_Wh: float) -> None:
        self._source, self._kind, self._worth_Wh = source, kind, WORTH_SHARE * capacity_Wh
        self._since_s: float | None = None
        self._last_s = 0.0
        self._Wh = 0.0

    def take(self, start_s: float, watts: float | None, least_W: float, boot: int) -> Iterator[Event]:
        """A minute in which it gave so much; the run that this ends, if it is worth a line."""
        if watts is not None and watts >= least_W:
            self._since_s = start_s if self._since_s is None else self._since_s
            self._last_s = start_s + 60.0
            self._Wh += watts / 60
        elif self._since_s is not None and start_s - self._last_s >= PAUSE_S:
            if self._Wh >= self._worth_Wh:
                facts = {"source": self._kind, "made_Wh": round(self._Wh)}
                facts["mean_W"] = round(self._Wh * 3600 / (self._last_s - self._since_s))
                yield Event(EventKind.CHARGE, self._source, boot, self._since_s, self._last_s, facts)
            self.new_boot()

    def new_boot(self) -> None:
        self._since_s, self._Wh = None, 0.0
